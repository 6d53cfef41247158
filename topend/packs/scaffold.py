"""A new pack to start from: a plain folder, or a package to publish. Both read, fit together and pass their checks as made."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from pathlib import Path
from typing import Final

from topend.errors import PackError, Problem
from topend.packs.manifest import bad_name

__all__ = ["new_pack"]


def new_pack(folder: str | os.PathLike[str], *, package: bool = False) -> list[Path]:
    """Make a new pack in `folder`, whose name becomes the pack's id, and give the files written.

    `package` makes a distribution around it that can be built and published. Raises `PackError` where the name cannot be an
    id, or something is in the folder already; then nothing is written.
    """
    target = Path(folder)
    name = Path(os.path.abspath(target)).name
    if trouble := bad_name(name):
        raise PackError(str(folder), [Problem("the folder's name", f"becomes the pack's id, and {trouble}")])
    if package and not name[-1].isalnum():
        raise PackError(str(folder), [Problem("the folder's name", "becomes the distribution's name, which ends in a letter or a digit")])
    if target.exists() and (not target.is_dir() or any(target.iterdir())):
        raise PackError(str(folder), [Problem("", "is there already and not empty; a new pack is made in a folder of its own")])
    if not target.absolute().parent.is_dir():
        raise PackError(str(folder), [Problem("", f"cannot be made: there is no folder {target.parent}")])
    module = re.sub(r"[^a-z0-9]", "_", name.lower())
    module = module if module[0].isalpha() else f"pack_{module}"
    files = dict(_PACK)
    if package:
        inside = {file: text for file, text in files.items() if file != "README.md"}
        files = {f"src/{module}/{file}": text for file, text in inside.items()} | {f"src/{module}/__init__.py": _INIT} | _PACKAGE
    # made beside it and moved there as a whole, so that nothing is left half-written
    made = Path(tempfile.mkdtemp(prefix=f".{name}-", dir=target.absolute().parent))
    try:
        for file, text in files.items():
            path = made / file
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(text.replace("@NAME@", name).replace("@MODULE@", module), encoding="utf-8")
        made.chmod(0o755)
        if target.is_dir():
            target.rmdir()
        made.rename(target)
    except BaseException:
        shutil.rmtree(made, ignore_errors=True)
        raise
    return [target / file for file in sorted(files)]


_PACK: Final[dict[str, str]] = {
    "pack.toml": """\
id = "@NAME@"
version = "0.1.0"
format = 1
title = "@NAME@"
summary = "Say what it holds, and what it does not claim."
licence = "CC0-1.0"
maintainers = ["say who looks after it"]

[[source]]
kind = "invented"                    # measured, published, derived, estimated or invented
title = "Example figures that came with the new pack; replace them all"
""",
    "family.toml": """\
# One barrel family. Every figure here is an invented example: replace it by your own, and take out what you do not know.

[crank.crank]
stroke = "40.0 mm"
rod_length = "85.0 mm"
seat_height = "66.00 mm ± 0.05 mm"
pin_diameter = "12 mm"

[cylinder.barrel]
bore = "47.00 mm ± 0.01 mm"
height = "65.10 mm ± 0.03 mm"
ports = [
    { kind = "exhaust", top = "22.8 mm ± 0.1 mm" },
    { kind = "transfer", top = "32.4 mm ± 0.1 mm" },
]
# angles as seen from above, anticlockwise from the middle of the exhaust: the transfers lie between the studs
studs = { count = 4, circle_diameter = "66.0 mm", diameter = "6 mm", angle = "45 deg" }
cutouts = [
    { angle = "90 deg", span = "50 deg", outer_diameter = "64.0 mm" },
    { angle = "270 deg", span = "50 deg", outer_diameter = "64.0 mm" },
]
skirt_diameter = "52.0 mm"
window_diameter = "64.0 mm"
pin_height = "39.0 mm"
pin_diameter = "12 mm"

[piston.piston]
diameter = "46.94 mm"
# a figure may say how it came about, and where it is from
compression_height = { value = "25.00 mm ± 0.03 mm", basis = "invented", source = "example" }
pin_diameter = "12 mm"
top_land = "2.0 mm"
crown = { shape = "sphere", rise = "2.0 mm" }

[head.drop10]
kind = "spigot"
recess_offset = "-1.0 mm"
spigot_diameter = "46.7 mm"
chamber_volume = "6.0 cc ± 0.1 cc"
seal = "gasket"
studs = { count = 4, circle_diameter = "66.0 mm", diameter = "6.5 mm" }
band = { outer_diameter = "46.7 mm", inner_diameter = "32.5 mm", angle = "9 deg" }

[drawer.drawer]
items = [
    { gasket = "base-030", count = 2 },
    { gasket = "base-050", count = 2 },
    { gasket = "head-030", count = 2 },
]
""",
    "gasket.csv": """\
name,role,material,thickness [mm],fitted_thickness [mm],fitted_thickness ± [mm],opening [mm],window_diameter [mm]
base-030,base,fibre,0.30,0.27,0.01,52.5,65.0
base-050,base,fibre,0.50,0.46,0.02,52.5,65.0
head-030,head,copper,0.30,,,48.2,
""",
    "checks/first-fit.toml": """\
# A measured case: the parts by id, what was read on the bench, and how closely the library has to come to it.
format = 1
title = "First fit"
source = "An invented example; put the page of your bench book here"

crank = "@NAME@/crank"
cylinder = "@NAME@/barrel"
piston = "@NAME@/piston"
head = "@NAME@/drop10"
base_gaskets = ["@NAME@/base-050"]
head_gaskets = ["@NAME@/head-030"]

[expect]
squish_edge = { value = "0.86 mm", tolerance = "0.03 mm", source = "wire, mean of four" }
exhaust_duration = { value = "187 deg", tolerance = "2 deg" }
""",
    "README.md": """\
# @NAME@

A data pack for topend. Every figure in it is an invented example: replace them by your own.

    topend packs check .          # reads it, and holds it to its measured cases
    topend packs show @NAME@/barrel --packs .
""",
}
_INIT: Final = '"""The data pack @NAME@: files only. pack.toml says what it is."""\n'
_PACKAGE: Final[dict[str, str]] = {
    "pyproject.toml": """\
[build-system]
requires = ["setuptools>=77"]
build-backend = "setuptools.build_meta"

[project]
name = "@NAME@"
version = "0.1.0"
description = "A data pack for topend"
readme = "README.md"
requires-python = ">=3.11"
dependencies = ["topend"]

# the name is the pack's id; the value is the package that holds pack.toml
[project.entry-points.topend]
@NAME@ = "@MODULE@"

[tool.setuptools.packages.find]
where = ["src"]

[tool.setuptools.package-data]
"@MODULE@" = ["*.toml", "*.csv", "checks/*.toml"]

[tool.pytest.ini_options]
addopts = ["-p", "topend.packs.testing"]
testpaths = ["src"]
""",
    "README.md": """\
# @NAME@

A data pack for topend, as a package. Every figure in it is an invented example: replace them by your own, in `src/@MODULE@`.

    pip install topend pytest
    python -m pytest              # reads the pack, and holds it to its measured cases
    pip install .                 # from then on topend finds it
    topend packs show @NAME@/barrel
""",
    ".gitignore": "__pycache__/\n*.egg-info/\nbuild/\ndist/\n",
}
