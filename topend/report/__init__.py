"""What people see: bench card, assembly sheet, gasket fit, readings, each as plain text and as JSON of the same figures."""

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
