"""Range planning: held against every selection of heads and kits there is, each build decided by `evaluate` alone."""

from __future__ import annotations

import itertools
import math
import runpy
import time
from pathlib import Path

import numpy as np
import pytest

import topend as te
from topend.errors import FitError, JobError
from topend.plan_file import load_plan
from topend.solve.families import Family, fitted_limits
from topend.solve.kits import BoxedGaskets, counted, packed, sub_stacks
from topend.solve.plan_range import _Question, exact_interval, plan_range

ROOT = Path(__file__).parent.parent
BENCHMARK = ROOT / "benchmarks" / "plan_range.py"
EXAMPLE = ROOT / "docs" / "examples" / "range.toml"


def top_of(deck: str, roof: str = "21.9 mm ± 0.3 mm") -> te.TopEnd:
    return te.TopEnd(
        crank=te.Crank(stroke="39.3 mm ± 0.05 mm", rod_length="85 mm"),
        cylinder=te.Cylinder(bore="47.6 mm", ports=[te.Port(kind="exhaust", top=roof)]),
        piston=te.Piston(crown=te.SphereCrown(rise="2.2 mm")),
        deck=te.DeckReading(clearance=deck, base_thickness="0.50 mm"),
        running=te.Running(crank_speed="11500 rpm"),
    )


def head_of(drop: float, seal: str = "gasket") -> te.SpigotHead:
    return te.SpigotHead(
        name=f"{seal} -{drop}",
        recess_offset=f"-{drop} mm",
        spigot_diameter="47.2 mm",
        chamber_volume="6.4 cc ± 0.05 cc",
        seal=seal,
        band=te.SquishBand(outer_diameter="47.2 mm", inner_diameter="33.0 mm", angle="9 deg"),
    )


def gaskets_of(base: tuple[float, ...], head: tuple[float, ...]) -> list[te.Gasket]:
    made = [te.Gasket(role="base", thickness=f"{size} mm", material="fibre") for size in base]
    return made + [te.Gasket(role="head", thickness=f"{size} mm", opening="48.5 mm", material="copper") for size in head]


WINDOW = {"squish_min": ("0.90 mm", "0.15 mm"), "exhaust_duration": ("187 deg", "6 deg")}


def decided(question: _Question, at: int, head: te.SpigotHead, base: tuple[int, ...], under: tuple[int, ...], build: int, drawn) -> bool:
    """One build with one head and one stack, by `te.evaluate` and the numbers of the window."""
    family = question.families[at]
    place = family.heads.index(head)
    values = {path: column[build] for path, column in drawn[at].columns.items() if len(column) > 1}
    own = {path: column[build] for path, column in drawn[at].heads[place].items()}
    units = {"head.chamber_volume": ("cc", 1e6), "exhaust": ("mm", 1e3)}

    def text(path: str, value: float) -> str:
        unit, factor = units.get(path, ("mm", 1e3))
        return f"{float(value) * factor!r} {unit}"

    changes = {path: text(path, value) for path, value in values.items()}
    changes["head"] = head.replace(**{path.removeprefix("head."): text(path, value) for path, value in own.items()})
    for name, stack in (("base_gaskets", base), ("head_gaskets", under)):
        changes[name] = [question.gaskets[n].replace(fitted_thickness=text("", drawn[at].fitted[n, build])) for n in stack]
    try:
        # what was drawn is what this build truly is: no reading is bound to the middle of the family
        fields = family.top.given()
        deck = fields["deck"].replace(clearance=changes.pop("deck.clearance"))
        crank = fields["crank"].replace(stroke=changes.pop("crank.stroke"))
        port = te.Port(kind="exhaust", top=changes.pop("cylinder.ports.0.top"))
        cylinder = fields["cylinder"].replace(ports=[port])
        result = te.evaluate(te.TopEnd(**{**fields, "deck": deck, "crank": crank, "cylinder": cylinder, **changes}))
    except te.AssemblyError:
        return False
    inside = abs(result["squish_min"].m_as("mm") - 0.90) <= 0.15 and abs(result["exhaust_duration"].m_as("deg") - 187.0) <= 6.0
    return inside and result["squish_min"].m_as("mm") >= 0.6


