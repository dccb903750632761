"""Scoring of what names are taken to mean, against tests/data/names.toml and the like."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from kb.base.errors import BadInput
from kb.knowledge import Knowledge
from kb.materials import classes
from kb.materials.identify import identify
from kb.materials.resolve import Resolved, substrate

DATA = Path(__file__).parent / "data"


@dataclass(frozen=True)
class Verdict:
    """What became of one name."""

    typed: str
    meant: str
    got: str
    right: bool
    #: Taken without asking, and another than what was meant.
    wrong: bool


def groups(file: str) -> list[dict[str, Any]]:
    found: list[dict[str, Any]] = tomllib.loads((DATA / file).read_text())["names"]
    return found


def judged(file: str, knowledge: Knowledge) -> Iterator[Verdict]:
    """Each name of a file, with whether it is understood."""
    for group in groups(file):
        for typed in group["typed"]:
            yield _judge(typed, group, knowledge)


def _judge(typed: str, group: dict[str, Any], knowledge: Knowledge) -> Verdict:
    offered = [m.entry.id for m in identify(typed, knowledge)]
    taken: Resolved | None
    try:
        taken = substrate(typed, knowledge, "t")
    except BadInput:
        taken = None
    got = "nothing" if taken is None and not offered else f"ask {offered[:4]}" if taken is None else taken.entry.id
    if "item" in group:
        right = taken.entry.id == group["item"] if taken else offered[:1] == [group["item"]]
        return Verdict(typed, group["item"], got, right, taken is not None and not right)
    if "class" in group:
        meant = classes.class_meant(group["class"], knowledge)
        same = taken is not None and meant is not None and is_class(taken, meant, knowledge)
        return Verdict(typed, f"class {group['class']}", got, same, taken is not None and not same)
    if group.get("nothing"):
        return Verdict(typed, "nothing", got, got == "nothing", taken is not None)
    several = len({*offered} & {*group["ask"]}) >= 2 if group["ask"] else True
    return Verdict(typed, f"ask {group['ask']}", got, taken is None and several, taken is not None)


def is_class(taken: Resolved, meant: Any, knowledge: Knowledge) -> bool:
    return set(taken.members) == {e.id for e in classes.members(meant, knowledge)}
