"""A cure beside an adhesive's name: "epoxy cured at 120 C" is what has such a cure, judged with that cure alone."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import replace

from kb.base.errors import BadInput
from kb.base.units import degrees
from kb.materials.heat import DEGREES, celsius
from kb.materials.readings import Reading
from kb.rules.clauses import Facts

_CURE = re.compile(r"\b(?:(?:heat|oven|post)[ -]?)?cur(?:e|ed|ing)\b(?:\s+(?:at|to))?", re.IGNORECASE)
_HOW_LONG = re.compile(
    r"(?:\bfor\s+)?(?<![\w.])\d+(?:\.\d+)?\s*(?:min(?:utes?)?|h(?:ours?|rs?)?|days?)\b", re.IGNORECASE
)
#: A cure that was rounded, or given in degrees Fahrenheit, is the one that is known [K].
_NEAR = 2.0


def cured_at(words: str, where: str) -> tuple[str, float, tuple[str, ...]] | None:
    """Part `words` into what is cured, how hot [degC], and what else is said of the cure; None where no heat is said.

    >>> cured_at("epoxy cured for 2 h at 120 C", "t"), cured_at("120 C cure epoxy film", "t")
    (('epoxy', 120.0, ('for 2 h',)), ('epoxy film', 120.0, ()))
    >>> cured_at("cured epoxy", "t"), cured_at("epoxy at 80 C", "t")
    (None, None)
    """
    heat = DEGREES.search(words)
    cures = list(_CURE.finditer(words))
    if heat is None or not cures:
        return None
    # The word beside the heat: another may belong to the name ("heat cure epoxy cured at 80 C").
    cure = min(cures, key=lambda found: max(heat.start() - found.end(), found.start() - heat.end()))
    first, then = sorted((heat.span(), cure.span()))
    rest = f"{words[: first[0]]} {words[first[1] : then[0]]} {words[then[1] :]}"
    long = tuple(found.strip() for found in _HOW_LONG.findall(rest))
    return " ".join(_HOW_LONG.sub(" ", rest).replace(",", " ").split()), celsius(heat, words, where), long


def with_cure(meant: Iterable[Reading], named: str, at_c: float, long: Sequence[str], where: str) -> list[Reading]:
    """Give the adhesives among `meant` that are cured so hot; BadInput where none is, or where these are none."""
    glues = [reading for reading in meant if reading.kind == "adhesive"]
    if not glues:
        raise BadInput(where, f"'{named}' is no adhesive: a cure is read beside one alone", f"write '{named}' alone")
    found = []
    for reading in glues:
        members = tuple(e for e in reading.members if any(is_so_hot(s, at_c) for s in e.facts["schedules"]))
        if members:
            strange = (*reading.not_known, *long)
            several = len(members) > 1
            name = reading.name if several else members[0].id
            found.append(
                replace(reading, name=name, members=members, is_class=several, not_known=strange, cured_c=at_c)
            )
    if not found:
        known = {s["temperature_c"] for reading in glues for e in reading.members for s in e.facts["schedules"]}
        said = ", ".join(degrees(c) for c in sorted(known))
        raise BadInput(where, f"'{named}' has no cure at {degrees(at_c)} degC that is known", f"one of {said} degC")
    return found


def is_so_hot(cure: Facts, at_c: float) -> bool:
    """Tell whether it is a cure at about so many degrees."""
    return abs(float(cure["temperature_c"]) - at_c) <= _NEAR