def every_plan(question: _Question) -> tuple[int, int] | None:
    """Fewest variants, then fewest gaskets, by trying all."""
    drawn = question.drawn(question.builds, 0)
    heads = list(dict.fromkeys(head for family in question.families for head in family.heads))
    bases = [n for n, gasket in enumerate(question.gaskets) if gasket.role == "base"]
    unders = [n for n, gasket in enumerate(question.gaskets) if gasket.role == "head"]
    places = [(at, build) for at, one in enumerate(drawn) for build in range(one.count)]
    base_stacks = sub_stacks(tuple(n for n in bases for _ in range(2)), question.base_count)
    covers: list[dict[tuple[tuple[int, ...], tuple[int, ...]], int]] = []
    for head in heads:
        own: dict[tuple[tuple[int, ...], tuple[int, ...]], int] = {}
        for base in base_stacks:
            for under in [()] if head.seal == "o-ring" else [(n,) for n in unders]:
                bits = 0
                for bit, (at, build) in enumerate(places):
                    if head in question.families[at].heads and decided(question, at, head, base, under, build, drawn):
                        bits |= 1 << bit
                own[base, under] = bits
        covers.append(own)
    kits: list[dict[int, int]] = []  # per head: what a kit covers -> its least size
    for head, own in zip(heads, covers, strict=True):
        made: dict[int, int] = {}
        for size in range(1, 2 * len(bases) + 1):
            for base in itertools.combinations_with_replacement(bases, size):
                if max(base.count(n) for n in base) > 2:
                    continue
                for number in [0] if head.seal == "o-ring" else range(1, len(unders) + 1):
                    for under in itertools.combinations(unders, number):
                        bits = 0
                        for stack in sub_stacks(base, question.base_count):
                            for sheet in [()] if number == 0 else [(n,) for n in under]:
                                bits |= own[stack, sheet]
                        made[bits] = min(made.get(bits, 99), size + number)
        kits.append(made)
    needed = math.ceil(question.coverage * question.builds - 1e-9)
    for number in range(len(heads) + 1):
        best = None
        for chosen in itertools.combinations(range(len(heads)), number):
            found = {0: 0}
            for one in chosen:
                found = joined(found, kits[one])
            good = [gaskets for bits, gaskets in found.items() if bits.bit_count() >= needed]
            if good and (best is None or min(good) < best):
                best = min(good)
        if best is not None:
            return number, best
    return None


def joined(found: dict[int, int], kits: dict[int, int]) -> dict[int, int]:
    """What two choices cover together, and the fewest gaskets it takes."""
    made: dict[int, int] = {}
    for a, m in found.items():
        for b, n in kits.items():
            made[a | b] = min(made.get(a | b, 99), m + n)
    return made


def small(seed: int) -> tuple[list[Family], list[te.Gasket], dict]:
    generator = np.random.default_rng(seed)
    sizes = [round(float(size), 2) for size in generator.choice(np.arange(0.2, 0.9, 0.05), 5, replace=False)]
    drops = [round(float(drop), 2) for drop in generator.choice(np.arange(0.6, 1.6, 0.1), 4, replace=False)]
    heads = [head_of(drop, "o-ring" if generator.random() < 0.5 else "gasket") for drop in drops]
    spread = round(float(generator.uniform(0.1, 0.5)), 2)
    first = Family("low", top_of(f"1.4 mm ± {spread} mm"), heads[:2] if seed % 2 else heads[:3])
    second = Family("high", top_of(f"1.8 mm ± {spread} mm"), heads[2:], share=1.5)
    return [first, second], gaskets_of(tuple(sizes[:3]), tuple(sizes[3:])), {"coverage": float(generator.choice([0.6, 0.75, 0.9]))}


