"""What people see: the bench card and the gasket fit, each as plain text and as JSON of the same figures."""

from topend.report.card import BenchCard
from topend.report.cautions import CAUTIONS
from topend.report.fitting import FitReport
from topend.report.glossary import glossary_text

__all__ = ["CAUTIONS", "BenchCard", "FitReport", "glossary_text"]
