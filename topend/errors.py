"""Every exception of the library, and the one place that finds the nearest names.

All of them derive from `TopendError` and from the built-in that fits, so that a caller may catch either.
"""

from __future__ import annotations

import difflib
import numbers
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, Final

__all__ = [
    "ArgumentError",
    "AssemblyError",
    "FitError",
    "JobError",
    "MissingExtraError",
    "MissingInputError",
    "PackError",
    "PartError",
    "Problem",
    "ReadingsError",
    "StudyError",
    "TopendError",
    "UnknownNameError",
    "fault_told",
    "nearest",
]

_CONTROLS: Final = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069]")
_UNTOLD: Final = re.compile("[\x00-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
_LONGEST_FAULT: Final = 200
_LONGEST_NAME: Final = 200
#: A name so long may be the beginning of another.
_SHORTEST_BEGINNING: Final = 3
_TAIL: Final = re.compile(r".*[./]")


def fault_told(fault: BaseException) -> str:
    """What went wrong in code that is not ours, in one line: the kind of exception, and what it says.

    >>> fault_told(ValueError("no number," + chr(10) + "  but a word"))
    'ValueError: no number, but a word'
    """
    try:
        text = " ".join(str(fault).split())[:_LONGEST_FAULT]
    except Exception:
        text = ""
    return f"{type(fault).__name__}: {text}" if text else type(fault).__name__


def untold(text: str) -> str:
    """The first sign in `text` that no line of print has, such as one that steers a terminal, as ``U+001B``; "" where there is none.

    >>> untold("red" + chr(27)), untold("0.6 mm")
    ('U+001B', '')
    """
    found = _UNTOLD.search(text)
    return f"U+{ord(found.group()):04X}" if found else ""


def nearest(name: str, names: Iterable[str], *, count: int = 3) -> list[str]:
    """The names most like `name`, best first: at most `count`, empty when none is near.

    >>> nearest("squish_egde", ["squish_edge", "squish_mean", "blowdown"])
    ['squish_edge', 'squish_mean']
    >>> nearest("rod", ["stroke", "rod_length", "rod_mass"])
    ['rod_length', 'rod_mass']
    """
    if len(name) > _LONGEST_NAME:
        # comparing takes time with the square of the length, and nobody mistypes so much
        return []
    pool = list(dict.fromkeys(names))
    # a forgotten or wrong prefix first: "stroke" for "crank.stroke", "NAME" for "pack/NAME"
    tail = _TAIL.sub("", name)
    found = [full for full in pool if _TAIL.sub("", full) == tail]
    found.sort(key=lambda full: -difflib.SequenceMatcher(None, full, name).ratio())
    found += [full for full in difflib.get_close_matches(name, pool, n=count, cutoff=0.6) if full not in found]
    if len(name) >= _SHORTEST_BEGINNING:
        # last the names of which it is the beginning: "rod" for "rod_length"
        found += [full for full in pool if full not in found and re.match(rf"{re.escape(name)}[_-]", _TAIL.sub("", full))]
    return found[:count]


def did_you_mean(name: str, names: Iterable[str]) -> str:
    """The end of a message about an unknown name: ``; nearest: a, b``, or nothing.

    >>> did_you_mean("bor", ["bore", "stroke"])
    '; nearest: bore'
    """
    found = nearest(name, names)
    return f"; nearest: {', '.join(found)}" if found else ""


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: where it stands, and what is said of it, as a sentence whose subject is `where`.

    `file` is given where the error they belong to speaks of several files.
    """

    where: str
    message: str
    line: int | None = None
    file: str | None = None

    def __str__(self) -> str:
        places = [*([self.file] if self.file else []), *([f"line {self.line}"] if self.line is not None else [])]
        place = f"{', '.join(places)}: " if places else ""
        return f"{place}{self.where} {self.message}" if self.where else f"{place}{self.message}"


def problems_text(title: str, problems: Sequence[Problem]) -> str:
    """One problem on one line after its title, several as a list under it."""
    if len(problems) == 1:
        return f"{title}: {problems[0]}" if title else str(problems[0])
    return "\n".join([f"{title}: {len(problems)} problems", *(f"  - {p}" for p in problems)])


class TopendError(Exception):
    """The root of every exception that topend raises on purpose: catch it, and no mistake in what was given gets past.

    >>> import topend as te
    >>> try:
    ...     te.Crank(stroke=39.3)
    ... except te.TopendError as error:
    ...     print(type(error).__name__, isinstance(error, ValueError))
    PartError True
    """

    def __reduce__(self) -> tuple[Any, ...]:
        # as it was, whatever its __init__ takes: workers send errors back
        return _raised, (type(self), self.args, dict(self.__dict__))


def _raised(kind: type[TopendError], args: tuple[Any, ...], state: dict[str, Any]) -> TopendError:
    error = kind.__new__(kind, *args)
    error.__dict__.update(state)
    return error


class PartError(TopendError, ValueError):
    """A part, or a list of parts, that cannot be what it was given to be.

    `problems` holds all that was found, not only the first.

    >>> import topend as te
    >>> try:
    ...     te.Crank(stroke=39.3)
    ... except te.PartError as error:
    ...     print(error.problems[0].where, "|", error.problems[0].message[:33])
    stroke | needs a length, such as "39.3 mm"
    """

    def __init__(self, title: str, problems: Sequence[Problem]) -> None:
        self.title = title
        self.problems = tuple(problems)
        super().__init__(problems_text(title, self.problems))


class AssemblyError(TopendError, ValueError):
    """Parts that do not go together. `reason` is the status name, as in a study's `status` column.

    >>> import topend as te
    >>> try:
    ...     te.TopEnd(head=te.SpigotHead(recess_offset="1 mm"))
    ... except te.AssemblyError as error:
    ...     print(error.reason)
    offset_against_kind
    """

    def __init__(self, reason: str, message: str) -> None:
        self.reason = reason
        super().__init__(message)


class _FileError(TopendError, ValueError):
    """Something wrong in a file, or several things in one file."""

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        self.file = file
        self.problems = tuple(problems)
        # names of files and keys are other people's, and a traceback prints them as they are
        super().__init__(_CONTROLS.sub(lambda found: f"\\x{ord(found.group()):02x}", problems_text(file, self.problems)))


class PackError(_FileError):
    """A data pack that cannot be used: `file`, and `problems` with the key and the line of each.

    >>> import topend as te
    >>> try:
    ...     te.Catalogue.load("nowhere")
    ... except te.PackError as error:
    ...     print(error.file)
    nowhere
    """


class JobError(_FileError):
    """A job file that cannot be used: `file`, and `problems` with the key and the line of each.

    >>> import topend as te
    >>> try:
    ...     te.load_job("nowhere.toml")
    ... except te.JobError as error:
    ...     print(error.file, error.problems[0].message)
    nowhere.toml is not there
    """


class ReadingsError(_FileError):
    """A file of readings that cannot be used: `file`, and `problems` with the key and the line of each.

    >>> import topend as te
    >>> try:
    ...     te.load_readings("nowhere.toml")
    ... except te.ReadingsError as error:
    ...     print(error.file, error.problems[0].message)
    nowhere.toml is not there
    """


class MissingInputError(TopendError, LookupError, AttributeError):
    """An output that cannot be had from what is known. `needs` lists the paths that would give it.

    >>> import topend as te
    >>> try:
    ...     te.evaluate(te.TopEnd(crank=te.Crank(stroke="44 mm")), ["swept_volume"])
    ... except te.MissingInputError as error:
    ...     print(error.output, error.needs)
    swept_volume ('cylinder.bore',)
    """

    def __init__(self, output: str, needs: Sequence[str], message: str) -> None:
        self.output = output
        self.needs = tuple(needs)
        super().__init__(message)


class MissingExtraError(TopendError, ImportError):
    """A package that an extra brings is not installed. `extra` is the extra's name.

    >>> import topend as te
    >>> str(te.MissingExtraError("a drawing", "mill", "draw", "no module 'mill'"))
    "a drawing needs mill, of the extra 'draw'; install it with: pip install 'topend[draw]' (no module 'mill')"
    """

    def __init__(self, what: str, package: str, extra: str, error: object) -> None:
        self.extra = extra
        verb = "need" if what.endswith("s") else "needs"
        super().__init__(f"{what} {verb} {package}, of the extra {extra!r}; install it with: pip install 'topend[{extra}]' ({error})")


class UnknownNameError(TopendError, LookupError, AttributeError):
    """A name nobody has. `what` says of what it would be, `nearest` lists those most like it, `searched` says where was looked.

    >>> import topend as te
    >>> try:
    ...     te.evaluate(te.TopEnd(), ["squish_mn"])
    ... except te.UnknownNameError as error:
    ...     print(error.unknown, error.nearest[0])
    squish_mn squish_min
    """

    def __init__(self, name: str, known: Iterable[str], *, what: str, searched: str) -> None:
        known = list(known)
        self.unknown = name
        self.what = what
        self.nearest = tuple(nearest(name, known))
        self.searched = searched
        super().__init__(f"no {what} is called {name!r} in {searched}{did_you_mean(name, known)}")


class ArgumentError(TopendError, TypeError):
    """A function was given something of another kind than it takes: a part for a top end, a text for a list of names.

    >>> import topend as te
    >>> try:
    ...     te.evaluate("engine.toml")
    ... except te.ArgumentError as error:
    ...     print(error)
    evaluate: top must be a TopEnd; got 'engine.toml', a str; that of a job file is load_job(file).top
    """


class FitError(TopendError, ValueError):
    """A question to a solver that cannot be asked: empty drawer, targets that exclude each other, ...

    >>> import topend as te
    >>> try:
    ...     te.fit_gaskets(te.TopEnd(), te.GasketSet(items=[]), squish_edge=("0.9 mm", "0.1 mm"))
    ... except te.FitError as error:
    ...     print(error)
    the drawer is empty: stock has no gasket of any kind
    """


class DesignError(TopendError, ValueError):
    """A head that cannot be designed as it was asked: no half-section, two targets for one dimension, limits that do not rise, ...

    >>> import topend as te
    >>> try:
    ...     te.design_head(te.TopEnd(head=te.FlushHead()), compression_ratio=12.0)
    ... except te.DesignError as error:
    ...     print(str(error)[:41])
    the head has no half-section to design; g
    """


class StudyError(TopendError, ValueError):
    """A study that cannot be run as it was asked: an axis without effect, a folder that holds another study, ...

    >>> import topend as te
    >>> try:
    ...     te.Study(te.TopEnd()).vary("cylinder.bore", [40, 41])
    ... except te.StudyError as error:
    ...     print(str(error)[:36])
    cylinder.bore value 0 needs a length
    """


def listed(what: str, names: object, example: str) -> None:
    """Raise `ArgumentError` where one text stands for a list of names: it would be read letter by letter.

    >>> listed("outputs", ["squish_edge"], "squish_edge")
    """
    if isinstance(names, (str, bytes)):
        raise ArgumentError(f'{what} must be a list of names, such as ["{example}"]; got the text {names!r}')


def must_count(function: str, argument: str, given: object, least: int = 1) -> None:
    """Raise `ArgumentError` unless `given` is a whole number, `least` or more.

    >>> must_count("uncertainty", "draws", -1)
    Traceback (most recent call last):
    topend.errors.ArgumentError: uncertainty: draws must be a whole number from 1; got -1
    """
    if not isinstance(given, numbers.Integral) or isinstance(given, bool) or int(given) < least:
        raise ArgumentError(f"{function}: {argument} must be a whole number from {least}; got {given!r}")


#: What to give where something near it was given, by what is wanted and what came.
_INSTEAD: Final = {
    ("TopEnd", "str"): "; that of a job file is load_job(file).top",
    ("TopEnd", "PosixPath"): "; that of a job file is load_job(file).top",
    ("TopEnd", "WindowsPath"): "; that of a job file is load_job(file).top",
    ("TopEnd", "Job"): "; give it job.top",
    ("TopEnd", "Result"): "; give it result.top",
    ("GasketSet", "Gasket"): '; make one, as GasketSet(items=[{"gasket": gasket, "count": 2}])',
    ("GasketSet", "list"): '; make one, as GasketSet(items=[{"gasket": gasket, "count": 2}])',
}


def some(given: object, what: str) -> str | None:
    """What is wrong where something else than several was given, as the end of a sentence; None where nothing is.

    >>> some(["a", "b"], "heads"), some("a", "heads")
    (None, "must be a list of heads; got 'a', a str")
    """
    if isinstance(given, Sequence) and not isinstance(given, (str, bytes)):
        return None
    kind = type(given).__name__
    if isinstance(given, (str, bytes, int, float, type(None))):
        return f"must be a list of {what}; got {given!r}, a {kind}"
    return f"must be a list of {what}; got one {kind}, so put it in square brackets"


def must_be(function: str, argument: str, given: object, wanted: Any, hint: str = "") -> None:
    """Raise `ArgumentError` unless `given` is a `wanted`.

    >>> must_be("evaluate", "top", 3, str)
    Traceback (most recent call last):
    topend.errors.ArgumentError: evaluate: top must be a str; got 3, an int
    """
    if not isinstance(given, wanted):
        kind = type(given).__name__
        what = repr(given) if isinstance(given, (str, int, float, type(None))) else f"a {kind}"
        article = "an" if kind[:1].lower() in "aeiou" else "a"
        shown = f"{what}, {article} {kind}" if isinstance(given, (str, int, float)) else what
        hint = hint or _INSTEAD.get((wanted.__name__, kind), "")
        raise ArgumentError(f"{function}: {argument} must be a {wanted.__name__}; got {shown}{hint}")