def compared(seed: int) -> tuple[tuple[int, int] | None, object]:
    families, gaskets, asked = small(seed)
    question = _Question.ask(families, gaskets, asked["coverage"], 15, (1, 2), None, "0.6 mm", WINDOW, {}, {}, 100, seed)
    plan = plan_range(families, gaskets, builds=15, fresh=100, seed=seed, **asked, **WINDOW)
    return every_plan(question), plan


@pytest.mark.parametrize("seed", [3, 4, 6])
def test_it_is_the_best_of_every_selection_there_is(seed):
    best, plan = compared(seed)
    assert ((len(plan.variants), plan.gaskets) if plan else None) == best
    assert plan.gap == 0.0


@pytest.mark.long
def test_it_is_the_best_of_every_selection_there_is_many_times():
    found = [(best, plan) for best, plan in (compared(seed) for seed in range(10, 60))]
    for best, plan in found:
        assert ((len(plan.variants), plan.gaskets) if plan else None) == best
    numbers = [best[0] if best else 0 for best, _ in found]
    assert {0, 1, 2} <= set(numbers)
    assert max(numbers) >= 3


@pytest.mark.parametrize("asked", [{"squish_velocity_peak": ("24 m/s", "4 m/s")}, {"compression_ratio": (12.5, 0.5)}, {}])
def test_judging_by_windows_is_evaluating_every_stack(asked):
    families, gaskets, _ = small(5)
    question = _Question.ask(families, gaskets, 0.9, 200, (1, 2), None, "0.6 mm", {**WINDOW, **asked}, {}, {}, 100, 5)
    drawn = question.drawn(200, 0)
    seen = 0
    for variant in question.variants:
        for at, place in variant.places:
            judge = question.judge(drawn, at, place)
            stacks = question._stacks(at, variant.head, "base"), question._stacks(at, variant.head, "head")
            quick, whole = judge.inside(*stacks), judge.tried(*stacks)[0]
            assert np.array_equal(quick, whole)
            seen += int(whole.sum())
    assert seen > 50


def test_fresh_builds_confirm_the_coverage():
    families, gaskets, _ = small(6)
    plan = plan_range(families, gaskets, builds=600, fresh=4000, seed=2, coverage=0.9, **WINDOW)
    low, high = plan.interval
    assert plan.coverage >= 0.9
    assert low <= plan.confirmed / plan.fresh <= high
    # the interval holds what 40 000 more builds find: another seed, the same plan
    question = _Question.ask(families, gaskets, 0.9, 600, (1, 2), None, "0.6 mm", WINDOW, {}, {}, 40_000, 99)
    chosen = {}
    for planned in plan.variants:
        number = next(n for n, one in enumerate(question.variants) if one.head == planned.head)
        places = {gasket: at for at, gasket in enumerate(gaskets)}
        kit = [tuple(sorted(places[gasket] for gasket in stack)) for stack in (planned.base, planned.head_gaskets)]
        chosen[number] = BoxedGaskets(*kit)
    inside, _ = question._tried(question.drawn(40_000, 1), chosen)
    truth = sum(int(part.sum()) for part in inside) / 40_000
    assert low - 0.003 <= truth <= high + 0.003


def test_the_exact_interval_is_that_of_clopper_and_pearson():
    # by its definition: the ends are the coverages at which a count as far out has a chance of 2.5 %; sums of binomial terms by hand
    low, high = exact_interval(37, 40)

    def at_least(share: float, count: int) -> float:
        return math.fsum(math.comb(40, n) * share**n * (1.0 - share) ** (40 - n) for n in range(count, 41))

    assert at_least(low, 37) == pytest.approx(0.025, abs=1e-9)
    assert 1.0 - at_least(high, 38) == pytest.approx(0.025, abs=1e-9)
    assert exact_interval(40, 40)[1] == 1.0


