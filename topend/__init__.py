"""topend: heads, gaskets and timing of small two-strokes, from typed parts to squish, ratios and port angles.

>>> import topend as te
>>> te.Crank(stroke="39.3 mm").stroke
<Quantity(39.3 mm)>

Every public name arrives on first use, so that importing the package costs nothing.
"""

from __future__ import annotations

import importlib
import sys
from types import ModuleType
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    import topend.measure as measure  # noqa: F401
    from topend.assembly import TopEnd as TopEnd
    from topend.checks import findings as findings
    from topend.checks.kit import KitCheck as KitCheck
    from topend.checks.kit import kit_check as kit_check
    from topend.curves import Curve as Curve
    from topend.curves import contact_probability as contact_probability
    from topend.curves import curve as curve
    from topend.cycles import ClosedCycle as ClosedCycle
    from topend.cycles import closed_cycle as closed_cycle
    from topend.errors import ArgumentError as ArgumentError
    from topend.errors import AssemblyError as AssemblyError
    from topend.errors import DesignError as DesignError
    from topend.errors import FitError as FitError
    from topend.errors import JobError as JobError
    from topend.errors import MissingExtraError as MissingExtraError
    from topend.errors import MissingInputError as MissingInputError
    from topend.errors import PackError as PackError
    from topend.errors import PartError as PartError
    from topend.errors import ReadingsError as ReadingsError
    from topend.errors import StudyError as StudyError
    from topend.errors import TopendError as TopendError
    from topend.errors import UnknownNameError as UnknownNameError
    from topend.evaluation import Result as Result
    from topend.evaluation import evaluate as evaluate
    from topend.extremes import Extremes as Extremes
    from topend.extremes import extremes as extremes
    from topend.fits import iso_clearance as iso_clearance
    from topend.fits import iso_fit as iso_fit
    from topend.job import Job as Job
    from topend.job import load_job as load_job
    from topend.joints import GasketNeed as GasketNeed
    from topend.joints import GrooveCopy as GrooveCopy
    from topend.joints import Land as Land
    from topend.joints import gasket_needs as gasket_needs
    from topend.joints import groove_copied as groove_copied
    from topend.joints import lands as lands
    from topend.learning import Learned as Learned
    from topend.learning import learn as learn
    from topend.locating import Located as Located
    from topend.locating import locate as locate
    from topend.measure.next_reading import next_reading as next_reading
    from topend.measure.reconcile import reconcile as reconcile
    from topend.measure.sheet import load_readings as load_readings
    from topend.measure.verify import verify as verify
    from topend.packs import Catalogue as Catalogue
    from topend.parts import AssembledVolume as AssembledVolume
    from topend.parts import BallBearing as BallBearing
    from topend.parts import BathtubProfile as BathtubProfile
    from topend.parts import BowlProfile as BowlProfile
    from topend.parts import Burn as Burn
    from topend.parts import Charge as Charge
    from topend.parts import ConeCrown as ConeCrown
    from topend.parts import ConeProfile as ConeProfile
    from topend.parts import ContourProfile as ContourProfile
    from topend.parts import Crank as Crank
    from topend.parts import Cranking as Cranking
    from topend.parts import Cutout as Cutout
    from topend.parts import Cutter as Cutter
    from topend.parts import Cylinder as Cylinder
    from topend.parts import DeckReading as DeckReading
    from topend.parts import DishCrown as DishCrown
    from topend.parts import DrillingFixture as DrillingFixture
    from topend.parts import FlatCrown as FlatCrown
    from topend.parts import FlushHead as FlushHead
    from topend.parts import Gasket as Gasket
    from topend.parts import GasketSet as GasketSet
    from topend.parts import HemisphereProfile as HemisphereProfile
    from topend.parts import Kit as Kit
    from topend.parts import KitItem as KitItem
    from topend.parts import LocatingPin as LocatingPin
    from topend.parts import Losses as Losses
    from topend.parts import MeasuredCrown as MeasuredCrown
    from topend.parts import Notch as Notch
    from topend.parts import Obstacle as Obstacle
    from topend.parts import ORing as ORing
    from topend.parts import ORingGroove as ORingGroove
    from topend.parts import Part as Part
    from topend.parts import PinClip as PinClip
    from topend.parts import PinLocation as PinLocation
    from topend.parts import Piston as Piston
    from topend.parts import PistonPin as PistonPin
    from topend.parts import PistonRing as PistonRing
    from topend.parts import PlugSeat as PlugSeat
    from topend.parts import Port as Port
    from topend.parts import Probe as Probe
    from topend.parts import ProfilePoint as ProfilePoint
    from topend.parts import RegisterLocation as RegisterLocation
    from topend.parts import RollerBearing as RollerBearing
    from topend.parts import Running as Running
    from topend.parts import SphereCrown as SphereCrown
    from topend.parts import SpigotHead as SpigotHead
    from topend.parts import SpigotLocation as SpigotLocation
    from topend.parts import SquishBand as SquishBand
    from topend.parts import StockItem as StockItem
    from topend.parts import StudFamily as StudFamily
    from topend.parts import StudLocation as StudLocation
    from topend.parts import StudPattern as StudPattern
    from topend.parts import StudPlace as StudPlace
    from topend.parts import StudSet as StudSet
    from topend.parts import StudSlot as StudSlot
    from topend.parts import ToroidalProfile as ToroidalProfile
    from topend.parts import Witness as Witness
    from topend.quantities import Finding as Finding
    from topend.quantities import Output as Output
    from topend.quantities import glossary as glossary
    from topend.report.drawings import HeadDrawing as HeadDrawing
    from topend.report.hole_pattern import hole_pattern as hole_pattern
    from topend.report.hole_pattern import write_hole_pattern as write_hole_pattern
    from topend.report.pictures import picture as picture
    from topend.report.pictures import write_picture as write_picture
    from topend.solve import Family as Family
    from topend.solve import Fit as Fit
    from topend.solve import FixtureCheck as FixtureCheck
    from topend.solve import RangePlan as RangePlan
    from topend.solve import fit_gaskets as fit_gaskets
    from topend.solve import fixture_check as fixture_check
    from topend.solve import plan_range as plan_range
    from topend.solve.compare import Comparison as Comparison
    from topend.solve.compare import compare as compare
    from topend.solve.correct import Correction as Correction
    from topend.solve.correct import Corrections as Corrections
    from topend.solve.correct import correct as correct
    from topend.solve.cut_sheet import CutSheet as CutSheet
    from topend.solve.cuts import cut as cut
    from topend.solve.design import Design as Design
    from topend.solve.design import design_columns as design_columns
    from topend.solve.design import design_head as design_head
    from topend.solve.design import volume_to_remove as volume_to_remove
    from topend.solve.knock import KnockLimit as KnockLimit
    from topend.solve.knock import knock_limits as knock_limits
    from topend.solve.knock_ranking import Ranked as Ranked
    from topend.solve.knock_ranking import rank_by_knock as rank_by_knock
    from topend.solve.swap import Swap as Swap
    from topend.solve.swap import swap as swap
    from topend.study import Study as Study
    from topend.study.table import Summary as Summary
    from topend.study.table import Table as Table
    from topend.uncertainty import sensitivities as sensitivities
    from topend.uncertainty import uncertainty as uncertainty
    from topend.units import Quantity as Quantity

