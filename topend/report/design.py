"""A head design on a page: what was asked, each head that does it with sizes and cut sheet, or why there is none."""

from __future__ import annotations

import functools
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Final

from topend.checks import findings
from topend.errors import DesignError
from topend.evaluation import input_unit
from topend.quantities import OUTPUTS
from topend.report.answer import Answer
from topend.report.cautions import CAUTIONS
from topend.report.finding_words import finding_dict, finding_lines
from topend.report.layout import columns, heading, labelled, paragraph

if TYPE_CHECKING:
    from topend.solve.cut_sheet import CutSheet
    from topend.solve.design import Design, DesignedHead

__all__ = ["DesignReport"]

#: Figures of a head that are shown beside its sizes, where they can be had.
_SHOWN: Final = (
    *("compression_ratio", "trapped_compression_ratio", "clearance_volume", "squish_edge", "squish_min", "squish_inner"),
    *("squish_area_ratio", "squish_velocity_peak", "contact_min"),
)


@dataclass(frozen=True)
class DesignReport(Answer):
    """A `Design` as `text` for people, `to_dict` and `json` for programs, with the same figures.

    Parameters: `design` the answer of `design_head`; `title`, `file` and `packs` as on a card; `drawings` the files that were written.
    """

    design: Design = field(repr=False)
    title: str | None = None
    file: str | None = None
    packs: tuple[str, ...] = ()
    drawings: tuple[str, ...] = ()

    @functools.cached_property
    def _sheets(self) -> tuple[CutSheet | str | None, ...]:
        """Of each solution its cut sheet, the reason why there is none, or None where no spread was asked."""
        made: list[CutSheet | str | None] = []
        for head in self.design.solutions:
            if head.spread is None:
                made.append(None)
                continue
            try:
                made.append(head.cut_sheet())
            except DesignError as error:
                made.append(str(error))
        return tuple(made)

    # --- JSON ---

    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data: `targets`, `solutions`, `beyond_cutter`, `refused`, `not_judged`, `drawings`, `cautions`.

        Each solution has `free`, `dimensions`, `outputs`, `chamber_volume`, `volume_to_remove`, `sensitivities`, `cut_sheet`, `findings`.
        """
        design = self.design
        return {
            **self.whose(),
            "targets": {name: {"value": value, "unit": OUTPUTS[name].unit} for name, value in design.targets.items()},
            "solutions": [_head_dict(head) | _sheet_dict(sheet) for head, sheet in zip(design.solutions, self._sheets, strict=True)],
            "beyond_cutter": [_head_dict(head) for head in design.beyond_cutter],
            "refused": [{"free": one.free, "reason": one.reason} for one in design.refused],
            "not_judged": list(design.not_judged),
            "drawings": list(self.drawings),
            "cautions": list(CAUTIONS),
        }

    # --- text ---

    @functools.cached_property
    def text(self) -> str:
        """The answer in plain text for 80 columns."""
        design = self.design
        lines = [self.title or "Head design"]
        if self.file is not None:
            lines += labelled([("from", self.file)])
        lines += heading("Asked")
        lines += labelled([(name, _figure(name, value)) for name, value in design.targets.items()])
        if not design.solutions:
            lines += heading("No head does it")
            lines += paragraph(str(design.reason), first="  ")
        many = len(design.solutions) > 1
        for number, (head, sheet) in enumerate(zip(design.solutions, self._sheets, strict=True), start=1):
            lines += heading(f"Head {number} of {len(design.solutions)}" if many else "Head")
            lines += self._head_lines(head, sheet)
        if design.solutions and design.beyond_cutter:
            lines += heading("Beyond the cutter")
            for head in design.beyond_cutter:
                sizes = ", ".join(f"{path} {_size(path, value.m)}" for path, value in head.dimensions.items())
                lines += paragraph(f"{sizes}: {'; '.join(head.breaks)}", first="  ")
        if design.solutions and design.refused:
            lines += heading("Dimensions that do not do it")
            for one in design.refused:
                lines += paragraph(one.reason, first="  ")
        if design.not_judged:
            lines += heading("Not judged")
            for told in design.not_judged:
                lines += paragraph(told, first="  ")
        if self.drawings:
            lines += heading("Drawings")
            lines += [f"  {name}" for name in self.drawings]
        if self.packs:
            lines += heading("Packs")
            lines += [f"  {name}" for name in self.packs]
        lines += heading("Cautions")
        for caution in CAUTIONS:
            lines += paragraph(caution, first="  ")
        return "\n".join(lines)

    def _head_lines(self, head: DesignedHead, sheet: CutSheet | str | None) -> list[str]:
        lines = columns([(path, _size(path, value.m)) for path, value in head.dimensions.items()], right=[1], last=False)
        rows = [("chamber volume", f"{head.chamber_volume.m_as('cc'):.3f} cc above the band-edge plane")]
        remove = head.volume_to_remove
        if remove is not None:
            cubic = remove.m_as("cc")
            rows.append(
                ("to take from the head that is there", f"{cubic:.3f} cc" if cubic >= 0.0 else f"none: {-cubic:.3f} cc of metal is wanting")
            )
        rows += [(name, _figure(name, head.result.shown(name))) for name in _SHOWN if name in head.result]
        lines += ["", *labelled(rows)]
        moves = _sensitivities(head)
        if moves:
            lines += ["", *paragraph(f"What {head.target} does for each size of the head:", first="  ")]
            lines += columns(
                [(path, f"{change:+.3f}", f"for 1 {input_unit(path)}") for path, change in moves.items()], right=[1], indent="    "
            )
        if isinstance(sheet, str):
            lines += ["", *paragraph(f"No cut sheet: {sheet}", first="  ")]
        elif sheet is not None:
            unit = OUTPUTS[sheet.target].unit
            spread = f"{sheet.spread:g}" + ("" if unit == "–" else f" {unit}")
            lines += [
                "",
                *paragraph(f"Cut sheet: {sheet.target} stays within ± {spread} of {_figure(sheet.target, sheet.value)}.", first="  "),
            ]
            cuts = [(line.path, f"{line.nominal:.2f}", f"± {line.half_width:.3f} {line.unit}") for line in sheet.lines]
            lines += columns(cuts, right=[1], indent="    ")
            lines += paragraph(
                f"Every corner of these limits evaluated: {_figure(sheet.target, sheet.least)} to {_figure(sheet.target, sheet.most)}.",
                first="    ",
            )
            for note in sheet.notes:
                lines += paragraph(f"! {note}", first="    ", rest="      ")
        lines += finding_lines(findings(head.result))
        return lines


def _sensitivities(head: DesignedHead) -> dict[str, float]:
    """Those of the sizes of the head, greatest first."""
    own = {path: change for path, change in head.sensitivities.items() if path.startswith(("head.profile.", "head.recess_offset"))}
    return dict(sorted(own.items(), key=lambda item: -abs(item[1])))


def _size(path: str, value: float) -> str:
    unit = input_unit(path)
    return f"{value:.3f} {unit}"


def _figure(name: str, value: float) -> str:
    made = OUTPUTS[name]
    text = f"{value:.{max(made.decimals, 2)}f}"
    return text if made.unit == "–" else f"{text} {made.unit}"


def _head_dict(head: DesignedHead) -> dict[str, Any]:
    remove = head.volume_to_remove
    return {
        "free": head.free,
        "dimensions": {path: {"value": float(value.m), "unit": input_unit(path)} for path, value in head.dimensions.items()},
        "outputs": head.result.to_dict(),
        "chamber_volume": {"value": float(head.chamber_volume.m_as("cc")), "unit": "cc"},
        "volume_to_remove": None if remove is None else {"value": float(remove.m_as("cc")), "unit": "cc"},
        "sensitivities": {path: {"value": change, "per": input_unit(path)} for path, change in _sensitivities(head).items()},
        "breaks": list(head.breaks),
        "findings": [finding_dict(told) for told in findings(head.result)],
    }


def _sheet_dict(sheet: CutSheet | str | None) -> dict[str, Any]:
    if sheet is None:
        return {"cut_sheet": None}
    if isinstance(sheet, str):
        return {"cut_sheet": {"refused": sheet}}
    lines = [
        {"path": line.path, "nominal": line.nominal, "low": line.low, "high": line.high, "unit": line.unit, "effect": line.effect}
        for line in sheet.lines
    ]
    return {
        "cut_sheet": {
            "target": sheet.target,
            "value": sheet.value,
            "spread": sheet.spread,
            "lines": lines,
            "least": sheet.least,
            "most": sheet.most,
            "notes": list(sheet.notes),
        }
    }