def test_what_is_left_out_is_named_with_the_reason():
    families, gaskets, _ = small(7)
    plan = plan_range(families, gaskets, builds=15, fresh=100, seed=7, coverage=0.75, **WINDOW)
    assert len(plan.left_out) == 15 - plan.covered > 0
    question = _Question.ask(families, gaskets, 0.75, 15, (1, 2), None, "0.6 mm", WINDOW, {}, {}, 100, 7)
    drawn = question.drawn(15, 0)
    for out in plan.left_out:
        assert set(out.values) >= {"deck.clearance", "cylinder.ports.0.top", "crank.stroke"}
        assert out.misses
        assert all(miss.by for miss in out.misses)
        assert {miss.name for miss in out.misses} <= {"squish_min", "exhaust_duration"}
        assert out.family in str(out)
        at = [family.name for family in families].index(out.family)
        # who could do it is decided by evaluating every head with every stack
        able = {
            head.name
            for head in families[at].heads
            for base in sub_stacks((0, 0, 1, 1, 2, 2), (1, 2))
            for under in ([()] if head.seal == "o-ring" else [(3,), (4,)])
            if decided(question, at, head, base, under, out.build - 1, drawn)
        }
        assert set(out.others) == able


def test_where_no_plan_reaches_the_coverage_that_is_said_with_what_could_be_had():
    families, gaskets, _ = small(8)
    plan = plan_range(families, gaskets, builds=15, fresh=100, seed=8, coverage=1.0, **WINDOW)
    assert not plan
    assert plan.reachable < 15
    assert len(plan.left_out) == 15 - plan.reachable
    assert all(not out.others for out in plan.left_out)
    assert "no plan" in str(plan)


def test_past_builds_are_taken_as_they_were():
    decks = ["1.20 mm", "1.45 mm", "1.50 mm"]
    family = Family("a", top_of("1.4 mm ± 0.5 mm"), [head_of(0.9)], past={"deck.clearance": decks})
    question = _Question.ask([family], gaskets_of((0.3, 0.5), (0.3,)), 0.9, 6, (1, 2), None, None, WINDOW, {}, {}, 10, 1)
    (drawn,) = question.drawn(6, 0)
    assert list(drawn.columns["deck.clearance"] * 1e3) == pytest.approx([1.2, 1.45, 1.5] * 2)
    (fresh,) = question.drawn(50, 1)
    assert set(np.round(fresh.columns["deck.clearance"] * 1e3, 6)) == {1.2, 1.45, 1.5}
    # what the table does not give is drawn from the limits still
    assert len(set(drawn.columns["cylinder.ports.0.top"])) == 6


def test_gaskets_come_out_between_what_is_stated_or_assumed_of_them():
    def between(**said: str) -> tuple[float, float]:
        return tuple(round(end * 1e3, 6) for end in fitted_limits(te.Gasket(role="base", thickness="0.50 mm", **said)))

    assert between(fitted_thickness="0.46 mm") == (0.46, 0.46)
    assert between(fitted_thickness="0.46 mm ± 0.01 mm") == (0.45, 0.47)
    assert between(material="copper") == (0.48, 0.52)
    assert between(material="paper") == (0.415, 0.5)


def test_out_of_time_the_gap_is_told_and_holds():
    plan = runpy.run_path(str(BENCHMARK))
    quick = plan["one_head"](0.35, builds=300)
    assert quick.gap == 0.0
    families = [plan["family"](*sizes, 0.35) for sizes in plan["FAMILIES"]]
    late = plan_range(families, plan["offering"](), builds=300, time_limit=0.0, **plan["WINDOW"])
    assert late.gaskets >= quick.gaskets
    assert late.gaskets * (1.0 - late.gap) <= quick.gaskets + 1e-9


@pytest.mark.long
def test_five_families_forty_variants_thirty_gaskets_five_thousand_builds():
    plan = runpy.run_path(str(BENCHMARK))
    for ask in (lambda: plan["one_head"](0.35), plan["two_heads"]):
        began = time.monotonic()
        made = ask()
        assert made
        assert made.builds == 5000
        assert made.gap < 0.01
        assert made.coverage >= 0.99
        assert time.monotonic() - began < 60.0


