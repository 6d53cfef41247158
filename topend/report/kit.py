"""A kit as it was checked, as text and as JSON: what is missing, surplus or does not fit, and the steps of preparing it."""

from __future__ import annotations

import json
from dataclasses import dataclass

from topend.checks.kit import KitCheck
from topend.report.cautions import CAUTIONS
from topend.report.layout import heading, paragraph

__all__ = ["KitReport"]


@dataclass(frozen=True)
class KitReport:
    """A checked kit on one page: `text` for people, `json` for programs.

    >>> from topend.checks.kit import kit_check
    >>> from topend.parts import Cylinder, Gasket, Kit
    >>> checked = kit_check(Kit(name="seals", items=[{"gasket": Gasket(role="head", thickness="0.3 mm")}]), Cylinder(name="barrel"))
    >>> KitReport(checked).text.splitlines()[0]
    'KIT: seals'
    """

    checked: KitCheck

    def json(self, *, ascii_only: bool = False) -> str:
        """The check as JSON text."""
        return json.dumps({**self.checked.to_dict(), "cautions": list(CAUTIONS)}, indent=2, ensure_ascii=ascii_only)

    @property
    def text(self) -> str:
        """The check in plain text for 80 columns."""
        made = self.checked
        lines = paragraph(f"KIT: {made.kit.name or 'no name'}", rest="  ")
        lines += paragraph(f"for {made.cylinder.name or 'a cylinder without a name'}", rest="  ")
        if made.complete:
            lines += paragraph("Nothing is missing and nothing is known not to fit; what could not be told stays open.")
        told = (("Missing", made.missing), ("More than goes on", made.surplus), ("Does not fit", made.misfits))
        for title, found in (*told, ("Cannot be told", made.undecided)):
            if found:
                lines += heading(title)
            for one in found:
                lines += paragraph(str(one), first="  - ", rest="    ")
        lines += heading("Preparing it, in this order")
        for step in made.steps:
            lines += paragraph(f"{step.what}: {step.do}", first="  [ ] " if step.known else "  [?] ", rest="      ")
            lines += paragraph(f"{step.effect} ({step.standing})", first="        ", rest="          ")
        lines += ["", *paragraph("[?] the part does not say how it is: look first.")]
        return "\n".join(lines + heading("Cautions") + [line for text in CAUTIONS for line in paragraph(text, first="  - ")])
