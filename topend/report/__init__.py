"""What people see: bench card, assembly sheet, gasket fit, readings, each as plain text and as JSON of the same figures.

Each name arrives on first use, so that a card does not wait for the solvers of a fit, nor a fit for studies.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from topend.report.assembly_sheet import AssemblySheet
    from topend.report.card import BenchCard
    from topend.report.cautions import CAUTIONS
    from topend.report.fitting import FitReport
    from topend.report.glossary import glossary_text
    from topend.report.readings import CustomerAnswer, ReadingsReport, VerifiedReport, question_sheet, reading_sheet
    from topend.report.study import StudyReport

__all__ = [
    "CAUTIONS",
    "AssemblySheet",
    "BenchCard",
    "CustomerAnswer",
    "FitReport",
    "ReadingsReport",
    "StudyReport",
    "VerifiedReport",
    "glossary_text",
    "question_sheet",
    "reading_sheet",
]

_HOME: Final = {
    "assembly_sheet": ("AssemblySheet",),
    "card": ("BenchCard",),
    "cautions": ("CAUTIONS",),
    "fitting": ("FitReport",),
    "glossary": ("glossary_text",),
    "readings": ("CustomerAnswer", "ReadingsReport", "VerifiedReport", "question_sheet", "reading_sheet"),
    "study": ("StudyReport",),
}
_WHERE: Final = {name: module for module, names in _HOME.items() for name in names}


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'topend.report' has no attribute {name!r}")
    return getattr(importlib.import_module(f"topend.report.{_WHERE[name]}"), name)


def __dir__() -> list[str]:
    return __all__
