"""The house: what stands at the top of the repository, who may import whom, and what `import topend` loads."""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
import sysconfig
import tomllib
from pathlib import Path

import pytest

import topend

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "topend"
MODULES = sorted(PACKAGE.rglob("*.py"))


def run(*command: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=cwd, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL, timeout=120)


# --- the top level ---------------------------------------------------------------------------------------------------


def tracked_top_level() -> set[str]:
    """The visible names at the top; of a git checkout those that git knows, so that a build's leavings do not count."""
    if (ROOT / ".git").exists() and shutil.which("git"):
        listed = run("git", "ls-files", "--cached", "--others", "--exclude-standard")
        if listed.returncode == 0:
            return {name.split("/")[0] for name in listed.stdout.splitlines() if not name.startswith(".")}
    return {path.name for path in ROOT.iterdir() if not path.name.startswith(".") and path.suffix != ".egg-info"}


def test_the_visible_top_level_holds_eight_names_and_no_more() -> None:
    names = {"README.md", "DEVELOPERS.md", "pyproject.toml", "topend", "datapacks", "benchmarks", "tests", "docs"}
    assert tracked_top_level() == names


def test_no_file_is_named_for_having_no_subject() -> None:
    without_subject = {"utils", "util", "helpers", "helper", "common", "misc"}
    assert [path for folder in (PACKAGE, ROOT / "tests") for path in folder.rglob("*") if path.stem in without_subject] == []


# --- the readme's two commands ---------------------------------------------------------------------------------------


def shell_blocks() -> list[str]:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    return [block.rstrip("\n") for block in re.findall(r"^```sh\n(.*?)^```$", text, flags=re.MULTILINE | re.DOTALL)]


def test_the_readme_opens_with_a_paragraph_and_two_commands_of_one_line() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    # no other fence comes before them, whatever it is marked with
    assert re.findall(r"^```(\w*)$", text, flags=re.MULTILINE)[:4] == ["sh", "", "sh", ""]
    for command in shell_blocks()[:2]:
        assert command.strip()
        assert "\n" not in command
    before = text.split("```", 1)[0].strip().split("\n\n")
    assert before[0].startswith("# ")
    assert not before[1].startswith(("#", "-", "```"))


def test_both_commands_set_up_what_they_need() -> None:
    first, second = shell_blocks()[:2]
    for command in (first, second):
        assert command.startswith("python3 -m venv .venv && ")
        assert "install" in command
    assert "topend card docs/examples/" in first
    assert "topend fit docs/examples/" in first
    assert "pytest" in second


def test_ci_runs_the_second_command_of_the_readme(tmp_path: Path) -> None:
    # the extraction as .ci/run has it, on the readme as it is, and on one whose line is another
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    found = re.search(r"""^line="\$\((awk .*) README\.md\)"$""", script, flags=re.MULTILINE)
    assert found is not None
    assert re.search(r"""^bash .*-c "\$line"$""", script, flags=re.MULTILINE)
    copy = tmp_path / "README.md"
    copy.write_text((ROOT / "README.md").read_text(encoding="utf-8"), encoding="utf-8")
    assert run("bash", "-c", f"{found[1]} README.md", cwd=tmp_path).stdout.rstrip("\n") == shell_blocks()[1]
    copy.write_text("# x\n\n```sh\none\n```\n\n```python\nno\n```\n\n```sh\ntwo && three\n```\n", encoding="utf-8")
    assert run("bash", "-c", f"{found[1]} README.md", cwd=tmp_path).stdout == "two && three\n"


def test_ci_run_is_executable() -> None:
    assert (ROOT / ".ci" / "run").stat().st_mode & 0o111


# --- what the package asks for ---------------------------------------------------------------------------------------


def test_the_core_depends_on_five_packages_and_nothing_else() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert {re.match(r"[\w-]+", text)[0] for text in project["dependencies"]} == CORE  # type: ignore[index]
    extras = project["optional-dependencies"]
    assert set(extras) == {"cli", "cluster", "plot", "report", "draw", "cad", "test", "bench", "all"}
    # `all` takes every extra but bench
    taken = re.fullmatch(r"topend\[(.*)\]", extras["all"][0])
    assert taken is not None
    assert set(taken[1].split(",")) == set(extras) - {"bench", "all"}


