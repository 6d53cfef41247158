"""What the tests share: Hypothesis profiles, the `long` mark, and the sample top end of the design page's section 7."""

from __future__ import annotations

import shlex
import subprocess
import sys
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, settings

import topend as te

ROOT = Path(__file__).parents[1]

# examples are derived from the test's name, so that a newcomer's first run sees what ours saw; no example files are left
_COMMON: dict[str, Any] = {"deadline": None, "database": None, "suppress_health_check": [HealthCheck.too_slow]}
settings.register_profile("default-run", max_examples=60, derandomize=True, **_COMMON)
settings.register_profile("long-run", max_examples=2000, **_COMMON)
settings.load_profile("default-run")


def pytest_configure(config: pytest.Config) -> None:
    # -m long, or -m "" for everything: many fresh examples besides
    if config.getoption("markexpr") != "not long":
        settings.load_profile("long-run")


def _parts() -> dict[str, Any]:
    return {
        "crank": te.Crank(stroke="39.3 mm", rod_length="85 mm"),
        "cylinder": te.Cylinder(
            bore="47.6 mm",
            ports=[te.Port(kind="exhaust", top="22.3 mm"), te.Port(kind="transfer", top="31.5 mm")],
        ),
        "piston": te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
        "head": te.SpigotHead(
            recess_offset="-1.0 mm",
            spigot_diameter="47.2 mm",
            chamber_volume="6.4 cc",
            band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg"),
        ),
        "base_gaskets": [te.Gasket(role="base", thickness="0.50 mm")],
        "head_gaskets": [te.Gasket(role="head", thickness="0.30 mm", opening="48.5 mm")],
        "deck": te.DeckReading(clearance="1.65 mm", base_thickness="0.50 mm"),
        "running": te.Running(crank_speed="11500 rpm"),
    }


@pytest.fixture(scope="session")
def sample() -> Callable[..., te.TopEnd]:
    """The top end of section 7, with whole parts changed by name; None leaves a part out."""

    def build(**changes: Any) -> te.TopEnd:
        parts = {**_parts(), **changes}
        return te.TopEnd(**{name: part for name, part in parts.items() if part is not None})

    return build


@pytest.fixture(scope="session")
def refused() -> Callable[..., te.AssemblyError]:
    """Call it with a reason and what should be refused; it gives the error back."""

    def call(reason: str, build: Callable[[], Any]) -> te.AssemblyError:
        with pytest.raises(te.AssemblyError) as caught:
            build()
        assert caught.value.reason == reason
        return caught.value

    return call


@pytest.fixture(scope="session")
def kernel_shapes() -> Callable[..., None]:
    """Checks of one kernel from one row of arguments: floats, 0-d, 1-d and broadcast shapes, NaN in its own row, no warnings.

    `unread` names the arguments that this row's branch does not read, and that may be NaN without a trace.
    """

    def results(kernel: Any, columns: dict[str, Any]) -> list[np.ndarray]:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            made = kernel(**columns)
        return [np.asarray(one) for one in (made if isinstance(made, tuple) else (made,))]

    def check(kernel: Any, row: dict[str, float], unread: tuple[str, ...] = ()) -> None:
        for one in (alone := results(kernel, row)):
            assert one.shape == ()
            assert one.dtype == np.float64
            assert np.isfinite(one)
        for name in row:
            # 0-d, 1-d, and one column against a row
            for got, one in zip(results(kernel, {**row, name: np.array(row[name])}), alone, strict=True):
                assert got.shape == ()
                assert got == one
            for got, one in zip(results(kernel, {**row, name: np.full(3, row[name])}), alone, strict=True):
                assert got.shape == (3,)
                assert (got == one).all()
            others = [other for other in row if other != name]
            if others:
                grid = {**row, name: np.full((2, 1), row[name]), others[0]: np.full(3, row[others[0]])}
                for got, one in zip(results(kernel, grid), alone, strict=True):
                    assert got.shape == (2, 3)
                    assert (got == one).all()
            # NaN in this argument: that row alone
            for got, one in zip(results(kernel, {**row, name: np.array([row[name], np.nan, row[name]])}), alone, strict=True):
                assert np.isnan(got[1]) or name in unread, f"{kernel.__name__}: NaN in {name} came out as {got[1]}"
                assert got[0] == one
                assert got[2] == one
            # infinities and zeros are quiet too
            for value in (0.0, np.inf, -np.inf, -row[name]):
                results(kernel, {**row, name: value})

    return check


@pytest.fixture(scope="session")
def typed() -> Callable[[str, Path], str]:
    """What a `topend` command prints when it is typed in a folder; it must succeed, and print nothing on the error output."""

    def run(line: str, folder: Path) -> str:
        program, *arguments = shlex.split(line)
        assert Path(program).name == "topend"
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", "import sys; from topend.cli import main; sys.exit(main())", *arguments],
            cwd=folder,
            capture_output=True,
            text=True,
            encoding="utf-8",
            env={"PATH": "", "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"},
            stdin=subprocess.DEVNULL,
            check=False,
            timeout=60,
        )
        assert done.returncode == 0, line + done.stdout + done.stderr
        assert done.stderr == ""
        return done.stdout

    return run


_MANIFEST = (
    'id = "{name}"\nversion = "{version}"\nformat = 1\ntitle = "T"\nlicence = "MIT"\n{built}\n[[source]]\nkind = "invented"\ntitle = "t"\n'
)


@pytest.fixture
def install_pack(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[..., Path]]:
    """Puts a pack with code where installed ones are found, as pip leaves it; gives the folder to have on the path."""
    monkeypatch.delenv("TOPEND_PACKS", raising=False)
    before = set(sys.modules)

    def make(code: str, name: str = "club", *, version: str = "1", built: str = "") -> Path:
        site = tmp_path / f"site-{name}-{version}"
        folder = site / f"{name}_parts"
        folder.mkdir(parents=True)
        (folder / "__init__.py").write_text("")
        (folder / "hooks.py").write_text(code, encoding="utf-8")
        (folder / "pack.toml").write_text(_MANIFEST.format(name=name, version=version, built=built))
        info = site / f"{name}-{version}.dist-info"
        info.mkdir()
        (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n")
        (info / "entry_points.txt").write_text(f"[topend]\n{name} = {name}_parts.hooks\n")
        monkeypatch.syspath_prepend(site)
        for module in [one for one in sys.modules if one.split(".")[0] == f"{name}_parts"]:
            del sys.modules[module]
        return site

    yield make
    for module in set(sys.modules) - before:
        if module.split(".")[0].endswith("_parts"):
            del sys.modules[module]
