"""Docstrings: every argument told, every kernel with an example, every example run."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
import subprocess
import sys
import warnings
from types import ModuleType
from typing import Any

import pytest

import topend
import topend.physics

MODULES = sorted(info.name for info in pkgutil.walk_packages(topend.__path__, "topend."))
PHYSICS = [importlib.import_module(info.name) for info in pkgutil.iter_modules(topend.physics.__path__, "topend.physics.")]
KERNELS = sorted(
    ((module, name) for module in PHYSICS for name in module.__all__ if hasattr(getattr(module, name, None), "raw") and name != "Kernel"),
    key=lambda pair: pair[1],
)


def by_name(module: ModuleType, name: str) -> Any:
    """The kernel, or the kernels' module, that a docstring of `module` speaks of as `name`."""
    head, _, tail = name.rpartition(".")
    for home in (module, *PHYSICS):
        short = home.__name__.rsplit(".", 1)[-1]
        if head in ("", short) and hasattr(getattr(home, tail, None), "raw"):
            return getattr(home, tail)
        if name == short:
            return home
    return None


def told_in(module: ModuleType, text: str, seen: frozenset[str] = frozenset()) -> set[str]:
    """Names in backticks in `text`, and in the docstrings it refers to with the word `as`."""
    names = set(re.findall(r"`([\w.]+)`", text))
    for other in set(re.findall(r"\bas (?:in |that of )?`([\w.]+)`", text)) - seen:
        found = by_name(module, other)
        if found is not None:
            names |= told_in(sys.modules[found.__module__] if callable(found) else found, found.__doc__ or "", seen | {other})
    return names


@pytest.mark.parametrize(("module", "name"), KERNELS, ids=[name for _, name in KERNELS])
def test_every_argument_is_told(module: ModuleType, name: str) -> None:
    kernel = getattr(module, name)
    doc = inspect.getdoc(kernel) or ""
    arguments = list(inspect.signature(kernel).parameters)
    told = told_in(module, doc) | told_in(module, module.__doc__ or "")
    assert [argument for argument in arguments if argument not in told] == []


@pytest.mark.parametrize(("module", "name"), KERNELS, ids=[name for _, name in KERNELS])
def test_docstring_form(module: ModuleType, name: str) -> None:
    """First what is returned, with its unit; a runnable example that calls this very kernel."""
    kernel = getattr(module, name)
    doc = inspect.getdoc(kernel) or ""
    first = doc.split("\n\n")[0]
    dimensionless = name.endswith(("ratio", "ratio_from_drop"))
    assert "[" in first or dimensionless, "the first paragraph gives the unit of what is returned"
    examples = doctest.DocTestParser().get_examples(doc)
    assert any(f"{name}(" in example.source for example in examples)
    for parameter in inspect.signature(kernel).parameters.values():
        assert parameter.kind is inspect.Parameter.KEYWORD_ONLY


def printed_by(doc: str) -> str:
    """What goes wrong where the examples of `doc` run as somebody types them: with nothing imported but what they import."""
    told: list[str] = []
    test = doctest.DocTestParser().get_doctest(inspect.cleandoc(doc), {}, "as typed", None, 0)
    doctest.DocTestRunner(verbose=False, optionflags=doctest.NORMALIZE_WHITESPACE).run(test, out=told.append)
    return "".join(told)


@pytest.mark.parametrize("name", sorted({*topend.__all__} - {"__version__", "measure"}))
def test_a_public_name_has_an_example_that_runs_as_typed(name: str) -> None:
    """`help(te.NAME)` is all that some have: its example imports what it needs, or says which function's example shows one."""
    named = getattr(topend, name)
    doc = named.__doc__
    assert not isinstance(named, type) or "__doc__" in vars(named), "a docstring that it has from its base"
    if ">>>" in doc:
        assert "import topend as te" in doc
        assert printed_by(doc) == ""
    else:
        made_by = re.search(r"`te\.(\w+)`", doc)
        assert made_by, "no example, and nothing that says what makes one"
        assert f"te.{made_by[1]}(" in getattr(topend, made_by[1]).__doc__


