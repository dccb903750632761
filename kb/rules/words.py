"""From structured facts to sentences: the one place where a message is put together.

>>> fill("{degreaser} above {service.high_c} degC", {"degreaser": {"name": "acetone"}, "service": {"high_c": 60.0}})
'acetone above 60 degC'
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping
from functools import lru_cache

from kb.base.units import degrees, ending_of, unit_words
from kb.rules.clauses import Missing, Ref, Scene, look_up
from kb.rules.findings import Finding
from kb.rules.roles import role_words
from kb.rules.unknowns import unknown_words

_HOLE = re.compile(r"\{([a-z_]+(?:\.[a-zA-Z0-9_.-]+)?)\}( min\b| days\b)?")
#: What joins the parts of a word of the vocabulary.
_HYPHEN = re.compile(r"(?<=[a-z0-9])[-_](?=[a-z])")
#: Below, minutes are told with seconds; from MANY_MIN on in hours, from MANY_H on in days.
FEW_MIN, MANY_MIN, MANY_H = 10, 60, 72
_MILLION = 1e6
#: What a role is called where nothing stands in it.
_NOTHING = {"substrate": "this surface", "cure": "this cure"}
#: Names of numbers that are counts: their unit is a word of the sentence.
_COUNTS = frozenset(("cycles", "thermal_cycles"))


def shown(value: object) -> str:
    """Show a value as a person writes it: no trailing zeros, yes and no, a dash between the ends of a range.

    >>> shown(60.0), shown((30.0, 65.0)), shown(True), shown(("dry-air", "steam")), shown(1e7), shown(9999.7)
    ('60', '30 to 65', 'yes', 'dry-air, steam', '10 million', '10000')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if abs(value) >= _MILLION:
            return f"{value / _MILLION:.4g} million"
        return f"{value:.4g}" if abs(value) < 9999.5 else f"{value:.0f}"
    if isinstance(value, (list, tuple)):
        if len(value) == 2 and all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in value):
            return f"{shown(value[0])} to {shown(value[1])}"
        return ", ".join(shown(v) for v in value)
    return str(value)


@lru_cache(maxsize=2048)
def named(name: str) -> tuple[str, str]:
    """Name a fact without the role that it is a fact of; and its unit ("" for none).

    >>> named("max_process_temperature_c"), named("resists.mineral-oil")
    (('max process temperature', 'degC'), ('resistance to mineral oil', ''))
    """
    words = (name.removesuffix(ending_of(name)) or name).replace("resists.", "resistance to ")
    return re.sub(r"[_.-]", " ", words), unit_words(name)


def fact_words(path: str) -> str:
    """Name a fact by what it is of; a role alone by its words.

    >>> fact_words("substrate.layer_um"), fact_words("over")
    ('layer of the part', 'the coat above')
    """
    role, _, name = path.partition(".")
    return f"{named(name)[0]} of {role_words(role)}" if name else role_words(role)


def value_words(value: object, unit: str = "") -> str:
    """Tell a value of a fact: minutes as people say them, words of the vocabulary without their hyphens.

    >>> value_words(("dry-air", "steam")), value_words(-20.0, "degC"), value_words(90.0, "min"), value_words(True)
    ('dry air, steam', '-20 degC', '1 h 30 min', 'yes')
    """
    if unit == "min" and isinstance(value, (int, float)) and not isinstance(value, bool):
        return duration(value)
    if unit == "degC" and isinstance(value, float):
        return f"{degrees(value)} degC"
    return f"{_HYPHEN.sub(' ', shown(value)) or 'none'} {unit}".rstrip()


def seen_words(seen: Iterable[tuple[str, object]]) -> str:
    """Tell the facts that a rule saw, with their values, by what they are facts of.

    >>> seen_words([("cure.temperature_c", 120.0), ("part.populated", True), ("cure.post_cure_min", 60.0)])
    'cure: temperature 120 degC, post cure 1 h; part: populated yes'
    """
    told: dict[str, list[str]] = {}
    for path, value in seen:
        role, _, name = path.partition(".")
        if path == "chain.possible":
            continue
        words, unit = named(name)
        label = role_words(role).removeprefix("the ")
        told.setdefault(label, []).append(f"{words} {value_words(value, unit)}")
    return "; ".join(f"{label}: {', '.join(facts)}" for label, facts in told.items())


def duration(minutes: float) -> str:
    """Tell minutes as people say them. From an hour on it is rounded up: nothing is promised too early.

    >>> duration(0.5), duration(2.5), duration(20), duration(1508), duration(13_311), duration(10_080)
    ('30 s', '2 min 30 s', '20 min', '25 h 8 min', '9 d 6 h', '7 days')
    """
    if minutes < MANY_MIN:
        seconds = round(minutes * 60) if minutes < FEW_MIN else round(minutes) * 60
        return _two(divmod(seconds, 60), "min", "s")
    if minutes < MANY_H * 60:
        return _two(divmod(_up(minutes), 60), "h", "min")
    days, hours = divmod(_up(minutes / 60), 24)
    return f"{days} d {hours} h" if hours else days_words(days)


def _two(counts: tuple[int, int], large: str, small: str) -> str:
    """Join two units, without the one of which there is none."""
    return " ".join(f"{n} {unit}" for n, unit in zip(counts, (large, small), strict=True) if n) or f"0 {large}"


def _up(value: float) -> int:
    return math.ceil(value - 1e-6)


def days_words(value: float) -> str:
    """Tell days.

    >>> days_words(1.0), days_words(0.5), days_words(30.0)
    ('1 day', '0.5 days', '30 days')
    """
    return f"{shown(value)} day{'' if value == 1 else 's'}"


