"""A sheet as SVG: plain lines and texts, no fonts but the reader's own, the same bytes for the same sheet."""

from __future__ import annotations

from html import escape

from topend.report.drawings.lines import WIDE, Line, Sheet

__all__ = ["svg_text"]


def svg_text(sheet: Sheet, title: str) -> str:
    """The sheet as an ``<svg>`` element, its size in millimetres."""
    made = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{sheet.width:g}mm" height="{sheet.height:g}mm" '
        f'viewBox="0 0 {sheet.width:g} {sheet.height:g}">',
        f"<title>{escape(title)}</title>",
        f'<rect width="{sheet.width:g}" height="{sheet.height:g}" fill="white"/>',
        '<g fill="none" stroke="black" stroke-linecap="butt" stroke-linejoin="round">',
    ]
    # words stand clear of all but the outline
    for line in (one for one in sheet.lines if one.kind != WIDE):
        made.append(_polyline(line, sheet.height))
    for words in sheet.words:
        points = " ".join(f"{x:.3f},{sheet.height - y:.3f}" for x, y in words.ground)
        made.append(f'<polygon points="{points}" fill="white" stroke="none"/>')
    for line in (one for one in sheet.lines if one.kind == WIDE):
        made.append(_polyline(line, sheet.height))
    made.append("</g>")
    for arrow in sheet.arrows:
        points = " ".join(f"{x:.3f},{sheet.height - y:.3f}" for x, y in arrow)
        made.append(f'<polygon points="{points}" fill="black"/>')
    made.append('<g fill="black" font-family="DejaVu Sans, Arial, sans-serif">')
    for words in sheet.words:
        x, y = words.at[0], sheet.height - words.at[1]
        turned = f' transform="rotate({-words.turn:g} {x:.3f} {y:.3f})"' if words.turn else ""
        # a letter's height is about 0.72 of its type's size
        size = words.height / 0.72
        made.append(
            f'<text x="{x:.3f}" y="{y:.3f}" font-size="{size:.3f}" text-anchor="{words.anchor}"{turned}>{escape(words.text)}</text>'
        )
    made += ["</g>", "</svg>"]
    return "\n".join(made) + "\n"


def _polyline(line: Line, high: float) -> str:
    points = " ".join(f"{x:.3f},{high - y:.3f}" for x, y in line.points)
    dashes = f' stroke-dasharray="{" ".join(f"{dash:g}" for dash in line.kind.dashes)}"' if line.kind.dashes else ""
    return f'<polyline points="{points}" stroke-width="{line.kind.width:g}"{dashes}/>'
