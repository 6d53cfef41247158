"""What is bolted together: typed, immutable, strict parts. Their fields are the inputs of `quantities`."""

from topend.parts.base import Part
from topend.parts.bearing import BallBearing, RollerBearing
from topend.parts.crank import Crank, Running
from topend.parts.cutout import Cutout, Notch
from topend.parts.cutter import Cutter
from topend.parts.cycle import Burn, Charge, Cranking, Losses
from topend.parts.cylinder import Cylinder, Port
from topend.parts.gasket import Gasket, GasketSet, StockItem
from topend.parts.head import FlushHead, Head, SpigotHead, SquishBand
from topend.parts.kit import Kit, KitItem, PinClip, PistonPin
from topend.parts.location import (
    DrillingFixture,
    LocatingPin,
    Location,
    PinLocation,
    RegisterLocation,
    SpigotLocation,
    StudLocation,
    StudSlot,
)
from topend.parts.oring import ORing, ORingGroove
from topend.parts.piston import ConeCrown, Crown, DishCrown, FlatCrown, MeasuredCrown, Piston, SphereCrown
from topend.parts.probe import Probe
from topend.parts.profile import (
    BathtubProfile,
    BowlProfile,
    ConeProfile,
    ContourProfile,
    HemisphereProfile,
    PlugSeat,
    Profile,
    ProfilePoint,
    ToroidalProfile,
)
from topend.parts.provenance import Origin, Provenance
from topend.parts.reading import AssembledVolume, DeckReading
from topend.parts.rings import PistonRing
from topend.parts.stud_family import Obstacle, StudFamily, StudPlace
from topend.parts.studs import StudPattern, StudSet
from topend.parts.witness import Witness

__all__ = [
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
    "Crown",
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
    "Head",
    "HemisphereProfile",
    "Kit",
    "KitItem",
    "LocatingPin",
    "Location",
    "Losses",
    "MeasuredCrown",
    "Notch",
    "ORing",
    "ORingGroove",
    "Obstacle",
    "Origin",
    "Part",
    "PinClip",
    "PinLocation",
    "Piston",
    "PistonPin",
    "PistonRing",
    "PlugSeat",
    "Port",
    "Probe",
    "Profile",
    "ProfilePoint",
    "Provenance",
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
]
