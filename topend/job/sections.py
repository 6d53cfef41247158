"""What a job file asks of its top end: the sections for solvers, each read into a record of its arguments."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

from topend.assembly import TopEnd
from topend.errors import AssemblyError, PartError, did_you_mean
from topend.job.parts import PartsReader, short, stand_in
from topend.job.requests import CompareRequest, CorrectRequest, DesignRequest, Figure, FitRequest, SwapRequest
from topend.packs.pack_code import who_may_add
from topend.parts import Crank, Cutter, GasketSet, Piston
from topend.parts.head import FlushHead, SpigotHead
from topend.quantities import OUTPUTS
from topend.units import KINDS, StatedValueError, figure_example, figure_si, stated

__all__ = ["SectionsReader"]

_FIT_KEYS: Final = ("heads", "stock", "base_count", "head_count", "least_gap", "best", "targets", "at_most", "at_least")
_CORRECT_KEYS: Final = ("allow", "stock", "base_count", "head_count", "least_gap", "best", "targets", "at_most", "at_least")
_DESIGN_KEYS: Final = ("targets", "free", "limits", "cutter", "spread")
_SWAP_KEYS: Final = ("crank", "piston", "spacer", "spacer_window")
_COMPARE_KEYS: Final = ("heads", "gaps", "speeds", "by", "aims", "at_most", "at_least")
_LIMITS: Final = ("at_most", "at_least")
#: Sections whose targets are outputs of the table alone, and why.
_OF_THE_TABLE: Final = {
    "design": "a head is designed for outputs whose relation to its dimensions is known",
    "plan": "a range is planned for outputs whose relation to the gaskets is known",
    "families": "a range is planned for outputs whose relation to the gaskets is known",
}


class SectionsReader(PartsReader):
    """The sections of a file that ask something, beside its parts."""

    # --- the fit section ---------------------------------------------------------------------------------------------

    def _fit(self, table: Any) -> FitRequest | None:
        if not isinstance(table, dict):
            self._refuse("fit", f"must be a table, [fit]; got {short(table)}")
            return None
        for key in table:
            if key not in _FIT_KEYS:
                self._refuse(
                    f"{self._section}.{key}", f"is not a key of [fit]{did_you_mean(key, _FIT_KEYS)}; it may have {', '.join(_FIT_KEYS)}"
                )
        stock = self._stock(table)
        heads = self._heads(table["heads"]) if "heads" in table else None
        base_count = self._count(table, "base_count", (1, 3))
        head_count = self._count(table, "head_count", None)
        best = table.get("best", 10)
        if type(best) is not int or best < 1:
            self._refuse(f"{self._section}.best", f"must be a whole number from 1; got {short(best)}")
        least_gap = self._least_gap(table.get("least_gap", "0.6 mm"))
        targets = {name: self._target(name, value) for name, value in self._named(table, "targets")}
        limits = {key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS}
        if stock is None or any(pair is None for pair in targets.values()):
            return None
        return FitRequest(
            stock=stock,
            heads=heads,
            base_count=base_count or (1, 3),
            head_count=head_count,
            least_gap=least_gap,
            best=best,
            targets={name: pair for name, pair in targets.items() if pair is not None},
            **limits,
        )

    def _section_table(self, table: Any, keys: tuple[str, ...]) -> Mapping[str, Any]:
        """The section that is read, as a table; nothing, and a problem, where it is none. Its keys are looked at."""
        if not isinstance(table, dict):
            self._refuse(self._section, f"must be a table, [{self._section}]; got {short(table)}")
            return {}
        for key in table:
            if key not in keys:
                known = f"is not a key of [{self._section}]{did_you_mean(key, keys)}; it may have {', '.join(keys)}"
                self._refuse(f"{self._section}.{key}", known)
        return table

    def _wanted(self, table: Mapping[str, Any]) -> dict[str, Any]:
        """Targets and limits of a section."""
        pairs = {name: self._target(name, value) for name, value in self._named(table, "targets")}
        limits = {key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS}
        return {"targets": {name: pair for name, pair in pairs.items() if pair is not None}, **limits}

    def _correct(self, table: Any) -> CorrectRequest | None:
        self._section = "correct"
        table = self._section_table(table, _CORRECT_KEYS)
        allow = table.get("allow")
        if not isinstance(allow, dict) or not allow:
            example = 'deck_cut = ["0 mm", "0.8 mm"]'
            self._refuse("correct.allow", f"must be a table of what may be done, [correct.allow], such as {example}; got {short(allow)}")
        best = table.get("best", 5)
        if type(best) is not int or best < 1:
            self._refuse("correct.best", f"must be a whole number from 1; got {short(best)}")
        made = {
            "stock": self._stock(table) if "stock" in table else None,
            "base_count": self._count(table, "base_count", (1, 3)) or (1, 3),
            "head_count": self._count(table, "head_count", None),
            "least_gap": self._least_gap(table.get("least_gap", "0.6 mm")),
            **self._wanted(table),
        }
        return CorrectRequest(allow=allow if isinstance(allow, dict) else {}, best=best, **made)

    def _compare(self, table: Any) -> CompareRequest | None:
        self._section = "compare"
        table = self._section_table(table, _COMPARE_KEYS)
        heads = self._heads(table.get("heads"))
        aims = table.get("aims")
        if not isinstance(aims, dict) or not aims:
            example = 'squish_velocity_peak = ["20 m/s", "3 m/s"], running_clearance = "largest"'
            self._refuse("compare.aims", f"must be a table of what is wanted, [compare.aims], such as {example}; got {short(aims)}")
            aims = {}
        gaps, speeds = (self._texts(table, key) for key in ("gaps", "speeds"))
        limits: dict[str, Any] = {
            key: {name: value for name, value in self._named(table, key) if self._limit(key, name, value)} for key in _LIMITS
        }
        aims = {name: tuple(value) if isinstance(value, list) else value for name, value in self._named({"aims": aims}, "aims")}
        return None if heads is None else CompareRequest(heads, aims, gaps, speeds, table.get("by", "base"), **limits)

    def _texts(self, table: Mapping[str, Any], key: str) -> tuple[str, ...] | None:
        given = table.get(key)
        if given is None:
            return None
        if not (isinstance(given, list) and given and all(isinstance(one, str) for one in given)):
            self._refuse(f"{self._section}.{key}", f"must be a list of texts with their units; got {short(given)}")
            return None
        return tuple(given)

    def _swap(self, table: Any) -> SwapRequest | None:
        self._section = "swap"
        table = self._section_table(table, _SWAP_KEYS)
        if not table.keys() & {"crank", "piston"}:
            self._refuse("swap", "swaps nothing: give the new part as swap.crank, swap.piston, or both")
        made: dict[str, Any] = {}
        for kind, cls in (("crank", Crank), ("piston", Piston)):
            if kind not in table:
                continue
            where = f"swap.{kind}"
            part = self._part(table[kind], kind, where)
            if isinstance(part, dict):
                try:
                    part = cls(**part)
                except PartError as error:
                    self._take(error, "", f"{where}.")
                    part = None
            elif part is not None and not isinstance(part, cls):
                self._refuse(where, f"must be a {kind}: its id, or a table; got {short(part)}")
                part = None
            made[kind] = part
        for key in ("spacer", "spacer_window"):
            if key in table and not isinstance(table[key], str):
                self._refuse(f"swap.{key}", f'must be a length as text, such as "1.0 mm"; got {short(table[key])}')
            else:
                made[key] = table.get(key)
        return SwapRequest(**made)

    # --- the design section ------------------------------------------------------------------------------------------

    def _design(self, table: Any) -> DesignRequest | None:
        self._section = "design"
        if not isinstance(table, dict):
            self._refuse("design", f"must be a table, [design]; got {short(table)}")
            return None
        for key in table:
            if key not in _DESIGN_KEYS:
                near = did_you_mean(key, _DESIGN_KEYS)
                self._refuse(f"design.{key}", f"is not a key of [design]{near}; it may have {', '.join(_DESIGN_KEYS)}")
        targets = {
            name: value for name, value in self._named(table, "targets") if self._figure(name, value, f"design.targets.{name}") is not None
        }
        free = table.get("free")
        paths = [free] if isinstance(free, str) else free
        if paths is not None and not (isinstance(paths, list) and paths and all(isinstance(path, str) for path in paths)):
            self._refuse(
                "design.free",
                f'must be the path of the dimension that moves, or a list of such, as "head.profile.depth"; got {short(free)}',
            )
            paths = None
        limits = {}
        for path, ends in self._table(table, "limits").items():
            if isinstance(ends, list) and len(ends) == 2 and all(isinstance(end, str) for end in ends):
                limits[path] = (ends[0], ends[1])
            else:
                self._refuse(f"design.limits.{path}", f'must be the least and the most, such as ["5 mm", "14 mm"]; got {short(ends)}')
        cutter = None
        if "cutter" in table:
            try:
                cutter = Cutter(**self._table(table, "cutter"))
            except PartError as error:
                self._take(error, "", "design.cutter.")
        ratio = next((name for name in targets if OUTPUTS[name].unit == "–"), None)
        spread = table.get("spread")
        if spread is not None and ratio is not None and self._figure(ratio, spread, "design.spread") is None:
            spread = None
        return DesignRequest(targets, None if paths is None else tuple(paths), limits, cutter, spread)

    def _table(self, table: Mapping[str, Any], key: str) -> dict[str, Any]:
        written = table.get(key, {})
        if not isinstance(written, dict):
            self._refuse(f"design.{key}", f"must be a table, [design.{key}]; got {short(written)}")
            return {}
        return written

    def _heads(self, written: Any) -> tuple[FlushHead | SpigotHead, ...] | None:
        if not isinstance(written, list) or not written:
            self._refuse(f"{self._section}.heads", f'must be a list of heads, such as ["pack/part"]; got {short(written)}')
            return None
        heads = []
        for index, item in enumerate(written):
            where = f"{self._section}.heads.{index}"
            part = self._part(item, "head", where)
            if part is None:
                continue
            try:
                head = TopEnd(head=part).head
            except PartError as error:
                self._take(error, "head", where)
            except AssemblyError as error:
                self._refuse(where, f"cannot be used: {error}")
            else:
                assert head is not None
                heads.append(head)
        return tuple(heads)

    def _stock(self, table: Mapping[str, Any]) -> GasketSet | None:
        if "stock" not in table:
            self._refuse(
                f"{self._section}.stock",
                f'is missing: the drawer of gaskets, by its id ("pack/part") or as [[{self._section}.stock.items]]',
            )
            return None
        written = table["stock"]
        if isinstance(written, str):
            part = self._by_id(written, "drawer", f"{self._section}.stock")
            return part if isinstance(part, GasketSet) else None
        if not isinstance(written, dict):
            self._refuse(f"{self._section}.stock", f"must be a drawer's id, or [[{self._section}.stock.items]]; got {short(written)}")
            return None
        written = dict(written)
        if isinstance(written.get("items"), list):
            items = []
            for index, item in enumerate(written["items"]):
                if isinstance(item, dict) and "gasket" in item:
                    part = self._part(item["gasket"], "gasket", f"{self._section}.stock.items.{index}.gasket")
                    item = {**item, "gasket": stand_in("base") if part is None else part}
                items.append(item)
            written["items"] = items
        try:
            return GasketSet(**written)
        except PartError as error:
            self._take(error, "", f"{self._section}.stock.")
            return None

    def _count(self, table: Mapping[str, Any], key: str, default: tuple[int, int] | None) -> tuple[int, int] | None:
        if key not in table:
            return default
        pair = table[key]
        if isinstance(pair, list) and len(pair) == 2 and all(type(number) is int for number in pair) and 0 <= pair[0] <= pair[1]:
            return pair[0], pair[1]
        self._refuse(f"{self._section}.{key}", f"must be the fewest and the most gaskets in that stack, such as [1, 3]; got {short(pair)}")
        return default

    def _least_gap(self, value: Any) -> str | None:
        if value == "none":
            return None
        try:
            gap = stated(value, KINDS["length"])
        except StatedValueError as error:
            self._refuse(f"{self._section}.least_gap", f'{error}; or "none" to lift it on purpose')
            return None
        if gap.si <= 0.0:
            self._refuse(f"{self._section}.least_gap", f'must be more than 0 mm, or "none" to lift it on purpose; got {gap.text!r}')
        return gap.text

    def _named(self, table: Mapping[str, Any], key: str) -> Iterable[tuple[str, Any]]:
        """The entries of a table of outputs whose names are outputs."""
        written = table.get(key, {})
        if not isinstance(written, dict):
            self._refuse(f"{self._section}.{key}", f"must be a table of outputs, [{self._section}.{key}]; got {short(written)}")
            return
        alone = _OF_THE_TABLE.get(self._section.partition(".")[0])
        known = self._known if alone is None else OUTPUTS
        for name, value in written.items():
            if name in known:
                yield name, value
            elif name in self._known:
                pack = next(one.pack for one in self._extra if one.output.name == name)
                self._refuse(f"{self._section}.{key}.{name}", f"is an output of pack {pack}, and not taken here: {alone}")
            else:
                # a section that takes none of packs is not helped by one
                may = "" if alone is not None else who_may_add(name, (one for one in self._catalogue.packs if one.id not in self._taken_in))
                self._refuse(
                    f"{self._section}.{key}.{name}", f"is not an output{did_you_mean(name, known)}; `topend names` lists them{may}"
                )

    def _target(self, name: str, value: Any) -> tuple[Figure, Figure] | None:
        where = f"{self._section}.targets.{name}"
        if not isinstance(value, list) or len(value) != 2:
            example = ", ".join(figure_example(self._known[name].unit))
            self._refuse(where, f"must be a value and its tolerance, such as [{example}]; got {short(value)}")
            return None
        figures = [self._figure(name, figure, f"{where}.{index}") for index, figure in enumerate(value)]
        if figures[0] is None or figures[1] is None:
            return None
        if not figures[1] > 0.0:
            self._refuse(f"{where}.1", f"is the tolerance and must be more than 0; got {short(value[1])}")
            return None
        return value[0], value[1]

    def _limit(self, key: str, name: str, value: Any) -> bool:
        return self._figure(name, value, f"{self._section}.{key}.{name}") is not None

    def _figure(self, name: str, value: Any, where: str) -> float | None:
        """The figure as a number, or None and a problem where it does not suit the output."""
        try:
            return figure_si(value, self._known[name].unit)
        except StatedValueError as error:
            self._refuse(where, str(error))
            return None
