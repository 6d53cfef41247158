"""Volumes above the piston at TDC: from head and crown, or from a reading of the assembled engine."""

from __future__ import annotations

from topend.physics import crown, volumes
from topend.physics.wiring.deck import read_with
from topend.physics.wiring.geometry import crown_inputs
from topend.physics.wiring.graph import Assumption, Node, Structure, many, node
from topend.physics.wiring.operations import added, half, product, quotient, same, sum_of_products, zero


def volume_nodes(structure: Structure) -> list[Node]:
    """Gasket, free, crown, chamber and clearance volume."""
    heads = structure.choice("head_gaskets")
    count = int(heads) if heads is not None else None
    openings = [f"head_gaskets.{index}.opening" for index in range(count or 0)] or ["head_gaskets.0.opening"]
    bore_opening = Assumption("head gasket opening not given: taken as the bore")
    nodes = [node(path, same, bore_opening, value="cylinder.bore") for path in openings]
    nodes += [node(f"{path}_area", volumes.circle_area, diameter=path) for path in openings]
    if count == 0 and "head_gasket.thickness" not in structure.given:
        nodes += [node("head_gasket.volume", zero), node("head_gasket.opening_area", same, value="cylinder.bore_area")]
    elif count is None or count == 1 or "head_gasket.thickness" in structure.given:
        area = f"{openings[0]}_area"
        nodes += [
            node("head_gasket.volume", product, area=area, thickness="head_gasket.thickness"),
            node("head_gasket.opening_area", same, value=area),
        ]
    else:
        fitted = [f"head_gaskets.{index}.fitted_thickness" for index in range(count)]
        pairs = [path for area, thickness in zip(openings, fitted, strict=True) for path in (f"{area}_area", thickness)]
        nodes += [
            many("head_gasket.volume", sum_of_products, pairs),
            node("head_gasket.opening_area", quotient, volume="head_gasket.volume", thickness="head_gasket.thickness"),
        ]
    kind = structure.choice("head")
    bore_recess = Assumption("recess diameter not given: taken as the bore")
    nodes.append(node("head.recess_diameter", same, bore_recess, value="cylinder.bore"))
    bore_area = "cylinder.bore_area"
    nodes += [
        node("head.recess_area", same, value=bore_area)
        if kind == "spigot"
        else node("head.recess_area", volumes.circle_area, diameter="head.recess_diameter"),
        node("head.spigot_area", volumes.circle_area, diameter="head.spigot_diameter")
        if kind == "spigot"
        else node("head.spigot_area", same, value=bore_area),
        node("head.radius", half, value="head.spigot_diameter" if kind == "spigot" else "head.recess_diameter"),
        node("piston.area", volumes.circle_area, diameter="piston.diameter"),
        node(
            "free_volume",
            volumes.free_volume,
            deck_clearance="deck_clearance",
            recess_offset="head.recess_offset",
            gasket_volume="head_gasket.volume",
            bore_area=bore_area,
            piston_area="piston.area",
            recess_area="head.recess_area",
            spigot_area="head.spigot_area",
        ),
    ]
    shape = structure.choice("piston.crown")
    whole = crown_inputs()
    if shape in ("sphere", "dish"):  # the cap alone, whole
        cap = {name: whole[name] for name in ("cap_height", "cap_radius")}
        nodes.append(node("crown.shape_volume", crown.spherical_cap_volume, **cap))
    else:
        nodes.append(node("crown.shape_volume", crown.crown_volume_within, radius="piston.crown.radius", **whole))
    if shape == "measured":
        nodes.append(node("crown_volume", same, value="piston.crown.volume"))
    elif shape == "flat":
        nodes.append(node("crown_volume", zero))
    else:
        nodes.append(node("crown_volume", same, value="crown.shape_volume"))
    if structure.choice("head.volume_datum") == "face":
        nodes.append(
            node(
                "head.band_volume",
                volumes.band_volume_from_face_volume,
                face_volume="head.chamber_volume",
                recess_area="head.recess_area",
                recess_offset="head.recess_offset",
            )
        )
    else:
        nodes.append(node("head.band_volume", same, value="head.chamber_volume"))
    if "assembled.volume" in structure.given:
        nodes += [
            *read_with(
                structure,
                "assembled.base_thickness",
                "base.thickness",
                "assembled.base_change",
                unsaid="base stack under the assembled reading not given",
                unknown="base stack not given: taken as it was under the assembled reading",
            ),
            *read_with(
                structure,
                "assembled.head_thickness",
                "head_gasket.thickness",
                "assembled.head_change",
                unsaid="head gasket stack under the assembled reading not given",
                unknown="head gaskets not given: taken as they were under the assembled reading",
            ),
            node("assembled.base_volume", product, area=bore_area, thickness="assembled.base_change"),
            # written as the whole difference so that it is exactly 0 where nothing changed
            node("assembled.head_volume", product, area="head_gasket.opening_area", thickness="assembled.head_change"),
            many("clearance_volume.bare", added, ("assembled.volume", "assembled.base_volume", "assembled.head_volume")),
        ]
    else:
        nodes.append(
            node(
                "clearance_volume.bare",
                volumes.clearance_volume,
                chamber_volume="head.band_volume",
                free_volume="free_volume",
                crown_volume="crown_volume",
            )
        )
    nodes.append(node("crevice_volume", volumes.crevice_volume, bore_area=bore_area, piston_area="piston.area", top_land="piston.top_land"))
    if structure.choice("crevice") == "included":
        nodes.append(many("clearance_volume", added, ("clearance_volume.bare", "crevice_volume")))
    else:
        nodes.append(node("clearance_volume", same, value="clearance_volume.bare"))
    return nodes
