"""What surrounds the gauge in service: exposures, the figures that a job gives of them, and what rules read of both.

>>> around = Surroundings(("steam",), {}, (15.0, 35.0), None, 7.0)
>>> around.facts()["high_c"], around.facts()["stated_high_c"]
(100.0, 35.0)
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Iterator, Mapping
from functools import cache
from typing import Annotated, Any, Literal, NamedTuple

from pydantic import Field

from kb.base.lexicon import folded
from kb.base.models import NotNegative, Table
from kb.base.places import shipped

Contact = Literal["vapour", "splash", "immersion"]
#: Hours a day for which a wet exposure is wet, where a job doesn't say.
ALL_DAY_H = 24.0
#: Gauge pressure of a metre of water [bar].
BAR_PER_M = 0.1


class Conditions(Table):
    """What a job says of one exposure, beside that it is there."""

    depth_m: NotNegative | None = None
    pressure_bar: NotNegative | None = None
    concentration_pct: Annotated[float, Field(ge=0, le=100)] | None = None
    wet_h_per_day: Annotated[float, Field(gt=0, le=24)] | None = None
    contact: Contact | None = None
    dose_kgy: NotNegative | None = None
    cathodic_protection: bool | None = None
    of: tuple[str, ...] = ()

    def given(self) -> dict[str, Any]:
        """Tell what it says, by name."""
        return {name: value for name, value in self if value not in (None, ())}


class Exposure(NamedTuple):
    """What an exposure means by itself: a row of exposures.toml."""

    contact: Contact
    wet: bool = False
    creeps_in: bool = False
    through: bool = False
    at_least_c: float | None = None
    at_most_c: float | None = None
    at_least_by_bar: tuple[tuple[float, float], ...] = ()
    takes: tuple[str, ...] = ()
    assumed: Mapping[str, float] = {}
    kinds: tuple[str, ...] = ()
    kinds_as: str = ""

    def least_c(self, pressure_bar: float) -> float | None:
        """Give the least temperature that it brings at a pressure; None where it brings none."""
        return max((c for bar, c in self.at_least_by_bar if bar <= pressure_bar), default=self.at_least_c)


@cache
def exposures() -> Mapping[str, Exposure]:
    """Give every exposure by id, from exposures.toml."""
    rows = tomllib.loads((shipped()[1] / "exposures.toml").read_text(encoding="utf-8"))
    return {name: Exposure(**{key: _fixed(value) for key, value in row.items()}) for name, row in rows.items()}


@cache
def kinds_facts() -> Mapping[str, str]:
    """Give the exposures that have kinds, each with the fact of the service that holds those a job means.

    >>> kinds_facts()["chemical-immersion"]
    'chemicals'
    """
    return {name: exposure.kinds_as for name, exposure in exposures().items() if exposure.kinds}


def _fixed(value: Any) -> Any:
    if isinstance(value, list):
        return tuple(map(_fixed, value))
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


#: An exposure, what it means, and what a job says of it.
_Row = tuple[str, Exposure, Conditions]
#: Figures that grades of resistance are held to, beside heat and time.
GRADED = ("concentration_pct", "dose_kgy")
_NOTHING = Conditions()
_BOTH = '{ is = "phosphate-ester-fluid", of = ["alkyl", "triaryl"] }'


class Surroundings(NamedTuple):
    """The exposures of a job with the figures that it gives, its temperatures and its duration."""

    words: tuple[str, ...]
    conditions: Mapping[str, Conditions]
    span_c: tuple[float, float]
    peak_c: float | None
    days: float

    def facts(self) -> dict[str, Any]:
        """Tell the facts of the service that follow.

        Each figure is the hardest over all exposures, given or assumed.
        """
        low, high = self.span_c
        rows = [(word, exposures()[word], self.conditions.get(word, _NOTHING)) for word in self.words]
        hottest = max([high, *(c for _, e, said in rows if (c := e.least_c(said.pressure_bar or 0.0)) is not None)])
        depths = [*_figures(rows, "depth_m")]
        facts: dict[str, Any] = {
            "exposures": tuple(sorted(self.words, key=list(exposures()).index)),
            "stated_low_c": low,
            "stated_high_c": high,
            "low_c": min([low, *(e.at_most_c for _, e, _ in rows if e.at_most_c is not None)]),
            "high_c": hottest,
            "peak_c": max(hottest, high if self.peak_c is None else self.peak_c),
            "depth_m": max(depths, default=0.0),
            "pressure_bar": max([*_figures(rows, "pressure_bar"), *(m * BAR_PER_M for m in depths)], default=0.0),
            "wet_days": max((self._wet(said) for _, e, said in rows if e.wet), default=0.0),
            "immersed_in": tuple(word for word, e, said in rows if (said.contact or e.contact) == "immersion"),
            "creeps_in": tuple(word for word, e, _ in rows if e.creeps_in),
            "met": tuple(self._met(rows, hottest)),
            "assumed": tuple(dict.fromkeys(line for row in rows for line in _assumed(*row))),
        }
        for name in GRADED:
            facts[name] = max(_figures(rows, name), default=0.0)
        for word, name in kinds_facts().items():
            there = exposures()[word].kinds if word in self.words else ()
            facts[name] = self.conditions.get(word, _NOTHING).of or there
        protected = [said.cathodic_protection for _, _, said in rows if said.cathodic_protection is not None]
        return {**facts, "stated_protection": bool(protected), "cathodic_protection": any(protected)}

    def _wet(self, said: Conditions) -> float:
        """Give the days that an exposure is wet, taken together."""
        return self.days * (said.wet_h_per_day or ALL_DAY_H) / ALL_DAY_H

    def _met(self, rows: Iterable[_Row], hottest: float) -> Iterator[tuple[str, str, float]]:
        """Give each exposure with each of its figures, as grades of resistance are held to them."""
        for row in rows:
            yield row[0], "high_c", hottest
            yield row[0], "days", self.days
            yield from ((row[0], name, value) for name in GRADED for value in _figures([row], name))


def _figures(rows: Iterable[_Row], name: str) -> Iterator[float]:
    """Give a figure of every exposure that has it: as the job gives it, or as it is assumed."""
    for _, exposure, said in rows:
        value = getattr(said, name)
        value = exposure.assumed.get(name) if value is None else value
        if value is not None:
            yield float(value)


def _assumed(word: str, exposure: Exposure, said: Conditions) -> Iterator[str]:
    """Tell what of an exposure is assumed, since the job doesn't say it."""
    for name, value in exposure.assumed.items():
        if getattr(said, name) is None:
            yield f"{name} of {word}: {value:g}"
    if exposure.kinds and not said.of:
        yield f"every kind of {word}"


