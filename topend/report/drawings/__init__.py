"""Workshop drawings of a head's half-section: dimensioned, as SVG and PNG; the contour alone, as DXF for the lathe.

Line kinds are those of ISO 128-2 (wide and narrow, continuous, dashed, long-dashed dotted), dimensions as of ISO 129-1, scales those
of ISO 5455, millimetres throughout.
"""

from topend.report.drawings.half_section import HeadDrawing

__all__ = ["HeadDrawing"]