def fill(template: str, scene: Scene) -> str:
    """Fill in `template`: `{role}` by the name of what stands there, `{role.field}` by that fact's value.

    >>> fill("ready after {chain.critical_path_min} min", {"chain": {"critical_path_min": 1508.0}})
    'ready after 25 h 8 min'
    >>> fill("{part} is at {bench.part_temperature_c} degC", {"bench": {"part_temperature_c": -5.5556}})
    'part is at -5.6 degC'
    """

    first, *rest = _taken_apart(template)
    holes = zip(rest[::3], rest[1::3], rest[2::3], strict=True)
    return first + "".join(_value_words(path, unit, scene) + words for path, unit, words in holes)


@lru_cache(maxsize=8192)
def _taken_apart(template: str) -> tuple[str, ...]:
    """Split a template into the words before its first hole, and then path, unit and the words after of each hole."""
    return tuple(piece or "" for piece in _HOLE.split(template))


def _value_words(path: str, unit: str, scene: Scene) -> str:
    """Say what stands in a hole: a name, or the value of a fact with its unit."""
    if "." not in path:
        facts = scene.get(path)
        return (str(facts.get("name", _NOTHING.get(path, path))) if facts else _NOTHING.get(path, path)) + unit
    value = look_up(path, scene)
    if isinstance(value, Missing):
        name = path.partition(".")[2]
        return ("an unknown number of" if named(name)[1] or name in _COUNTS else "(not known)") + unit
    if unit and isinstance(value, (int, float)):
        return (days_words if unit == " days" else duration)(float(value))
    if isinstance(value, float) and named(path)[1] == "degC":
        return degrees(value)
    if isinstance(value, (list, tuple)):
        return value_words(value)
    return shown(value) + unit


def roles_told(template: str) -> list[str]:
    """List the roles of which `template` tells something.

    >>> roles_told("Wipe {degreaser} over {substrate} for {degreaser.dry_min} min")
    ['degreaser', 'substrate', 'degreaser']
    """
    return [path.partition(".")[0] for path in _taken_apart(template)[1::3]]


def outline(template: str) -> str:
    """Tell what `template` says whatever stands in it: a role by its words, a value by what it is of, in brackets.

    >>> outline("{conditioner} works through the {substrate.layer_um} um finish")
    'the conditioner works through the [layer of the part] um finish'
    >>> outline("{adhesive} endures {cure.service_max_c} degC")
    'the adhesive endures [service max of the cure] degC'
    """

    def told(hole: re.Match[str]) -> str:
        path = hole[1]
        return (f"[{fact_words(path)}]" if "." in path else fact_words(path)) + (hole[2] or "")

    return _HOLE.sub(told, template)


def message(finding: Finding) -> str:
    """Say in one sentence what a finding says; where it hangs on unknown facts, which.

    `{calc.said}` in a message is the result `said` of a calculation that the rule's conditions make.
    """
    scene: dict[str, dict[str, object]] = {"calc": {result: value for _, _, result, value in finding.calculations}}
    asked = _asked_for(finding)
    for path, value in finding.seen:
        role, _, name = path.partition(".")
        scene.setdefault(role, {})[name] = asked.get(path, value)
    for role, _, name in finding.names:
        if name:
            scene.setdefault(role, {})["name"] = name
    said = fill(finding.rule.message, scene)
    if not finding.known and finding.unknown:
        names = {role: name for role, _, name in finding.names}
        return f"It is not known {unknown_words(finding.unknown, names)}. If this applies: {said}"
    if finding.rule.verdict == "need" and finding.met and finding.rule.needs:
        return f"{said} (met)"
    if finding.verdict == "block" and finding.rule.basis == "memory":
        settles = f"; what would settle it: {finding.rule.settle}" if finding.rule.settle else ""
        return f"{said} (recalled, from no source{settles})"
    if finding.recalled:
        names = {role: name for role, _, name in finding.names}
        said_of = unknown_words(finding.recalled, names)
        return f"{said} (recalled, from no source: {said_of}; its data sheet or a test would settle it)"
    return said


def _asked_for(finding: Finding) -> dict[str, tuple[object, ...]]:
    """Give of each list that the rule looks through what it looks for there: steam, and not the dry air beside it."""
    seen = dict(finding.seen)
    found: dict[str, tuple[object, ...]] = {}
    for clause in (clause for condition in finding.rule.when for clause in condition.clauses if clause.op == "has"):
        wanted = seen.get(clause.value.fact) if isinstance(clause.value, Ref) else clause.value
        there = [seen.get(path) for path in clause.facts()]
        for path, value in zip(clause.facts(), there, strict=True):
            others = wanted if path == clause.fact else there[0]
            if isinstance(value, tuple) and others is not None:
                held = tuple(
                    one for one in value if one in (others if isinstance(others, (list, tuple)) else (others,))
                )
                found[path] = tuple(dict.fromkeys((*found.get(path, ()), *held)))
    return {path: held for path, held in found.items() if held}


def finding_json(finding: Finding) -> Mapping[str, object]:
    """Give a finding as the JSON answers hold it."""
    rule = finding.rule
    return {
        "rule": rule.id,
        "verdict": finding.verdict,
        "about": list(finding.about),
        "message": message(finding),
        "because": rule.because,
        "instead": rule.instead or None,
        "basis": rule.basis,
        "sources": list(rule.sources),
        "settle": rule.settle or None,
        "known": finding.known,
        "met": finding.met,
        "seen": {path: list(v) if isinstance(v, tuple) else v for path, v in finding.seen},
        "unknown": list(finding.unknown),
        "recalled": list(finding.recalled),
        "calculations": [
            {"name": name, "inputs": _plain(inputs), "result": {result: value}}
            for name, inputs, result, value in finding.calculations
        ],
    }


def _plain(value: object) -> object:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, (list, tuple)) else value