_HOME = {
    "topend.assembly": ("TopEnd",),
    "topend.checks": ("findings",),
    "topend.checks.kit": ("KitCheck", "kit_check"),
    "topend.cycles": ("ClosedCycle", "closed_cycle"),
    "topend.curves": ("Curve", "contact_probability", "curve"),
    "topend.errors": (
        "ArgumentError",
        "AssemblyError",
        "DesignError",
        "FitError",
        "JobError",
        "MissingExtraError",
        "MissingInputError",
        "PackError",
        "PartError",
        "ReadingsError",
        "StudyError",
        "TopendError",
        "UnknownNameError",
    ),
    "topend.evaluation": ("Result", "evaluate"),
    "topend.extremes": ("Extremes", "extremes"),
    "topend.fits": ("iso_clearance", "iso_fit"),
    "topend.job": ("Job", "load_job"),
    "topend.joints": ("GasketNeed", "GrooveCopy", "Land", "gasket_needs", "groove_copied", "lands"),
    "topend.learning": ("Learned", "learn"),
    "topend.locating": ("Located", "locate"),
    "topend.measure.next_reading": ("next_reading",),
    "topend.measure.reconcile": ("reconcile",),
    "topend.measure.sheet": ("load_readings",),
    "topend.measure.verify": ("verify",),
    "topend.packs": ("Catalogue",),
    "topend.parts": (
        "AssembledVolume",
        "BallBearing",
        "BathtubProfile",
        "BowlProfile",
        "Burn",
        "Charge",
        "ConeCrown",
        "ConeProfile",
        "ContourProfile",
        "Crank",
        "Cranking",
        "Cutout",
        "Cutter",
        "Cylinder",
        "DeckReading",
        "DishCrown",
        "DrillingFixture",
        "FlatCrown",
        "FlushHead",
        "Gasket",
        "GasketSet",
        "HemisphereProfile",
        "Kit",
        "KitItem",
        "LocatingPin",
        "Losses",
        "MeasuredCrown",
        "Notch",
        "ORing",
        "ORingGroove",
        "Obstacle",
        "Part",
        "PinClip",
        "PinLocation",
        "Piston",
        "PistonPin",
        "PistonRing",
        "PlugSeat",
        "Port",
        "Probe",
        "ProfilePoint",
        "RegisterLocation",
        "RollerBearing",
        "Running",
        "SphereCrown",
        "SpigotHead",
        "SpigotLocation",
        "SquishBand",
        "StockItem",
        "StudFamily",
        "StudLocation",
        "StudPattern",
        "StudPlace",
        "StudSet",
        "StudSlot",
        "ToroidalProfile",
        "Witness",
    ),
    "topend.quantities": ("Finding", "Output", "glossary"),
    "topend.report.hole_pattern": ("hole_pattern", "write_hole_pattern"),
    "topend.report.pictures": ("picture", "write_picture"),
    "topend.solve": ("Family", "Fit", "FixtureCheck", "RangePlan", "fit_gaskets", "fixture_check", "plan_range"),
    "topend.solve.compare": ("Comparison", "compare"),
    "topend.solve.correct": ("Correction", "Corrections", "correct"),
    "topend.report.drawings": ("HeadDrawing",),
    "topend.solve.cut_sheet": ("CutSheet",),
    "topend.solve.cuts": ("cut",),
    "topend.solve.design": ("Design", "design_columns", "design_head", "volume_to_remove"),
    "topend.solve.swap": ("Swap", "swap"),
    "topend.solve.knock": ("KnockLimit", "knock_limits"),
    "topend.solve.knock_ranking": ("Ranked", "rank_by_knock"),
    "topend.study": ("Study",),
    "topend.study.table": ("Summary", "Table"),
    "topend.uncertainty": ("sensitivities", "uncertainty"),
    "topend.units": ("Quantity",),
}
_WHERE = {name: module for module, names in _HOME.items() for name in names}
#: Rooms that are public as a whole: te.measure.burette(...).
_ROOMS = ("measure",)

__all__ = sorted([*_WHERE, *_ROOMS, "__version__"])


if not TYPE_CHECKING:  # to a type checker a name nobody has would be one that arrives

    def __getattr__(name: str) -> Any:
        if name in _ROOMS:
            return importlib.import_module(f"topend.{name}")
        if name not in _WHERE:
            raise AttributeError(f"module 'topend' has no attribute {name!r}")
        return getattr(importlib.import_module(_WHERE[name]), name)


def __dir__() -> list[str]:
    return __all__


class _Face(ModuleType):
    """The package's face: a submodule that bears a public name (`uncertainty`) does not take that name's place."""

    def __setattr__(self, name: str, value: Any) -> None:
        if not (name in _WHERE and isinstance(value, ModuleType)):
            super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Face
