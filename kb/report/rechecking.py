"""How earlier choices and records stand today: for a terminal and for programs."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from kb.report.first import bond_words
from kb.report.text import wrapped
from kb.rules.words import finding_json, message
from kb.work.rechecking import Rechecked


def recheck_json(found: Sequence[Rechecked]) -> dict[str, Any]:
    """Give `tackroom.recheck/1`."""
    return {
        "schema": "tackroom.recheck/1",
        "chains": [
            {
                "job": one.job,
                "of": one.of,
                "items": dict(one.items),
                "verdict": one.verdict,
                "findings": [finding_json(finding) for finding in one.findings],
                "missing": list(one.missing),
                "behind": one.behind,
                "first": one.first.named if one.first else None,
            }
            for one in found
        ],
    }


def recheck_text(found: Sequence[Rechecked]) -> str:
    """Give a line for each chain, with what speaks against it now."""
    return "\n".join(_lines(found)) + "\n"


def _lines(found: Sequence[Rechecked]) -> Iterator[str]:
    if not found:
        yield "These jobs have neither a choice nor a record: there is nothing to look at."
    for one in found:
        yield wrapped(f"{one.job}, {one.of}: {_standing(one)}", "", 2)
        for finding in one.findings:
            yield wrapped(f"{message(finding)} [{finding.rule.id}]", "  - ", 4)


def _standing(one: Rechecked) -> str:
    if one.verdict == "first":
        return "first still."
    instead = f" First is now {bond_words(one.first)}." if one.first else " There is no chain for this job now."
    if one.verdict == "unknown-item":
        return f"the catalog no longer has {', '.join(one.missing)}.{instead}"
    if one.verdict == "behind":
        return f"may be used still, and is {one.behind} points behind.{instead}"
    return f"REFUSED now.{instead}"