def test_help_of_a_part_tells_each_field() -> None:
    for name in topend.__all__:
        part = getattr(topend, name)
        if isinstance(part, type) and issubclass(part, topend.Part) and part is not topend.Part:
            listed = re.findall(r"^(\w+) : (.+)$", inspect.getdoc(part).partition("Parameters\n---")[2], flags=re.MULTILINE)
            assert {field for field, _ in listed} == set(part.model_fields), name
            assert [*inspect.signature(part).parameters] == [field for field, _ in listed], name
            assert not re.search(r"Annotated|QuantityField|Optional", inspect.getdoc(part)), name
    told = inspect.getdoc(topend.Port)
    assert "\ntop : length in mm, more than 0 mm, needed\n    From the deck down to the port's upper edge, without its chamfer.\n" in told
    assert '\nkind : "exhaust", "transfer" or "inlet", needed\n' in told


def test_dir_lists_what_is_there_to_be_used() -> None:
    assert dir(topend) == topend.__all__
    assert dir(topend.measure) == sorted(topend.measure.__all__)
    crank = topend.Crank(stroke="40 mm")
    assert {"stroke", "replace", "model_dump_json"} <= set(dir(crank))
    assert not {"parse_obj", "schema", "json", "dict"} & set(dir(crank))


def test_a_name_without_its_import_is_found() -> None:
    assert "NameError" in printed_by(">>> Crank()")


def test_names_of_a_module_are_its_kernels() -> None:
    """What a module of physics defines as a kernel is public, and the other way round."""
    for module in PHYSICS:
        made = {name for name, value in vars(module).items() if hasattr(value, "raw") and value.__module__ == module.__name__}
        assert made <= set(module.__all__), module.__name__


@pytest.mark.parametrize("name", MODULES)
def test_examples_run(name: str) -> None:
    if name.endswith("__main__"):
        pytest.skip("runs the command line")
    module = importlib.import_module(name)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        failed, _ = doctest.testmod(module, optionflags=doctest.NORMALIZE_WHITESPACE, raise_on_error=False)
    assert failed == 0


def test_examples_of_the_face_run() -> None:
    failed, tried = doctest.testmod(topend)
    assert failed == 0
    assert tried > 0


@pytest.mark.parametrize("name", MODULES)
def test_public_names_are_documented(name: str) -> None:
    module = importlib.import_module(name)
    assert module.__doc__
    for public in getattr(module, "__all__", ()):
        assert hasattr(module, public), f"{name} lists {public}, which it does not have: importing * from it fails"
        value = getattr(module, public)
        if inspect.isfunction(value) or (inspect.isclass(value) and value.__module__ == name):
            assert inspect.getdoc(value), f"{name}.{public}"


# --- what importing costs -------------------------------------------------------------------------------------------------


def run(code: str) -> str:
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_import_loads_none_of_the_five() -> None:
    code = "import sys, topend; print(sorted({'numpy', 'scipy', 'pint', 'pydantic', 'pluggy'} & set(sys.modules)))"
    assert run(code).strip() == "[]"


def test_functions_stay_callable_whatever_is_imported() -> None:
    """`topend.uncertainty` is a module and a function; the function keeps the name, before and after, in every order."""
    code = f"""
import importlib, topend as te
names = {MODULES!r}
for name in [*reversed(names), *names]:
    if not name.endswith("__main__"):
        importlib.import_module(name)
import topend.uncertainty, topend.evaluation
from topend import uncertainty, evaluate
assert callable(te.evaluate) and callable(te.uncertainty) and callable(te.findings) and callable(te.fit_gaskets)
assert uncertainty is te.uncertainty and evaluate is te.evaluate
assert set(te.__all__) <= set(dir(te))
for name in te.__all__:
    getattr(te, name)
print("fine")
"""
    assert run(code).strip() == "fine"


def test_no_such_name() -> None:
    with pytest.raises(AttributeError, match="module 'topend' has no attribute 'evalute'"):
        topend.evalute  # noqa: B018