def test_bits_are_counted_as_numbers_are():
    bools = np.random.default_rng(1).random((3, 5, 131)) < 0.4
    assert np.array_equal(counted(packed(bools)), bools.sum(axis=-1))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"families": []}, "families is empty: give at least one"),
        ({"coverage": 1.2}, r"coverage must be more than 0 and at most 1, such as 0.99; got 1.2"),
        ({"builds": 0}, "builds must be a whole number from 2, one a family"),
        ({"gaskets": gaskets_of((), (0.3,))}, "family low: no base gasket of the offering fits, and a stack needs 1; offer one"),
        ({"blowdown": ("28 deg", "2 deg")}, "family low, .*: blowdown cannot be had: it needs cylinder.ports"),
        ({"base_count": (2, 1)}, "base_count must be least and most"),
        ({"coverage": "99 %"}, "coverage must be more than 0 and at most 1, such as 0.99; got '99 %'"),
        ({"seed": "x"}, "seed must be a whole number from 0; got 'x'"),
        ({"seed": -1}, "seed must be a whole number from 0; got -1"),
        ({"time_limit": "1 min"}, "time_limit must be a number of seconds, 0 or more; got '1 min'"),
    ],
)
def test_questions_that_cannot_be_asked(changes, message):
    families, gaskets, _ = small(1)
    asked = {"families": families, "gaskets": gaskets, "builds": 20, "fresh": 20, **WINDOW, **changes}
    with pytest.raises(FitError, match=message):
        plan_range(**asked)


def test_more_questions_that_cannot_be_asked():
    head = head_of(0.9)
    window = {"squish_edge": ("0.9 mm", "0.1 mm")}
    offered = gaskets_of((0.3,), (0.3,))
    unread = te.TopEnd(deck=te.DeckReading(clearance="1.4 mm"))
    with pytest.raises(FitError, match=r"family a: its deck does not say which base stack it was read with: give deck.base_thickness"):
        plan_range([Family("a", unread, [head])], offered, **window)
    whole = top_of("1.4 mm").replace(assembled=te.AssembledVolume(volume="6 cc"))
    with pytest.raises(FitError, match="an assembled volume holds for the head it was read with"):
        plan_range([Family("a", whole, [head])], offered, **window)
    with pytest.raises(FitError, match="family a: no target and no limit is given"):
        plan_range([Family("a", top_of("1.4 mm"), [head])], offered)
    with pytest.raises(FitError, match=r"family a: past builds give deck.clearanc, but the family's top end does not state it"):
        plan_range([Family("a", top_of("1.4 mm"), [head], past={"deck.clearanc": ["1 mm"]})], offered, **window)
    with pytest.raises(te.TopendError, match=r"families\.0\.top must be a TopEnd; got None"):
        plan_range([Family("a", None, [head])], offered, **window)
    with pytest.raises(FitError, match=r"family a: heads must be a list of heads; got one (Flush|Spigot)Head, so put it"):
        plan_range([Family("a", top_of("1.4 mm"), head)], offered, **window)
    with pytest.raises(FitError, match=r"family a: heads\.1 must be a head, such as a FlushHead; got 'x'"):
        plan_range([Family("a", top_of("1.4 mm"), [head, "x"])], offered, **window)
    with pytest.raises(FitError, match="family a: its share must be a number of more than 0; got 'most'"):
        plan_range([Family("a", top_of("1.4 mm"), [head], share="most")], offered, **window)
    for wrong in (2, -1, "thin"):
        with pytest.raises(
            FitError, match=f"family a: gaskets names those of the offering that fit it, by position from 0 to 1; got {wrong!r}"
        ):
            plan_range([Family("a", top_of("1.4 mm"), [head], gaskets=[0, wrong])], offered, **window)
    past = {"deck.clearance": ["1 mm"], "crank.stroke": ["39 mm", "39.1 mm"]}
    with pytest.raises(FitError, match="past builds must give as many values at each path"):
        plan_range([Family("a", top_of("1.4 mm"), [head], past=past)], offered, **window)
    with pytest.raises(FitError, match=r"past builds, deck.clearance: value 0 needs a length"):
        plan_range([Family("a", top_of("1.4 mm"), [head], past={"deck.clearance": [1.0]})], offered, **window)
    with pytest.raises(FitError, match="families must have names of their own; got a, a"):
        plan_range([Family("a", top_of("1.4 mm"), [head])] * 2, offered, **window)
    with pytest.raises(FitError, match="family a: no head is offered for it"):
        plan_range([Family("a", top_of("1.4 mm"), [])], offered, **window)
    with pytest.raises(FitError, match="family a: its share must be a number of more than 0"):
        plan_range([Family("a", top_of("1.4 mm"), [head], share=0.0)], offered, **window)


