"""Findings that data packs add, made ready to stand beside the library's own: checked, and told from them.

A `TopEnd` carries them (`TopEnd.with_findings`), and `te.findings` asks them of every result of it. There is no list of them anywhere
else: what no top end was given is nowhere. Plans and columns know nothing of them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any, Final, get_args

from topend.errors import PackError, Problem, fault_told, untold
from topend.quantities import FINDINGS, ExtraFinding, Finding, Standing

__all__ = ["codes_of", "judged", "judgements_joined", "trouble_with_judgement"]

_NAME: Final = re.compile(r"[A-Za-z][A-Za-z0-9_]{0,63}")
_SEVERITIES: Final = ("note", "warning", "refusal")
_STANDINGS: Final = get_args(Standing)
_TEXTS: Final = ("message", "do", "source", "unit", "effect")
_LONGEST: Final = 2_000
#: What one judgement may find in one top end: more than anybody reads.
_MOST: Final = 1_000


def codes_of(extra: ExtraFinding) -> tuple[str, ...]:
    """The codes of all that a judgement may find.

    >>> codes_of(ExtraFinding("wide", list)), codes_of(ExtraFinding("width", list, codes=("wide", "narrow")))
    (('wide',), ('wide', 'narrow'))
    """
    return extra.codes or (extra.name,)


def trouble_with_judgement(extra: ExtraFinding) -> str | None:
    """What keeps a judgement from being one, as the object of "yields"; None where nothing does.

    >>> trouble_with_judgement(ExtraFinding("gap_small", list))
    "'gap_small', which topend itself finds; give it another code"
    """
    if not isinstance(extra.name, str) or not _NAME.fullmatch(extra.name):
        return f"{str(extra.name)[:80]!r}, which is no name: letters, digits and _, a letter first"
    if isinstance(extra.codes, str) or not isinstance(extra.codes, Sequence) or not all(isinstance(one, str) for one in extra.codes):
        return f'{extra.name!r}, whose codes must be a tuple of names, such as ("spigot_tight",); got {extra.codes!r}'
    for code in codes_of(extra):
        which = repr(code[:80]) if code == extra.name else f"{extra.name!r}, whose code {code[:80]!r}"
        beside = ", which" if code == extra.name else ""
        if not _NAME.fullmatch(code):
            return f"{which}{beside} is no name: letters, digits and _, a letter first"
        if code in FINDINGS:
            own = "topend itself finds" if beside else "is what topend itself finds"
            return f"{which}{beside} {own}; give it another code"
    try:
        hash(extra.judge)
    except Exception:
        return f"{extra.name!r}, whose judge cannot be told from others (it has no hash); give a function"
    return None if callable(extra.judge) else f"{extra.name!r}, whose judge must be a function; got {extra.judge!r}"


def judgements_joined(own: Iterable[ExtraFinding], more: Iterable[ExtraFinding]) -> tuple[ExtraFinding, ...]:
    """`own` and `more` together, each once.

    Raises `PackError` for what cannot be a judgement, and for two that may find one code, both packs named.
    """
    made: dict[ExtraFinding, None] = {}
    first: dict[str, ExtraFinding] = {}
    if not isinstance(more, Iterable):
        told = f"must be a list of ExtraFinding records (catalogue.extra_findings); got {more!r}"
        raise PackError("findings of packs", [Problem("", told)])
    for one in (*own, *more):
        if not isinstance(one, ExtraFinding):
            raise PackError("findings of packs", [Problem("", f"must be ExtraFinding records (catalogue.extra_findings); got {one!r}")])
        trouble = trouble_with_judgement(one)
        if trouble is not None:
            raise _refused(one, f"yields {trouble}")
        listed = replace(one, codes=tuple(one.codes), outputs=tuple(one.outputs))
        for code in codes_of(listed):
            other = first.setdefault(code, listed)
            if other != listed:
                whose = f"pack {other.pack}" if other.pack else "a judgement that belongs to no pack"
                again = " in another version" if other.pack and other.pack == one.pack and other.digest != one.digest else ""
                raise _refused(one, f"{code!r} is found by {whose}{again} too; load one of the two")
        made[listed] = None
    return tuple(made)


def judged(extra: ExtraFinding, result: Any, *, declared: bool) -> list[Finding]:
    """What `extra` finds in `result`, each with the pack it is from; with `declared`, under its own codes alone.

    Raises `PackError`, the pack named, where its code fails or yields what is no finding.
    """
    made: list[Finding] = []
    # where it is to be had from its pack, and is not, that is told as it is
    judge = extra.judge.here() if hasattr(extra.judge, "here") else extra.judge
    try:
        for found in judge(result):
            trouble = _trouble_in(found)
            if trouble is not None:
                raise TypeError(trouble)
            if declared and found.code not in codes_of(extra):
                raise TypeError(f"it finds {found.code!r}, and says that it finds {', '.join(codes_of(extra))}; name it in codes")
            if len(made) == _MOST:
                raise TypeError(f"it finds more than {_MOST} things in one top end; it must tell them together")
            figure, limit = (None if one is None else float(one) for one in (found.figure, found.limit))
            made.append(replace(found, figure=figure, limit=limit, pack=extra.pack, digest=extra.digest))
    except (Exception, SystemExit) as fault:
        problem = Problem(f"the finding {extra.name}", f"fails: {fault_told(fault)}")
        raise PackError(f"pack {extra.pack or '(not named)'}", [problem]) from fault
    return made


def _trouble_in(found: Any) -> str | None:
    """What keeps a record that a judgement yields from being shown; None where nothing does."""
    if not isinstance(found, Finding):
        return f"it yields a {type(found).__name__}; it must yield Finding records"
    if not isinstance(found.code, str) or not _NAME.fullmatch(found.code):
        return f"it yields a Finding with the code {found.code!r}, which is no name"
    for key, allowed in (("severity", _SEVERITIES), ("standing", _STANDINGS)):
        if getattr(found, key) not in allowed:
            return f"{found.code}: {key} must be one of {', '.join(allowed)}; got {getattr(found, key)!r}"
    for key in _TEXTS:
        if not isinstance(getattr(found, key), str):
            return f"{found.code}: {key} must be a text; got {getattr(found, key)!r}"
        if len(getattr(found, key)) > _LONGEST:
            return f"{found.code}: {key} has {len(getattr(found, key))} letters; at most {_LONGEST} are told"
        if untold(getattr(found, key)):
            return f"{found.code}: {key} holds {untold(getattr(found, key))}; it must be one line of print"
    for key in ("figure", "limit"):
        value = getattr(found, key)
        if value is not None and not math.isfinite(float(value)):
            return f"{found.code}: {key} must be a finite number, or None where there is none; got {value!r}"
    return None


def _refused(extra: ExtraFinding, message: str) -> PackError:
    return PackError(f"pack {extra.pack or '(not named)'}", [Problem("topend_findings" if extra.pack else "", message)])
