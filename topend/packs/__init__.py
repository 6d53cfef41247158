"""Data packs: parts that other people keep as files, read from their folders into one catalogue.

Those who write a pack with code take `hookimpl` and the records from here.
"""

from topend.packs.catalogue import Catalogue
from topend.packs.folder import Pack
from topend.packs.hooks import BuiltPart, FileReader, hookimpl
from topend.packs.manifest import Manifest, Source
from topend.quantities import ExtraFinding, ExtraOutput, Finding, Output

__all__ = [
    "BuiltPart",
    "Catalogue",
    "ExtraFinding",
    "ExtraOutput",
    "FileReader",
    "Finding",
    "Manifest",
    "Output",
    "Pack",
    "Source",
    "hookimpl",
]
