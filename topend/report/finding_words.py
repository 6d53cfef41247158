"""Findings in words and as plain data: what, against which limit of what standing, what it does, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from topend.quantities import Finding
from topend.report.layout import heading, paragraph

__all__ = ["finding_dict", "finding_lines", "finding_rest"]


def finding_dict(one: Finding) -> dict[str, Any]:
    """A finding as plain data."""
    return {
        "code": one.code,
        "severity": one.severity,
        "message": one.message,
        "figure": one.figure,
        "limit": one.limit,
        "margin": one.margin,
        "unit": one.unit,
        "standing": one.standing,
        "source": one.source,
        "effect": one.effect,
        "do": one.do,
    }


def finding_lines(found: Iterable[Finding]) -> list[str]:
    """Findings as a section of a page, warnings first: what, against which limit of what standing, and what to do.

    >>> finding_lines([Finding("x", "warning", "too thin", "a thicker one", "common practice", figure=0.5, limit=0.6, unit="mm")])
    ['', 'WARNINGS', '  ! too thin', '      limit 0.6 mm (common practice)', '      do: a thicker one']
    """
    lines: list[str] = []
    found = list(found)
    for title, told in (
        ("Warnings", [one for one in found if one.severity != "note"]),
        ("Notes", [one for one in found if one.severity == "note"]),
    ):
        if told:
            lines += heading(title)
        for one in told:
            lines += paragraph(one.message, first="  ! " if one.severity != "note" else "  - ")
            rest = finding_rest(one)
            lines += paragraph(rest["limit"], first="      ", rest="        ")
            if one.effect:
                lines += paragraph(rest["effect"], first="      ", rest="        ")
            if one.do:
                lines += paragraph(rest["do"], first="      ", rest="          ")
    return lines


def finding_rest(one: Finding) -> dict[str, str]:
    """What stands below a finding's message: `limit` with its standing, `effect` in an engine, what to `do`; empty where not said."""
    limit = "" if one.limit is None else f"limit {one.limit:g} {one.unit} ".replace(" – ", " ")
    standing = f"{one.standing}, {one.source}" if one.source else one.standing
    return {
        "limit": f"{limit}({standing})" if limit else f"from {standing}",
        "effect": f"in an engine: {one.effect}" if one.effect else "",
        "do": f"do: {one.do}" if one.do else "",
    }
