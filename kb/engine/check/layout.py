"""Where the things that are named may stand in a chain: each way to use them is a layout of its own."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from itertools import product
from typing import NamedTuple

from kb.base.units import degrees
from kb.engine.check.things import Situation, Thing
from kb.engine.domain import Domain
from kb.engine.slots import COATS, NAMES
from kb.materials.cured import is_so_hot
from kb.rules.clauses import Facts
from kb.rules.roles import SLOTS
from kb.rules.words import duration

#: Beside these a coat is the first one: it lies on the gauge and its glue.
UNDER_FIRST_COAT = ("backing", "adhesive")
#: Where a coat is put, among the ways to use it.
AS_FIRST, OVER_ANOTHER = "as the first coat", "over another coat"
DRY_WET = tuple(i for i, name in enumerate(NAMES) if SLOTS[name].kind == "abrasive")


class Layout(NamedTuple):
    """One way to use the things: what stands in each slot that is known, and which option of its domain that is."""

    things: Mapping[int, Thing]
    #: The option in each of these slots; 0 where the slot is known to be empty. Any other slot is open.
    picks: Mapping[int, int]
    #: What tells it from other ways to use the same things.
    use: tuple[str, ...] = ()
    #: Whether a coat that nobody named lies between the gauge and the coats.
    apart: bool = False


def layouts(situation: Situation, domains: Sequence[Domain]) -> Iterator[Layout]:
    """Give every way to use the things of a situation together in one chain."""
    for ways in product(*_places(situation)):
        things = {slot: thing for way in ways for slot, thing in way.things.items()}
        empty = dict.fromkeys((slot for way in ways for slot in way.picks), 0)
        for chosen in product(*(_options(slot, thing, domains) for slot, thing in things.items())):
            picks = {slot: position for slot, (position, _) in zip(things, chosen, strict=True)}
            words = (*(word for way in ways for word in way.use), *(word for _, word in chosen if word))
            yield Layout(things, {**empty, **picks}, words, any(way.apart for way in ways))


def _places(situation: Situation) -> Iterator[list[Layout]]:
    """List for each kind the ways in which its things may stand on slots."""
    for kind in dict.fromkeys(slot.kind for slot in SLOTS.values()):
        named = situation.of_kind(kind)
        if not named:
            continue
        slots = [i for i, name in enumerate(NAMES) if SLOTS[name].kind == kind]
        if kind == "abrasive":
            yield list(_abrading(named))
        elif kind == "coating":
            yield list(_coating(named, situation))
        else:
            yield [Layout({slots[0]: named[0]}, {})]


def _abrading(named: Sequence[Thing]) -> Iterator[Layout]:
    """Lay one abrasive out as dry or wet; of two the first dry, then the second wet."""
    if len(named) == len(DRY_WET):
        yield Layout(dict(zip(DRY_WET, named, strict=True)), {})
    else:
        for slot, word in zip(DRY_WET, ("dry", "wet"), strict=True):
            yield Layout({slot: named[0]}, {}, (word,))


def _coating(named: Sequence[Thing], situation: Situation) -> Iterator[Layout]:
    """Coats one over another, innermost first: right on the gauge, or over some other coat.

    Beside a gauge or its glue that other coat lies `apart` from what was asked about. What is exposed is the outermost.
    With a job its surroundings count for every coat, under others or not.
    """
    on_gauge = any(situation.of_kind(kind) for kind in UNDER_FIRST_COAT)
    for first in range(min(len(COATS) - len(named), 1) + 1):
        slots = COATS[first : first + len(named)]
        above = COATS[first + len(named) : first + len(named) + 1]
        apart = bool(first) and on_gauge
        place = (OVER_ANOTHER,) if first else () if on_gauge else (AS_FIRST,)
        bare, covered = dict.fromkeys(COATS[first + len(named) :], 0), dict[int, int]()
        tops: list[tuple[dict[int, int], tuple[str, ...]]] = [(bare, ())]
        if not situation.exposures:
            tops = [(covered, ())] if situation.setting is None or not above else []
            if situation.setting is not None:
                tops += [(bare, ("outermost",)), *([(covered, ("under another coat",))] if above else [])]
        for empty, word in tops:
            yield Layout(dict(zip(slots, named, strict=True)), empty, (*place, *word), apart)


def _options(slot: int, thing: Thing, domains: Sequence[Domain]) -> list[tuple[int, str]]:
    """List the options of the slot that are this thing.

    An adhesive comes with each of its cures that may be meant, told where it has several.
    """
    found = _by_item(domains[slot]).get(thing.id, [])
    if thing.cured_c is None:
        return found
    cures = ((row, domains[slot].options[row[0]].cure) for row in found)
    return [row for row, cure in cures if cure and is_so_hot(cure, thing.cured_c)]


@lru_cache(maxsize=64)
def _by_item(domain: Domain) -> dict[str, list[tuple[int, str]]]:
    """Give the options of each item of a domain, told by their cure where there are several."""
    found: dict[str, list[tuple[int, str]]] = {}
    for position, option in enumerate(domain.options):
        if option.entry is not None:
            found.setdefault(option.id, []).append((position, cure_words(option.cure) if option.cure else ""))
    return {item: places if len(places) > 1 else [(places[0][0], "")] for item, places in found.items()}


def cure_words(cure: Facts) -> str:
    """Tell how an adhesive is cured, as the use that it is put to.

    >>> cure_words({"temperature_c": 120.0, "duration_min": 60.0})
    'cured at 120 degC for 1 h'
    """
    return f"cured at {degrees(cure['temperature_c'])} degC for {duration(cure['duration_min'])}"
