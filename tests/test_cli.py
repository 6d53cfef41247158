"""The command line: what it prints, how it exits, and what it says of each mistake."""

from __future__ import annotations

import errno
import importlib
import importlib.metadata
import json
import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import topend
from topend import cli
from topend.quantities import INPUTS, OUTPUTS

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ROOT / "docs" / "examples" / "fell50.toml"
INLINE = ROOT / "docs" / "examples" / "inline.toml"
ENVIRONMENT = {"PATH": os.environ.get("PATH", ""), "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}


class Ran:
    """What one call came to."""

    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def topend_says(capsys: pytest.CaptureFixture[str]):
    """Run a command in this process."""

    def call(*arguments: object) -> Ran:
        code = cli.main([str(one) for one in arguments])
        heard = capsys.readouterr()
        return Ran(code, heard.out, heard.err)

    return call


@pytest.fixture
def refuses(topend_says):
    """Run a command that must be refused, with 2, one message and nothing else; gives the message without `topend: `."""

    def call(*arguments: object) -> str:
        ran = topend_says(*arguments)
        assert ran.code == 2
        assert ran.out == ""
        assert ran.err.startswith("topend: ")
        assert ran.err.endswith("\n")
        assert "Traceback" not in ran.err
        return ran.err.removeprefix("topend: ").removesuffix("\n")

    return call


@pytest.fixture
def job(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Write a job file, and be in its folder: messages then name it as it was named."""
    monkeypatch.chdir(tmp_path)

    def write(text: str, name: str = "job.toml") -> str:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return name

    return write


def command(*arguments: object, **options: object) -> subprocess.CompletedProcess[bytes]:
    """Run a command in a process of its own, its output piped."""
    return subprocess.run(
        [sys.executable, "-W", "error", "-c", "import sys; from topend.cli import main; sys.exit(main())", *map(str, arguments)],
        **{"capture_output": True, "cwd": ROOT, "env": ENVIRONMENT, "stdin": subprocess.DEVNULL, "timeout": 60, "check": False, **options},
    )


# --- what is printed -------------------------------------------------------------------------------------------------


def test_card_prints_the_job_and_the_same_as_json(topend_says) -> None:
    text, told = topend_says("card", INLINE), topend_says("card", INLINE, "--json")
    assert (text.code, text.err, told.code, told.err) == (0, "", 0, "")
    figures = json.loads(told.out)
    # the sample of the design page, section 7
    for name, shown in (("squish_min", "0.869 mm"), ("exhaust_duration", "187.5 deg"), ("compression_ratio", "12.32 ")):
        line = next(line for line in text.out.splitlines() if line.startswith(f"  {name} "))
        assert shown in line
        assert f"{figures[name]['value']:.{figures[name]['decimals']}f}" in line
    assert figures["file"] == str(INLINE)


def test_card_of_a_pack_names_the_pack(topend_says) -> None:
    ran = topend_says("card", EXAMPLE)
    assert ran.out.splitlines()[2].startswith("parts from fellside ")


def test_the_shallow_band_of_the_issue_is_warned_of(topend_says, job) -> None:
    text = INLINE.read_text(encoding="utf-8")
    changed = re.sub(r'angle = "9 deg"', 'angle = "4 deg"', text)
    assert changed != text
    ran = topend_says("card", job(changed))
    assert ran.code == 0
    assert "  ! least gap 0.299 mm at the band's inner edge, where the outer edge shows\n    0.950 mm: under 0.6 mm" in ran.out


def test_names_prints_every_name_and_the_same_as_json(topend_says) -> None:
    text, told = topend_says("names"), json.loads(topend_says("names", "--json").out)
    assert list(told) == [*OUTPUTS, *INPUTS]
    for name, row in told.items():
        assert re.search(rf"^  {re.escape(name)} +{re.escape(row['unit'])} ", text.out, flags=re.MULTILINE), name
    assert told["squish_edge"]["meaning"] == OUTPUTS["squish_edge"].meaning
    assert max(map(len, text.out.splitlines())) <= 80


def test_fit_answers_the_job_and_the_same_as_json(topend_says) -> None:
    text, told = topend_says("fit", EXAMPLE, "--best", 3), json.loads(topend_says("fit", EXAMPLE, "--best", 3, "--json").out)
    assert text.code == 0
    assert f"THE 3 BEST OF {told['feasible']} THAT FIT" in text.out
    assert f"  {told['considered']} combinations of head and gaskets considered" in text.out
    assert len(told["best"]) == 3
    first = told["best"][0]
    line = next(line for line in text.out.splitlines() if line.startswith("   1. "))
    for name in ("squish_min", "compression_ratio", "exhaust_duration"):
        assert f"{first['outputs'][name]['value']:.{first['outputs'][name]['decimals']}f}" in line.split()
    target = told["asked"]["targets"]["squish_min"]
    assert abs(first["outputs"]["squish_min"]["value"] - float(target["value"].split()[0])) <= float(target["tolerance"].split()[0])


def test_options_of_fit_add_to_the_file_and_replace_by_name(topend_says) -> None:
    options = ["--target", "squish_min=0.95 mm,0.1 mm", "--target", "squish_mean=1.0 mm, 0.3 mm", "--at-least", "blowdown=20 deg"]
    options += ["--at-most", "exhaust_duration=188 deg", "--least-gap", "0.7 mm"]
    asked = json.loads(topend_says("fit", EXAMPLE, "--json", *options).out)["asked"]
    assert asked == {
        "targets": {
            "squish_min": {"value": "0.95 mm", "tolerance": "0.1 mm"},
            "compression_ratio": {"value": 12.5, "tolerance": 0.4},
            "squish_mean": {"value": "1.0 mm", "tolerance": "0.3 mm"},
        },
        "at_least": {"blowdown": "20 deg"},
        "at_most": {"exhaust_duration": "188 deg"},
        "least_gap": "0.7 mm",
    }
    assert json.loads(topend_says("fit", EXAMPLE, "--json", "--least-gap", "none").out)["asked"]["least_gap"] is None


def test_that_nothing_fits_is_an_answer(topend_says) -> None:
    ran = topend_says("fit", EXAMPLE, "--target", "squish_min=4.0 mm,0.01 mm")
    assert (ran.code, ran.err) == (0, "")
    assert "\nNOTHING FITS\n  The nearest is\n" in ran.out


@pytest.mark.parametrize(
    ("arguments", "holds"), [(["--version"], f"topend {topend.__version__}\n"), ([], "Usage: topend"), (["--help"], "Usage: topend")]
)
def test_version_and_help_exit_with_0(topend_says, arguments: list[str], holds: str) -> None:
    ran = topend_says(*arguments)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.startswith(holds)


@pytest.mark.parametrize("name", ["card", "names", "fit"])
def test_the_help_of_each_command_shows_an_example(topend_says, name: str) -> None:
    ran = topend_says(name, "--help")
    assert f"Example: topend {name}" in ran.out
    assert "--json" in ran.out


# --- bad input -------------------------------------------------------------------------------------------------------


def test_a_missing_file(refuses, job) -> None:
    job("")
    assert refuses("card", "nowhere.toml") == "nowhere.toml: is not there"


def test_a_folder(refuses, job) -> None:
    job("")
    assert refuses("card", ".") == ".: is a folder, not a file"


def test_a_binary_file(refuses, job, tmp_path: Path) -> None:
    job("")
    (tmp_path / "photo.toml").write_bytes(b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
    message = refuses("card", "photo.toml")
    assert message.startswith("photo.toml: ")
    assert "\n" not in message


def test_a_file_that_may_not_be_read(refuses, job, monkeypatch: pytest.MonkeyPatch) -> None:
    name = job("format = 1")
    opened = Path.open

    def denied(path: Path, *arguments: object, **options: object) -> object:
        # as the system says it, which lets root read everything
        if path.name == name:
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES), str(path))
        return opened(path, *arguments, **options)

    monkeypatch.setattr(Path, "open", denied)
    assert refuses("card", name) == "job.toml: cannot be read: permission denied"


def test_a_bare_number(refuses, job) -> None:
    name = job("format = 1\n[cylinder]\nbore = 47.6\n")
    message = (
        'job.toml: line 3: cylinder.bore needs a length, such as "47.6 mm"; got the bare number 47.6. Units: mm, cm, m, um, µm, in, thou'
    )
    assert refuses("card", name) == message


def test_an_unknown_key(refuses, job) -> None:
    message = refuses("card", job('format = 1\n[cylinder]\nbor = "47.6 mm"\n'))
    assert message.startswith("job.toml: line 3: cylinder.bor is not a field of Cylinder; nearest: bore")


def test_an_unknown_part(refuses, job) -> None:
    message = refuses("card", job('format = 1\nhead = "fellside/nobody"\n'))
    assert message == (
        "job.toml: line 2: head is 'fellside/nobody', but this job has no packs to look in; "
        'name their folders, as in packs = ["../fellside"]'
    )


def test_a_part_that_no_pack_has(refuses, job) -> None:
    pack = (ROOT / "datapacks" / "fellside").as_posix()
    message = refuses("card", job(f'format = 1\npacks = ["{pack}"]\nhead = "fellside/rigg50-drop11"\n'))
    assert message.startswith("job.toml: line 3: head is 'fellside/rigg50-drop11', but no part of fellside ")
    assert "; nearest: fellside/rigg50-drop10" in message


def test_parts_that_do_not_go_together(refuses, job) -> None:
    text = 'format = 1\n[deck]\nclearance = "0.2 mm"\n[head]\nkind = "spigot"\nrecess_offset = "-1 mm"\n'
    message = refuses("card", job(text.replace("format = 1", 'format = 1\nhead_gaskets = [{role = "head", thickness = "0.3 mm"}]')))
    assert message == (
        "job.toml: crown and head touch at TDC at the squish band's outer edge: they overlap by 0.500 mm. "
        "Thicker gaskets, or a head that stands less proud"
    )


def test_all_problems_of_a_file_come_together(refuses, job) -> None:
    message = refuses("card", job('format = 1\n[cylinder]\nbore = 47.6\n[running]\ncrank_speed = "11 500 rpm"\n'))
    first, *rest = message.splitlines()
    assert first == "job.toml: 2 problems"
    assert [line[:12] for line in rest] == ["  - line 3: ", "  - line 5: "]


def test_a_fit_without_a_drawer(refuses, job) -> None:
    message = refuses("fit", job("format = 1\n"))
    assert message == "job.toml: has no [fit] table, so there is no drawer to choose from; see docs/job-files.md"


@pytest.mark.parametrize(
    ("option", "value", "message"),
    [
        (
            "--target",
            "squish_min",
            "--target needs a name, =, and a value, such as \"squish_min=0.90 mm,0.08 mm\"; got 'squish_min'",
        ),
        (
            "--target",
            "squish_min=0.9 mm",
            "--target squish_min needs a value and a tolerance with a comma between, such as \"squish_min=0.90 mm,0.08 mm\"; got '0.9 mm'",
        ),
        (
            "--target",
            "squish_min=0,9 mm,0.1 mm",
            "--target squish_min has more than one comma: decimals are written with a point, as in "
            "\"squish_min=0.90 mm,0.08 mm\"; got '0,9 mm,0.1 mm'",
        ),
        (
            "--target",
            "squish_egde=1 mm,1 mm",
            "--target 'squish_egde=1 mm,1 mm': no output is called 'squish_egde'; nearest: squish_edge, squish_edge_low, squish_edge_high; "
            "topend names lists them",
        ),
        (
            "--at-most",
            "compression_ratio=a lot",
            "--at-most compression_ratio needs a bare number, as it has no unit, such as \"compression_ratio=12.5\"; got 'a lot'",
        ),
        (
            "--at-least",
            "exhaust_duration=2 mm",
            "--at-least exhaust_duration needs an angle, such as \"9 deg\"; got '2 mm', which is a length. Units: deg, °, rad",
        ),
        ("--at-most", "squish_min=0.2 mm", f"{EXAMPLE}: no value of squish_min can be 0.9 mm ± 0.08 mm and at most 0.2 mm"),
    ],
)
def test_options_of_fit_that_cannot_be_used(refuses, option: str, value: str, message: str) -> None:
    assert refuses("fit", EXAMPLE, option, value) == message


def test_the_same_target_twice(refuses) -> None:
    twice = ["--target", "squish_min=0.9 mm,0.1 mm"] * 2
    assert refuses("fit", EXAMPLE, *twice) == "--target names squish_min twice; name it once"


def test_a_least_gap_without_a_unit(refuses) -> None:
    assert refuses("fit", EXAMPLE, "--least-gap", "0.6").startswith(f'{EXAMPLE}: least_gap needs a length, such as "0.6 mm"')


@pytest.mark.parametrize(
    ("arguments", "start", "end"),
    [
        (["card", "job.toml", "--jsn"], "No such option: --jsn", "; see topend card --help"),
        (["crad"], "No such command 'crad'", "; see topend --help"),
        (["card"], "Missing argument 'JOB.toml'", "; see topend card --help"),
        (["fit", "job.toml", "--best", "0"], "Invalid value for '--best'", "; see topend fit --help"),
    ],
)
def test_a_command_mistyped(refuses, arguments: list[str], start: str, end: str) -> None:
    message = refuses(*arguments)
    assert message.startswith(start)
    assert message.endswith(end)
    assert "\n" not in message


def test_without_the_extra_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch, refuses) -> None:
    monkeypatch.setitem(sys.modules, "typer", None)
    assert refuses("names") == "the command line needs the extra 'cli'; install it with: pip install 'topend[cli]'"


def test_a_fault_of_ours_is_not_hidden_as_bad_input(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails() -> None:
        raise ZeroDivisionError

    monkeypatch.setattr("topend.quantities.glossary", fails)
    with pytest.raises(ZeroDivisionError):
        cli.main(["names"])


def test_ctrl_c_ends_quietly(monkeypatch: pytest.MonkeyPatch, topend_says) -> None:
    def stopped() -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("topend.quantities.glossary", stopped)
    ran = topend_says("names")
    assert (ran.code, ran.out, ran.err.strip()) == (128 + signal.SIGINT, "", "")


# --- terminals and pipes ---------------------------------------------------------------------------------------------


def test_a_title_cannot_steer_the_terminal(topend_says, refuses, job) -> None:
    ran = topend_says("card", job('format = 1\ntitle = "\\u001b[31mred\\u009b"\n'))
    assert ran.out.splitlines()[0] == "BENCH CARD: ?[31mred?"
    assert "\x1b" not in refuses("card", job('format = 1\n"\\u001b[31m" = 1\n'))


def test_a_process_of_its_own_prints_plain_text() -> None:
    done = command("card", EXAMPLE)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"\x1b" not in done.stdout
    assert max(map(len, done.stdout.decode().splitlines())) <= 80
    bad = command("card", "nowhere.toml")
    assert (bad.returncode, bad.stdout, bad.stderr) == (2, b"", b"topend: nowhere.toml: is not there\n")


def test_colour_is_not_to_be_had_by_asking() -> None:
    done = command("card", INLINE, env={**ENVIRONMENT, "FORCE_COLOR": "1", "CLICOLOR_FORCE": "1", "TERM": "xterm-256color"})
    assert b"\x1b" not in done.stdout
    assert b"\x1b" not in command("card", "--nope", env={**ENVIRONMENT, "FORCE_COLOR": "1"}).stderr


def test_a_terminal_without_our_signs_gets_stand_ins_and_valid_json() -> None:
    ascii_only = {**ENVIRONMENT, "PYTHONIOENCODING": "ascii"}
    text = command("card", INLINE, env=ascii_only)
    assert (text.returncode, text.stderr) == (0, b"")
    told = command("card", INLINE, "--json", env=ascii_only)
    assert json.loads(told.stdout.decode("ascii")) == json.loads(command("card", INLINE, "--json").stdout)


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
def test_a_reader_who_goes_away_ends_it_quietly() -> None:
    reading, writing = os.pipe()
    os.close(reading)
    try:
        done = command("names", capture_output=False, stdout=writing, stderr=subprocess.PIPE)
    finally:
        os.close(writing)
    assert (done.returncode, done.stderr) == (0, b"")


def test_the_installed_command_is_this_one() -> None:
    scripts = re.search(r"^topend = \"([\w.]+):(\w+)\"$", (ROOT / "pyproject.toml").read_text(encoding="utf-8"), flags=re.MULTILINE)
    assert scripts is not None
    assert getattr(importlib.import_module(scripts[1]), scripts[2]) is cli.main


# --- a terminal ------------------------------------------------------------------------------------------------------


def at_a_terminal(*arguments: object, columns: int = 80, **environment: str) -> tuple[int, str, str]:
    """Run a command with its output on a terminal of its own: exit code, what it shows, and that without colours."""
    pty = pytest.importorskip("pty", reason="terminals of POSIX")
    master, slave = pty.openpty()
    env = {**ENVIRONMENT, "TERM": "xterm-256color", "COLUMNS": str(columns), **environment}
    with subprocess.Popen(
        [sys.executable, "-W", "error", "-c", "import sys; from topend.cli import main; sys.exit(main())", *map(str, arguments)],
        stdin=subprocess.DEVNULL,
        stdout=slave,
        stderr=slave,
        cwd=ROOT,
        env=env,
    ) as running:
        os.close(slave)
        heard = b""
        while True:
            try:
                some = os.read(master, 65536)
            except OSError:
                break
            if not some:
                break
            heard += some
        code = running.wait(timeout=60)
    os.close(master)
    shown = heard.decode().replace("\r\n", "\n")
    return code, shown, re.sub(r"\x1b\[[\d;?]*[a-zA-Z]", "", shown)


def test_on_a_terminal_the_same_text_has_colours_unless_they_are_not_wanted() -> None:
    piped = command("measure", "--sheet").stdout.decode()
    code, shown, plain = at_a_terminal("measure", "--sheet")
    assert code == 0
    assert "\x1b[1mREADING SHEET" in shown
    assert plain == piped
    assert "\x1b[1m" not in at_a_terminal("measure", "--sheet", NO_COLOR="1", TERM="dumb")[1]


def test_on_a_terminal_lists_are_as_wide_as_it_is() -> None:
    lengths = {}
    for columns in (80, 130):
        code, _, plain = at_a_terminal("names", columns=columns)
        assert code == 0
        lines = [line.rstrip() for line in plain.splitlines()]
        assert max(map(len, lines)) <= columns
        for name in (*OUTPUTS, *INPUTS):
            # a name is typed again: whole, on one line
            assert any(line.split()[:1] == [name] for line in lines), name
        lengths[columns] = len(lines)
    assert lengths[130] < lengths[80]


def test_long_work_shows_how_far_it_has_come_on_a_terminal_alone(tmp_path: Path) -> None:
    work = ("study", EXAMPLE, "--vary", "head.recess_offset=-1.5:0:0.005 mm", "--sample", 500, "--outputs", "squish_min")
    code, shown, _ = at_a_terminal(*work)
    assert code == 0
    assert "working out" in shown
    assert re.search(r"\d+/150500 rows", re.sub(r"\x1b\[[\d;?]*[a-zA-Z]", "", shown))
    piped = command(*work)
    assert (piped.returncode, piped.stderr) == (0, b"")
    assert b"working out" not in piped.stdout


# --- help, and completion --------------------------------------------------------------------------------------------


def commands_and_groups() -> list[tuple[str, ...]]:
    import typer

    from topend.cli.app import build_app

    found: list[tuple[str, ...]] = []

    def walk(command: object, path: tuple[str, ...]) -> None:
        found.append(path)
        for name, inner in getattr(command, "commands", {}).items():
            walk(inner, (*path, name))

    walk(typer.main.get_command(build_app()), ())
    return found


def test_every_module_of_a_command_is_gathered() -> None:
    from topend.cli import app

    having = {
        path.stem for path in (ROOT / "topend" / "cli").glob("*.py") if re.search(r"^def add\(", path.read_text(), flags=re.MULTILINE)
    }
    assert having == {module.__name__.rpartition(".")[2] for module in app.COMMANDS}


@pytest.mark.parametrize("path", commands_and_groups(), ids=lambda path: " ".join(path) or "topend")
def test_the_help_of_every_command_shows_an_example_that_runs(path: tuple[str, ...], topend_says, tmp_path: Path, monkeypatch) -> None:
    shown = topend_says(*path, "--help")
    assert (shown.code, shown.err) == (0, "")
    assert max(map(len, shown.out.splitlines())) <= 80
    assert "..." not in "".join(line for line in shown.out.splitlines() if re.match(r"  \w", line))
    found = re.search(r"^  Example: (topend .*(?:\n      .*)*)", shown.out, flags=re.MULTILINE)
    assert found is not None, f"topend {' '.join(path)} --help shows no example; epilog=example(...) of topend/cli/options.py makes one"
    line = shlex.split(found[1].replace("\\\n", " ").partition(" > ")[0])
    assert tuple(line[1 : 1 + len(path)]) == path or line[1 : 2 + len(path)][0] == (path[0] if path else line[1])
    # from the root of a repository, as who reads it would: a copy, to be written into
    for folder in ("docs", "datapacks"):
        shutil.copytree(ROOT / folder, tmp_path / folder)
    monkeypatch.chdir(tmp_path)
    ran = topend_says(*line[1:])
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.strip()
    # a page of 80 columns; a schema is for programs, and a folder is as long as it is
    if path != ("packs", "schema"):
        assert [row for row in ran.out.splitlines() if len(row) > 80 and str(tmp_path) not in row] == []


def completed(words: str, shell: str = "bash") -> list[str]:
    env = {**ENVIRONMENT, "_TOPEND_COMPLETE": f"complete_{shell}", "COMP_WORDS": words, "COMP_CWORD": str(len(words.split(" ")) - 1)}
    done = command(env=env)
    assert done.stderr == b""
    return done.stdout.decode().split()


def test_a_shell_completes_commands_options_and_names() -> None:
    assert completed("topend me") == ["measure"]
    assert "--where" in completed("topend study job.toml --")
    assert completed("topend fit job.toml --target squish_m") == [name for name in OUTPUTS if name.startswith("squish_m")]
    assert completed("topend study job.toml --vary head.rec") == [path for path in INPUTS if path.startswith("head.rec")]


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_the_script_for_a_shell_is_printed(shell: str) -> None:
    # told which shell, as there may be none above the tests for it to find
    done = command("--show-completion", shell, env={**ENVIRONMENT, "_TYPER_COMPLETE_TEST_DISABLE_SHELL_DETECTION": "1"})
    assert (done.returncode, done.stderr) == (0, b"")
    assert f"_TOPEND_COMPLETE=complete_{shell}".encode() in done.stdout


# --- the doctor ------------------------------------------------------------------------------------------------------


def test_doctor_tells_versions_extras_and_packs(topend_says) -> None:
    told = json.loads(topend_says("doctor", "--packs", ROOT / "datapacks" / "fellside", "--json").out)
    assert told["topend"] == topend.__version__
    assert {one["name"] for one in told["packages"]} == {"numpy", "scipy", "pint", "pydantic", "pluggy"}
    for one in told["packages"]:
        assert one["installed"] == importlib.metadata.version(one["name"])
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["optional-dependencies"]
    assert set(told["extras"]) == set(project) - {"test", "bench", "all"}
    assert [(pack["id"], pack["usable"]) for pack in told["packs"]] == [("fellside", True)]
    text = topend_says("doctor", "--packs", ROOT / "datapacks" / "fellside")
    assert (text.code, text.err) == (0, "")
    for word in ("PACKAGES", "EXTRAS", "PACKS", "PROBLEMS", "None found.", "fellside 1.0.0", "numpy"):
        assert word in text.out
    assert max(map(len, text.out.splitlines())) <= 80 or str(ROOT) in text.out


def test_doctor_exits_with_1_and_says_what_is_wrong(topend_says, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    (tmp_path / "bad").mkdir()
    (tmp_path / "bad" / "pack.toml").write_text("format = 1\nid = 7\n", encoding="utf-8")
    ran = topend_says("doctor", "--packs", tmp_path / "bad")
    assert (ran.code, ran.err) == (1, "")
    assert "  ! " in ran.out
    assert "pack.toml" in ran.out.replace("\n    ", "")

    def version(name: str) -> str:
        if name == "rich":
            raise importlib.metadata.PackageNotFoundError(name)
        return {"numpy": "1.9.3", "pyarrow": "16.1"}.get(name, "9999.0")

    monkeypatch.setattr(importlib.metadata, "version", version)
    ran = topend_says("doctor")
    assert ran.code == 1
    assert "  ! numpy 1.9.3: older than 1.26; pip install 'topend' again\n" in ran.out
    assert "  ! pyarrow 16.1: older than 17; pip install --upgrade 'topend[cluster]'\n" in ran.out
    assert "not complete: rich; pip install 'topend[cli]'" in ran.out


# --- one mistake, one word -------------------------------------------------------------------------------------------


@pytest.mark.parametrize("arguments", [["card", ""], ["measure", " "], ["verify", EXAMPLE, ""], ["fit", ""], ["study", ""]])
def test_an_empty_file_name_is_not_the_folder(refuses, arguments: list[object]) -> None:
    # as of a shell variable that was not set
    assert "is empty; name a file; see topend" in refuses(*arguments)


def test_a_job_file_given_for_readings_and_the_other_way_round(refuses) -> None:
    said = (
        f"{EXAMPLE}: is a job file, not a file of readings: readings are tables [[readings]]; `topend measure --sheet` prints what to read"
    )
    assert refuses("measure", EXAMPLE) == said
    assert refuses("verify", EXAMPLE, EXAMPLE) == said
    bench = EXAMPLE.with_name("readings-bench.toml")
    assert refuses("card", bench) == (
        f"{bench}: is a file of readings, not a job file; "
        "work it out with `topend measure`, or name the job first, then it: `topend verify`"
    )
    plan = EXAMPLE.with_name("range.toml")
    assert refuses("card", plan) == f"{plan}: is a plan file, not a job file; work it out with `topend range`"
    form = "a plan file has [plan] and [[families]], see docs/planning-a-range.md"
    assert refuses("range", EXAMPLE) == f"{EXAMPLE}: is a job file, not a plan file; {form}"
    assert refuses("range", bench) == f"{bench}: is a file of readings, not a plan file; {form}"


@pytest.mark.parametrize(
    ("option", "value", "message"),
    [
        ("--vary", "crank.strok=1:2:1 mm", "no input is called 'crank.strok'"),
        ("--vary", "crank.stroke=40,41 mm", "crank.stroke value 0 needs a length"),
        ("--where", "squish_mi=0.6 mm:", "no output is called 'squish_mi'"),
        ("--where", "squish_min=0.6:", "where squish_min: the lower limit needs a length"),
        ("--where", "squish_min=2 mm:1 mm", "where squish_min has its lower limit 2 mm above its upper 1 mm"),
        ("--best", "squish_mi", "no output is called 'squish_mi'"),
        ("--best", "squish_min=3", "the target needs a length"),
        ("--outputs", "a,b", "no output is called 'a'"),
    ],
)
def test_a_study_names_the_option_at_fault(refuses, option: str, value: str, message: str) -> None:
    assert refuses("study", EXAMPLE, option, value).startswith(f"{option} {value!r}: {message}")
