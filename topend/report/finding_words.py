"""Findings in words and as plain data: what, against which limit of what standing, what it does, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from topend.quantities import Finding
from topend.report.layout import heading, paragraph

__all__ = ["code_of", "finding_dict", "finding_lines", "finding_rest"]


def code_of(pack: str, digest: str) -> str:
    """Whose code works an output out, or finds what is found.

    >>> code_of("club", "ab" * 32), code_of("", "")
    ('the code of pack club, sha256 abababababab', 'code that belongs to no pack')
    """
    return f"the code of pack {pack}, sha256 {digest[:12]}" if pack else "code that belongs to no pack"


def finding_dict(one: Finding) -> dict[str, Any]:
    """A finding as plain data; `pack` and `sha256` of those that a pack's code finds."""
    made = {
        "code": one.code,
        "severity": one.severity,
        "message": one.message,
        "figure": one.figure,
        "limit": one.limit,
        "margin": one.margin,
        "unit": one.unit,
        "standing": one.standing,
        "source": one.source,
        "effect": one.effect,
        "do": one.do,
    }
    return made if one.pack is None else {**made, "pack": one.pack, "sha256": one.digest}


def finding_lines(found: Iterable[Finding]) -> list[str]:
    """Findings as a section of a page, warnings first: what, against which limit of what standing, and what to do.

    >>> finding_lines([Finding("x", "warning", "too thin", "a thicker one", "common practice", figure=0.5, limit=0.6, unit="mm")])
    ['', 'WARNINGS', '  ! too thin', '      limit 0.6 mm (common practice)', '      do: a thicker one']
    """
    lines: list[str] = []
    found = list(found)
    for title, told in (
        ("Warnings", [one for one in found if one.severity != "note"]),
        ("Notes", [one for one in found if one.severity == "note"]),
    ):
        if told:
            lines += heading(title)
        for one in told:
            lines += paragraph(one.message, first="  ! " if one.severity != "note" else "  - ")
            rest = finding_rest(one)
            lines += paragraph(rest["limit"], first="      ", rest="        ")
            if one.effect:
                lines += paragraph(rest["effect"], first="      ", rest="        ")
            if one.do:
                lines += paragraph(rest["do"], first="      ", rest="          ")
            if one.pack is not None:
                lines += paragraph(rest["by"], first="      ", rest="        ")
    return lines


def finding_rest(one: Finding) -> dict[str, str]:
    """What stands below a finding's message: `limit` with its standing, `effect` in an engine, what to `do`, whose code finds it (`by`).

    Each is empty where it is not said; `by` where topend itself finds it.
    """
    limit = "" if one.limit is None else f"limit {one.limit:g} {one.unit} ".replace(" – ", " ")
    standing = f"{one.standing}, {one.source}" if one.source else one.standing
    return {
        "limit": f"{limit}({standing})" if limit else f"from {standing}",
        "effect": f"in an engine: {one.effect}" if one.effect else "",
        "do": f"do: {one.do}" if one.do else "",
        "by": "" if one.pack is None else f"found by {code_of(one.pack, one.digest)}; not by topend itself",
    }