def test_the_licence_is_mit_and_its_text_is_in_docs() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["license"] == "MIT"
    assert "MIT License" in (ROOT / project["license-files"][0]).read_text(encoding="utf-8")


CORE = {"numpy", "scipy", "pint", "pydantic", "pluggy"}


@pytest.mark.parametrize("statement", ["import topend", "import topend; dir(topend)", "import topend.errors, topend.quantities"])
def test_importing_loads_none_of_the_dependencies(statement: str) -> None:
    # by name of module, not by time: a fresh interpreter, and what it holds afterwards
    code = f"{statement}\nimport sys\nprint(*sorted({{name.split('.')[0] for name in sys.modules}}))"
    loaded = run(sys.executable, "-c", code)
    assert loaded.returncode == 0, loaded.stderr
    names = set(loaded.stdout.split())
    assert "topend" in names
    assert not names & (CORE | {"pydantic_core", "typer", "rich", "jinja2", "markupsafe", "matplotlib"})


def test_every_public_name_arrives_and_a_name_nobody_has_is_told() -> None:
    for name in topend.__all__:
        assert getattr(topend, name) is not None
    with pytest.raises(AttributeError, match="module 'topend' has no attribute 'evalute'"):
        topend.evalute  # noqa: B018


def test_a_function_keeps_its_name_whatever_submodules_are_imported() -> None:
    code = (
        "import topend, importlib\n"
        "for name in ('evaluation', 'uncertainty', 'checks', 'solve', 'units', 'assembly'): importlib.import_module(f'topend.{name}')\n"
        "assert callable(topend.evaluate) and callable(topend.uncertainty) and callable(topend.fit_gaskets)\n"
        "import topend.uncertainty\n"
        "assert callable(topend.uncertainty)\n"
    )
    done = run(sys.executable, "-c", code)
    assert done.returncode == 0, done.stderr


# --- types, as another program's checker sees them ---------------------------------------------------------------------


def test_types_reach_a_program_that_follows_the_page(tmp_path: Path) -> None:
    """mypy, strict, with pydantic's plugin: what the page writes passes, and what nobody has is found."""
    page = (ROOT / "docs" / "from-another-program.md").read_text(encoding="utf-8")
    written = "\n".join(re.findall(r"^```python\n(?!>>>)(.*?)^```$", page, flags=re.MULTILINE | re.DOTALL))
    assert "te.TopEnd(" in written
    (tmp_path / "mypy.ini").write_text(re.search(r"^```\n(\[mypy\].*?)^```$", page, flags=re.MULTILINE | re.DOTALL)[1] + "strict = True\n")
    (tmp_path / "good.py").write_text(f"{written}\ncount: int = len(study)\nshown: float = te.evaluate(top).shown('squish_min')\n")
    (tmp_path / "bad.py").write_text(
        "import topend as te\nte.evalute\nte.Crank(stroke='44 mm', strok='44 mm')\nte.Crank(stroke='44 mm').rod\n"
    )
    told = subprocess.run(
        [sys.executable, "-m", "mypy", "--config-file", "mypy.ini", "--follow-imports", "silent", "good.py", "bad.py"],
        cwd=tmp_path,
        env={**os.environ, "MYPYPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
        timeout=300,
    ).stdout
    assert re.findall(r"^(\w+\.py:\d+)", told, flags=re.MULTILINE) == ["bad.py:2", "bad.py:3", "bad.py:4"], told


def test_an_editable_install_is_a_path() -> None:
    """A hook on imports, which setuptools makes of other layouts, is nothing that a type checker follows."""
    made = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]
    assert made["package-dir"] == {"": "."}


# --- who may import whom ---------------------------------------------------------------------------------------------