def implied(words: Iterable[str], of: Mapping[str, tuple[str, ...]] = {}) -> dict[str, tuple[str, ...]]:
    """Give the facts of a service that exposures bring by themselves, where no more than their kinds is said of them.

    >>> found = implied(["steam", "phosphate-ester-fluid"])
    >>> found["immersed_in"], found["phosphate_esters"], found["chemicals"]
    (('phosphate-ester-fluid',), ('alkyl', 'triaryl'), ())
    """
    rows = {word: exposures()[word] for word in words}
    return {
        "immersed_in": tuple(word for word, e in rows.items() if e.contact == "immersion"),
        "creeps_in": tuple(word for word, e in rows.items() if e.creeps_in),
        **{name: (of.get(word) or rows[word].kinds) if word in rows else () for word, name in kinds_facts().items()},
    }


@cache
def not_judged(what: Literal["surroundings", "surfaces", "parts"] = "surroundings") -> Mapping[str, str]:
    """Tell what to do about each surrounding, surface or part that no rule judges, by what people call it, folded."""
    rows = tomllib.loads((shipped()[1] / "not-judged.toml").read_text(encoding="utf-8"))[what]
    return {folded(words): row["says"] for row in rows for words in row["words"]}


@cache
def asked() -> Mapping[str, Any]:
    """Tell what people call things, exposures and surfaces: asked.toml as it stands."""
    return tomllib.loads((shipped()[1] / "asked.toml").read_text(encoding="utf-8"))


