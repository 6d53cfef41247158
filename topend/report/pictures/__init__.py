"""Pictures of a top end, by matplotlib (extra `plot`): `picture` by name, `write_picture` and `svg` to keep one.

A picture is a function in the file of its subject that takes a `TopEnd` and gives a matplotlib `Figure`, drawn with what
`style.py` offers; `PICTURES` names those that `picture` and the command line know.
"""

from topend.report.pictures.named import PICTURES, Picture, picture
from topend.report.pictures.style import svg, write_picture

__all__ = ["PICTURES", "Picture", "picture", "svg", "write_picture"]