def lint_imports(cwd: Path) -> subprocess.CompletedProcess[str]:
    command = shutil.which("lint-imports", path=sysconfig.get_path("scripts"))
    assert command is not None, "import-linter is part of the extra `test`"
    return run(command, "--no-cache", "--no-logo", cwd=cwd)


def test_the_layering_holds() -> None:
    done = lint_imports(ROOT)
    assert done.returncode == 0, done.stdout + done.stderr


def test_every_room_has_its_place_in_the_layering() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["importlinter"]["contracts"]
    placed = set(re.findall(r"topend\.(\w+)", " ".join(layer for made in contracts for layer in made.get("layers", ()))))
    assert {path.stem for path in PACKAGE.iterdir() if path.suffix == ".py" or path.is_dir()} - {"__init__", "__pycache__"} <= placed


@pytest.mark.parametrize(
    ("module", "statement", "contract"),
    [
        ("parts/crank.py", "import topend.assembly", "a room uses the rooms below it"),
        ("evaluation.py", "from topend import uncertainty", "a room uses the rooms below it"),
        ("physics/ports.py", "import topend.units", "physics imports numpy and scipy alone"),
        ("physics/ports.py", "import pluggy", "physics imports numpy and scipy alone"),
        ("parts/head.py", "import pint", "units alone imports pint"),
        ("checks/gap.py", "import pluggy", "packs alone imports pluggy"),
        ("assembly/top_end.py", "import topend.packs", "job stands above packs and assembly"),
        ("quantities/outputs.py", "import topend.physics", "units, quantities and errors do without physics"),
        ("evaluation.py", "import rich", "the command line alone imports typer and rich"),
        ("study/studies.py", "import pyarrow", "studies alone import pyarrow and dask"),
    ],
)
def test_a_wrong_import_is_found(module: str, statement: str, contract: str, tmp_path: Path) -> None:
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    shutil.copytree(PACKAGE, tmp_path / "topend", ignore=shutil.ignore_patterns("__pycache__"))
    path = tmp_path / "topend" / module
    path.write_text(f"{path.read_text(encoding='utf-8')}\n{statement}\n", encoding="utf-8")
    done = lint_imports(tmp_path)
    assert done.returncode != 0
    assert re.search(rf"{contract}.* BROKEN", done.stdout), done.stdout


def imported_roots(path: Path) -> set[str]:
    """First names of all that a file imports, wherever in the file."""
    found: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: relative imports hide where a name is from"
            found.add(str(node.module).split(".")[0])
    return found


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_a_module_imports_only_what_the_house_knows(path: Path) -> None:
    # the contracts name what is forbidden; this names what is allowed, so that a sixth dependency does not slip in
    allowed = {"numpy", "scipy"} if "physics" in path.parts else {*CORE, "pydantic_core"}
    if "cli" in path.parts:
        allowed |= {"typer", "rich"}
    if path == PACKAGE / "packs" / "testing.py":
        allowed |= {"pytest"}
    if path.parent.name == "pictures":
        allowed |= {"matplotlib"}
    if path.parent.name == "drawings":
        allowed |= {"png.py": {"matplotlib"}, "dxf.py": {"ezdxf"}}.get(path.name, set())
    if path.parent.name == "html":
        allowed |= {"jinja2", "markupsafe"}
    allowed |= {"study/table.py": {"pyarrow"}, "study/folder.py": {"pyarrow"}, "study/cluster.py": {"distributed"}}.get(
        path.relative_to(PACKAGE).as_posix(), set()
    )
    others = imported_roots(path) - set(sys.stdlib_module_names) - {"topend"}
    assert others <= allowed


@pytest.mark.parametrize("path", MODULES, ids=lambda path: path.relative_to(PACKAGE).as_posix())
def test_a_module_takes_names_from_their_room_and_not_from_the_public_face(path: Path) -> None:
    # `from topend import evaluate`, or `te.evaluate`, would arrive unseen by the layering, through the face's __getattr__
    public = set(topend.__all__) - {"__version__"}
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module == "topend":
            assert not {alias.name for alias in node.names} & public
        elif isinstance(node, ast.Import):
            assert "topend" not in {alias.name for alias in node.names}
