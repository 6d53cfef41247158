"""What a pack promises, checked: the conformance suite, as a function and as a pytest plugin.

Under pytest, ``-p topend.packs.testing`` collects every pack.toml it meets, and each check and each measured case of that pack
is a test. A pack's own pyproject.toml says so once::

    [tool.pytest.ini_options]
    addopts = ["-p", "topend.packs.testing"]
    testpaths = ["src"]

A measured case is a job file in the pack's folder `checks`, with the parts named by id, the `source` it was measured at, and
a table ``[expect]`` of outputs with their values and tolerances. See docs/packs.md.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from topend.checks import findings
from topend.errors import JobError, MissingInputError, PackError, Problem, TopendError, did_you_mean
from topend.evaluation import Result, evaluate, evaluate_columns
from topend.job import read_job
from topend.packs.catalogue import Catalogue
from topend.packs.folder import MANIFEST, Pack, open_folder
from topend.packs.installed import installed_packs
from topend.packs.toml_file import Allowance, TomlFile, read_toml
from topend.quantities import OUTPUTS, ExtraOutput, Output
from topend.units import StatedValueError, figure_si, from_si

if TYPE_CHECKING:
    import pytest

__all__ = ["Check", "Unkept", "conformance", "pack_in"]

_UNREAD: Final = "cannot be told: the pack does not read"
_EXPECTED: Final = ("value", "tolerance", "source")


class Unkept(TopendError, AssertionError):
    """A promise that a pack does not keep; the message says which, and by how much."""


@dataclass(frozen=True)
class Check:
    """One thing that is checked of a pack: its name, and what raises `PackError` or `Unkept` where it does not hold."""

    name: str
    run: Callable[[], None]

    def trouble(self) -> str | None:
        """What is wrong, or None."""
        try:
            self.run()
        except TopendError as error:
            return str(error)
        return None


def pack_in(folder: str | os.PathLike[str]) -> Pack:
    """The pack in `folder`, with its code where a distribution that is installed from this very folder brings it.

    Raises `PackError` where its manifest cannot be used.
    """
    path = Path(folder)
    for found in installed_packs():
        if isinstance(found, Pack) and os.path.realpath(found.folder) == os.path.realpath(path):
            return found
    return open_folder(path)


def conformance(pack: Pack) -> Iterator[Check]:
    """The checks of the conformance suite for `pack`, and one for each of its measured cases."""
    yield Check("reads", partial(_reads, pack))
    yield Check("says who made it and where its figures are from", partial(_provenance, pack))
    # told once: what rests on parts that cannot be read says so, and does not repeat why
    unread = pack.problem is not None
    yield Check("lists what it holds", partial(_raise, Unkept(_UNREAD)) if unread else partial(_lists, pack))
    yield Check("parts go through JSON and back", partial(_raise, Unkept(_UNREAD)) if unread else partial(_json, pack))
    yield Check("code runs and answers the hooks", partial(_code, pack))
    try:
        cases = pack.checks()
    except PackError as error:
        yield Check("checks/", partial(_raise, error))
        return
    for path in cases:
        yield Check(f"checks/{path.name}", partial(_raise, Unkept(_UNREAD)) if unread else partial(_case, pack, path))


def _raise(error: TopendError) -> None:
    raise error


def _reads(pack: Pack) -> None:
    if pack.problem is not None:
        raise pack.problem
    if not pack.parts:
        raise Unkept("the pack holds no parts")


def _provenance(pack: Pack) -> None:
    told = [finding.message for finding in pack.findings if finding.code == "pack_without_provenance"]
    if not pack.manifest.maintainers:
        told.append(f"pack {pack.id} names no maintainers")
    if told:
        raise Unkept("; ".join(told))


def _lists(pack: Pack) -> None:
    fresh = Pack(pack.folder, pack.manifest, found=pack.found, plugin=pack.plugin)
    listed, held = dict(fresh.names), {name: pack.names[name] for name in pack.parts}
    if listed != held:
        odd = sorted(set(listed.items()) ^ set(held.items()))
        raise Unkept(f"headings and parts differ: {', '.join(f'{kind} {name}' for name, kind in odd)}")


def _json(pack: Pack) -> None:
    for name, part in pack.parts.items():
        if type(part).model_validate_json(part.model_dump_json()) != part:
            raise Unkept(f"{pack.id}/{name} is not what it was after JSON")  # pragma: no cover - a defect of the library's


def _code(pack: Pack) -> None:
    if pack.plugin is None:
        if pack.manifest.built:
            raise Unkept(
                f"{MANIFEST} lists built parts, but no installed distribution brings this pack's code; install it: pip install -e ."
            )
        return
    pack.plugin.parts()
    pack.plugin.outputs()
    pack.plugin.findings()
    pack.plugin.readers()


# --- measured cases --------------------------------------------------------------------------------------------------


def _case(pack: Pack, path: Path) -> None:
    """One measured case: what it expects, against what `evaluate` gives."""
    catalogue = Catalogue([pack])
    extra = catalogue.extra_outputs
    file = read_toml(path, PackError, Allowance())
    problems = [
        file.problem(key, f"does not belong to a measured case; it takes parts of {pack.id} alone")
        for key in ("packs",)
        if key in file.table
    ]
    if not isinstance(file.table.get("source"), str):
        problems.append(Problem("source", "is missing: where and how it was measured, as text"))
    wanted = list(_expected(file, extra, problems))
    if problems:
        raise PackError(str(path), problems)
    job = {key: value for key, value in file.table.items() if key not in ("expect", "packs")}
    try:
        top = read_job(TomlFile(file.file, job, file.text), catalogue).top
    except JobError as error:
        raise PackError(error.file, error.problems) from None
    result = evaluate(top, extra=extra)
    findings(evaluate(top.with_findings(catalogue.extra_findings)))
    missed = [text for one in wanted if (text := one.missed(result)) is not None]
    if missed:
        raise Unkept(f"{path}: {'; '.join(missed)}")
    # in columns too: what its code does wrong with more rows than one raises
    names = [one.output.name for one in extra if one.output.name in result or one.output.name in file.table["expect"]]
    evaluate_columns(result.top.row.structure, {path: np.repeat(column, 3) for path, column in top.row.columns().items()}, names)


@dataclass(frozen=True)
class _Expected:
    output: Output
    value: float
    tolerance: float

    def missed(self, result: Result) -> str | None:
        name, unit = self.output.name, "" if self.output.unit == "–" else f" {self.output.unit}"
        if name in result.missing:
            return f"{name} cannot be had: it needs {', '.join(result.missing[name])}"
        if name not in result:
            # worked out only where it is named
            try:
                result = evaluate(result.top, [name])
            except MissingInputError as error:
                return str(error)
        got = result.shown(name)
        off = abs(got - self.value)
        # sums of decimals differ by less
        if off <= self.tolerance * (1 + 1e-9):
            return None
        return f"{name} comes out as {got:.4g}{unit}, {off:.2g}{unit} off {self.value:.4g}{unit} ± {self.tolerance:.2g}{unit}"


def _expected(file: TomlFile, extra: Iterable[ExtraOutput], problems: list[Problem]) -> Iterator[_Expected]:
    known = OUTPUTS | {one.output.name: one.output for one in extra}
    table = file.table.get("expect")
    if not isinstance(table, dict) or not table:
        problems.append(
            file.problem("expect", "must be a table of outputs, such as [expect] with squish_edge = { value = ..., tolerance = ... }")
        )
        return
    for name, written in table.items():
        where = f"expect.{name}"
        if name not in known:
            problems.append(file.problem(where, f"is not an output{did_you_mean(name, known)}"))
            continue
        if not isinstance(written, dict) or not {"value", "tolerance"} <= set(written) or set(written) - set(_EXPECTED):
            problems.append(file.problem(where, f"must have value and tolerance, and may have source; got {str(written)[:60]}"))
            continue
        value, tolerance = (_figure(file, where, key, written[key], known[name], problems) for key in ("value", "tolerance"))
        if tolerance is not None and not tolerance > 0.0:
            problems.append(file.problem(f"{where}.tolerance", "must be more than 0"))
        elif value is not None and tolerance is not None:
            yield _Expected(known[name], value, tolerance)


def _figure(file: TomlFile, where: str, key: str, written: Any, output: Output, problems: list[Problem]) -> float | None:
    try:
        return from_si(figure_si(written, output.unit), output.unit)
    except StatedValueError as error:
        problems.append(file.problem(f"{where}.{key}", str(error)))
        return None


# --- the pytest plugin -----------------------------------------------------------------------------------------------


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Collect the checks of every pack that pytest meets."""
    if file_path.name != MANIFEST:
        return None
    import pytest

    class CheckItem(pytest.Item):
        """One check of a pack as a test."""

        check: Check

        def runtest(self) -> None:
            self.check.run()

        def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: Any = None) -> Any:
            """What is wrong, without the way it was found."""
            return str(excinfo.value) if isinstance(excinfo.value, TopendError) else super().repr_failure(excinfo, style)

        def reportinfo(self) -> tuple[Path, int | None, str]:
            return self.path, None, self.name

    class PackFile(pytest.File):
        """The checks of one pack."""

        def collect(self) -> Iterator[pytest.Item]:
            try:
                checks = list(conformance(pack_in(self.path.parent)))
            except PackError as error:
                checks = [Check("reads", partial(_raise, error))]
            for check in checks:
                item = CheckItem.from_parent(self, name=check.name)
                item.check = check
                yield item

    return PackFile.from_parent(parent, path=file_path)