@cache
def said_as() -> Mapping[str, str]:
    """Tell what people call each exposure, folded, with the exposure that they mean: the words that `check` takes."""
    plain = asked()["exposures"].items()
    found = {folded(words): exposure for exposure, called in plain for words in (exposure, *called)}
    return {**found, **{words: exposure for words, (exposure, _) in _kinds_said_as().items()}}


@cache
def heated_as() -> Mapping[str, str]:
    """Tell what people call an exposure together with its heat, folded, with the exposure.

    >>> heated_as()["hot oil"]
    'mineral-oil'
    """
    return {folded(words): exposure for exposure, called in asked()["heated"].items() for words in called}


@cache
def _kinds_said_as() -> Mapping[str, tuple[str, str]]:
    """Tell what people call one kind of an exposure, folded, with the exposure and the kind."""
    return {
        folded(words): (exposure, kind)
        for exposure, kinds in asked()["kinds"].items()
        for kind, called in kinds.items()
        for words in called
    }


def named(word: Any) -> Any:
    """Give the exposure that a word means; the word itself where it means none.

    >>> named("kerosene"), named("Salt spray"), named("vacuum"), named("moonlight")
    ('hydrocarbon-fuel', 'salt-fog', 'vacuum', 'moonlight')
    """
    return said_as().get(folded(word), word) if isinstance(word, str) and word not in exposures() else word


def split(entries: Iterable[Any]) -> tuple[list[Any], dict[str, Any]]:
    """Part the entries of `service.exposures` into their words and what their tables, or their words, say beside them.

    >>> split(["humid-air", {"is": "sea water", "depth_m": 40}])
    (['humid-air', 'sea-water-immersion'], {'sea-water-immersion': {'depth_m': 40}})
    >>> split(["turbine control fluid"])
    (['phosphate-ester-fluid'], {'phosphate-ester-fluid': {'of': ['triaryl']}})
    """
    words: list[Any] = []
    said: dict[str, Any] = {}
    for entry in entries:
        table = entry if isinstance(entry, Mapping) else {"is": entry}
        typed = table.get("is")
        if isinstance(entry, Mapping) and not isinstance(typed, str):
            raise ValueError(
                'an exposure\'s table needs `is`, for instance { is = "sea-water-immersion", depth_m = 40 }'
            )
        word = named(typed)
        words.append(word)
        kind = ""
        # What is written as an exposure is called says no kind of it: nothing need be read to tell.
        if isinstance(typed, str) and typed not in exposures():
            _, kind = _kinds_said_as().get(folded(typed), ("", ""))
        given = {**({"of": [kind]} if kind else {}), **{name: value for name, value in table.items() if name != "is"}}
        if given and word in said:
            raise ValueError(f"'{word}' stands there twice with figures or kinds; write one table: {_BOTH}")
        if given:
            said[word] = given
    return words, said


def check(words: Iterable[str], conditions: Mapping[str, Conditions]) -> None:
    """Hold what is said of exposures to what can be said of them; ValueError with the mend where it can't."""
    for word, said in conditions.items():
        if word not in set(words):
            raise ValueError(f"conditions: '{word}' is not among the exposures; add it there, or take its figures out")
        exposure = exposures()[word]
        takes = (*exposure.takes, *(("of",) if exposure.kinds else ()))
        for name in said.given():
            if name not in takes:
                mend = f"it takes {', '.join(takes)}" if takes else "it takes no figures"
                raise ValueError(f"'{word}' has no {name}; {mend}")
        for kind in said.of:
            if kind not in exposure.kinds:
                raise ValueError(f"'{word}' is of no kind '{kind}'; kinds are {', '.join(exposure.kinds)}")
