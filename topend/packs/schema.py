"""The JSON Schema of the pack format, made from the models that read it, so that the two cannot differ."""

from __future__ import annotations

from typing import Any, get_args

from pydantic.json_schema import models_json_schema

from topend.packs.folder import KINDS_OF_PART, PartTables
from topend.packs.manifest import FORMAT, NAME, Manifest
from topend.parts.kit import ITEMS
from topend.quantities import OUTPUTS, Basis

__all__ = ["pack_schema"]


def pack_schema() -> dict[str, Any]:
    """JSON Schema (2020-12) of format 1: ``$defs/manifest`` is pack.toml, ``part_file`` a table of parts, ``case_file`` a measured case.

    TOML is judged as the JSON of the same content. A schema cannot say all that reading says: limits, units and names of
    gaskets in drawers are judged there.

    >>> print(*sorted(pack_schema()["$defs"]["part_file"]["properties"]))
    clip crank cylinder drawer family fixture gasket head kit locating_pin location o_ring pin piston ring studs
    """
    _, made = models_json_schema([(Manifest, "validation"), (PartTables, "validation")], ref_template="#/$defs/{model}")
    defs: dict[str, Any] = made["$defs"]
    tables = defs.pop("PartTables")["properties"]
    manifest = defs.pop("Manifest")
    for name in list(defs):
        if name not in ("Source",):
            defs[name] = _with_figures(defs[name])
    defs["manifest"] = {**manifest, "title": "pack.toml"}
    defs["figure"] = {
        "description": "A figure, with where it is from.",
        "type": "object",
        "properties": {"value": {}, "basis": {"enum": list(get_args(Basis))}, "source": {"type": "string"}},
        "required": ["value"],
        "additionalProperties": False,
    }
    names = {"pattern": f"^{NAME.pattern}$"}
    kinds = {}
    for kind in KINDS_OF_PART:
        branches = [branch for branch in tables[kind]["anyOf"] if branch.get("type") != "null"]
        part = branches[0] if len(branches) == 1 else {"anyOf": branches}
        kinds[kind] = {"type": "object", "propertyNames": names, "additionalProperties": part}
    # in a file a drawer names gaskets
    stock = defs["StockItem"]["properties"]
    stock["gasket"] = {"anyOf": [{"type": "string"}, stock["gasket"]]}
    # and a kit its parts
    kit = defs["KitItem"]["properties"]
    for kind in ITEMS:
        kit[kind] = {"anyOf": [{"type": "string"}, kit[kind]]}
    defs["part_file"] = {"title": "a part file", "type": "object", "properties": kinds, "additionalProperties": False}
    expected = {
        "type": "object",
        "properties": {"value": {"type": ["string", "number"]}, "tolerance": {"type": ["string", "number"]}, "source": {"type": "string"}},
        "required": ["value", "tolerance"],
        "additionalProperties": False,
    }
    defs["case_file"] = {
        "title": "a measured case: a job file with what was measured",
        "type": "object",
        "properties": {
            "format": {"const": FORMAT},
            "title": {"type": "string"},
            "source": {"type": "string", "description": "Where and how it was measured."},
            "expect": {
                "type": "object",
                "minProperties": 1,
                "additionalProperties": expected,
                "description": f"Outputs with value and tolerance, such as {', '.join(list(OUTPUTS)[:3])}; those that the pack adds too.",
            },
        },
        "required": ["format", "source", "expect"],
    }
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"topend data pack, format {FORMAT}",
        "description": "Use the definition that fits the file: manifest, part_file or case_file.",
        "anyOf": [{"$ref": f"#/$defs/{name}"} for name in ("manifest", "part_file", "case_file")],
        "$defs": dict(sorted(defs.items())),
    }


def _with_figures(value: Any) -> Any:
    """The same, with each stated quantity as a text or as a table with where it is from."""
    if isinstance(value, list):
        return [_with_figures(item) for item in value]
    if not isinstance(value, dict):
        return value
    if "x-kind" in value:
        return {"anyOf": [value, {"allOf": [{"$ref": "#/$defs/figure"}, {"properties": {"value": value}}]}]}
    return {key: _with_figures(item) for key, item in value.items()}
