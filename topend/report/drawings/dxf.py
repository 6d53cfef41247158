"""The contour for the lathe as DXF, by ezdxf (extra `draw`): true size in millimetres, one closed polyline with arcs as bulges."""

from __future__ import annotations

import io
import itertools
from collections.abc import Sequence

from topend.errors import MissingExtraError

__all__ = ["dxf_text"]


def dxf_text(
    contour: Sequence[tuple[float, float, float]],
    axis: tuple[float, float],
    hole: Sequence[tuple[float, float]],
    face: Sequence[tuple[float, float]],
    title: str,
) -> str:
    """DXF of the year 2000 (AC1015): the closed contour on layer CHAMBER, and lines on AXIS, PLUG_HOLE and GASKET_FACE.

    Parameters: `contour` (x, y, bulge) of its corners [mm], walked to the left; `axis` its lower and upper end [mm]; `hole` and `face`
    the places that lines join [mm], none where there is no hole; `title` into the file's comments. x is the distance from the axis, y
    the height above the band-edge plane. Raises `MissingExtraError` without ezdxf.
    """
    try:
        from ezdxf import units
        from ezdxf.filemanagement import new
    except ImportError as error:
        raise MissingExtraError("a drawing as DXF", "ezdxf", "draw", error) from None
    made = new("R2000", setup=["linetypes"], units=units.MM)
    made.header["$MEASUREMENT"] = 1
    made.header.custom_vars.append("Title", title)
    made.header.custom_vars.append("Units", "mm, radius as x, height above the band-edge plane as y")
    made.layers.add("CHAMBER", color=7, lineweight=50)
    made.layers.add("AXIS", color=1, lineweight=25, linetype="CENTER")
    space = made.modelspace()
    space.add_lwpolyline(contour, format="xyb", close=True, dxfattribs={"layer": "CHAMBER"})
    space.add_line((0.0, axis[0]), (0.0, axis[1]), dxfattribs={"layer": "AXIS"})
    for layer, places in (("PLUG_HOLE", hole), ("GASKET_FACE", face)):
        made.layers.add(layer, color=8, lineweight=25)
        for start, end in itertools.pairwise(places):
            if start != end:
                space.add_line(start, end, dxfattribs={"layer": layer})
    stream = io.StringIO()
    made.write(stream)
    return stream.getvalue()
