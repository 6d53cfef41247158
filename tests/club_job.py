"""An invented job for the packs that tests write: its crank is inline, or a part of a pack."""

from __future__ import annotations

from pathlib import Path

JOB = """
format = 1
title = "x"
{more}
crank = {crank}
base_gaskets = [{{ role = "base", thickness = "0.50 mm" }}]
head_gaskets = [{{ role = "head", thickness = "0.30 mm", opening = "48.5 mm" }}]
[cylinder]
bore = "47.60 mm ± 0.02 mm"
[piston]
crown = {{ shape = "flat" }}
[head]
kind = "spigot"
recess_offset = "-1.0 mm"
spigot_diameter = "47.2 mm"
chamber_volume = "6.4 cc"
band = {{ outer_diameter = "47.2 mm", inner_diameter = "33.0 mm", angle = "9 deg" }}
[deck]
clearance = "1.65 mm ± 0.03 mm"
base_thickness = "0.50 mm"
[running]
crank_speed = "11500 rpm"
"""
INLINE = '{ stroke = "39.3 mm", rod_length = "85 mm" }'


def job(folder: Path, more: str = "", crank: str = INLINE, end: str = "") -> str:
    """The file it was written to; `more` stands before its parts, `end` after them."""
    path = folder / "job.toml"
    path.write_text(JOB.format(more=more, crank=crank) + end, encoding="utf-8")
    return str(path)