# --- past builds in a table of their own ---

PLAN = EXAMPLE.read_text(encoding="utf-8")
LISTED = PLAN[PLAN.index("[families.past]") : PLAN.index("[families.cylinder]", PLAN.index("[families.past]"))]


def plan_with(folder: Path, table: str) -> Path:
    """The example's plan with the past builds of its second family in a file beside it."""
    (folder / "builds.csv").write_text(table, encoding="utf-8")
    file = folder / "plan.toml"
    head, tail = PLAN.split(LISTED)
    family = 'name = "birch 65"'
    file.write_text(head.replace(family, f'{family}\npast = "builds.csv"') + tail, encoding="utf-8")
    return file


def test_past_builds_as_csv_are_those_of_the_list(tmp_path):
    listed = load_plan(EXAMPLE).families[1].past
    rows = [f"b-{number},{value.removesuffix(' mm')},," for number, value in enumerate(listed["deck.clearance"])]
    file = plan_with(tmp_path, "build,deck.clearance [mm],seen by,\n" + "\n".join(rows) + "\n")
    assert load_plan(file).families[1].past == listed


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("", "is empty; its first line holds the headings"),
        ("build,remark\n1,x\n", "line 1: has no column of figures; its heading is an input's path and its unit"),
        ("deck.clearance [mm]\n", "line 1: has headings and no builds under them"),
        ("deck.clearance [mm]\n1.2\n\n1,3\n", "line 4: has 2 cells under 1 headings"),
        ('deck.clearance [mm]\n1.2\n"1,3"\n', "line 3: deck.clearance must be a number, in the mm of its heading; got '1,3'; decimals are"),
        ("deck.clearance [mm],remark\n1.2,\n,forgotten\n", "line 3: deck.clearance is empty; a build counts with all its figures"),
        ("deck.clearance [mm],deck.clearance [in]\n1,2\n", "line 1: deck.clearance stands twice among the headings"),
        ("deck.clearance ± [mm]\n1\n", "line 1: 'deck.clearance ± [mm]' is not a heading"),
        ("deck.clearance,cylinder.bore [mm]\n1,47\n", "line 1: deck.clearance has no unit, and would be left out as a remark; write it as"),
        (",".join(["note"] * 201) + "\n", "line 1: has 201 headings; at most 200 are read"),
    ],
)  # fmt: skip
def test_a_table_of_past_builds_that_cannot_be_used_says_where(table, said, tmp_path):
    with pytest.raises(JobError) as refused:
        load_plan(plan_with(tmp_path, table))
    assert "families.1.past is 'builds.csv', which cannot be used" in str(refused.value)
    assert said in str(refused.value)


def test_a_table_of_past_builds_that_is_not_there_says_so(tmp_path):
    file = plan_with(tmp_path, "")
    (tmp_path / "builds.csv").unlink()
    with pytest.raises(JobError, match=r"families\.1\.past is 'builds\.csv', which cannot be used: .*builds\.csv"):
        load_plan(file)
    file.write_text(file.read_text(encoding="utf-8").replace('past = "builds.csv"', "past = 3"), encoding="utf-8")
    with pytest.raises(JobError, match=r"families\.1\.past must be lists of values by path, .* or the name of a \.csv with a row a build"):
        load_plan(file)
