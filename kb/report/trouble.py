"""Conflict and relaxations, in JSON and in words."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Any

from kb.base.units import degrees, unit_of
from kb.engine.chain import Chain
from kb.engine.conflict import MOST_PLANS, Change, Relaxation, Trouble
from kb.engine.requirements import Requirement
from kb.report.text import days, hours, listed
from kb.rules.roles import SLOTS
from kb.rules.words import duration, message, shown

ITEM_SLOTS = tuple(slot for slot in SLOTS if not slot.startswith("coating"))
#: What a requirement asks of a chain, after "Nothing …"; {0} is the value. A field and a word before the field alone.
_ASKS = {
    "part.surface": "holds on a surface that is {0}",
    "part.max_process_temperature_c": "cures within {0} degC",
    "part.populated": "goes beside live parts",
    "part.thickness_mm": "suits a part {0} mm thick",
    "part.clamping weights-only": "cures under weights alone",
    "part.clamping thumb-only": "cures under a thumb alone",
    "part.orientation vertical": "stays on a vertical face",
    "part.orientation overhead": "stays on an overhead face",
    "part.no_abrading": "goes on a face that may not be abraded",
    "part.tested_free_of": "goes on a part that nobody has tested for {0}",
    "gauge.backing": "has a backing of {0}",
    "batch.boards": "serves {0} parts",
    "batch.gauges_per_board": "serves {0} gauges a part",
    "bench.air_temperature_c": "can be applied in air at {0} degC",
    "bench.relative_humidity_pct": "can be applied at {0} % humidity",
    "bench.part_temperature_c": "can be applied to a part at {0} degC",
    "bench.dust_collector none": "goes without a dust collector",
    "bench.dust_collector dry": "goes with a dry dust collector",
    "limits.ready_within_h": "is ready within {0}",
    "limits.exclude_hazards": "avoids the hazard '{0}'",
    "limits.outgassing": "passes the outgassing limits",
    "limits.removable": "comes off again",
    "choose.adhesive": "is what was chosen as the adhesive",
    "choose.cure": "is cured as was chosen",
    "choose.backing": "has the backing that was chosen",
    "choose.treatment": "has the treatment that was chosen",
    "choose.coatings": "has the coats that were chosen",
    "service.temperature_c[0]": "lives at {0} degC",
    "service.temperature_c[1]": "lives at {0} degC",
    "service.peak.temperature_c": "survives {0} degC",
    "service.peak.duration_h": "stands its peak for {0} h",
    "service.exposures": "stands {0}",
    "depth_m": "lies {0} m deep",
    "pressure_bar": "holds {0} bar",
    "concentration_pct": "stands a strength of {0} %",
    "dose_kgy": "stands {0} kGy",
    "service.measurement": "serves both static and dynamic measurement",
    "service.duration_days": "lasts {0}",
    "service.max_strain_ue": "follows {0} microstrain",
    "service.cycles": "lasts {0} cycles",
}
#: What to do about a field, after "either"; {0} is the value that was asked, {1} the new one.
_CHANGES = {
    "part.max_process_temperature_c": "let the part be heated to {1} degC (not {0}) while the adhesive cures",
    "part.populated": "bond the part before its live parts are on",
    "part.thickness_mm": "take a part {1} mm thick (not {0})",
    "part.clamping": "make room for any clamp",
    "part.orientation": "turn the face level",
    "part.no_abrading": "let the face be abraded",
    "part.tested_free_of": "have the part tested, and found free of {1}",
    "gauge.backing": "leave the backing open",
    "batch.boards": "do one part at a time",
    "batch.gauges_per_board": "do one gauge a part",
    "bench.air_temperature_c": "bring the room to {1} degC (from {0})",
    "bench.relative_humidity_pct": "bring the room to {1} % humidity (from {0})",
    "bench.part_temperature_c": "bring the part to {1} degC (from {0}) for the work",
    "bench.dust_collector": "draw the dust into a {1} collector",
    "limits.ready_within_h": "allow {1} (not {0}) until it is ready",
    "limits.outgassing": "drop the outgassing limits",
    "limits.removable": "let it stay on the part",
    "service.temperature_c[0]": "keep the service at {1} degC and above (not {0})",
    "service.temperature_c[1]": "keep the service at {1} degC and below (not {0})",
    "service.peak": "do without the peak",
    "service.peak.temperature_c": "keep the peak to {1} degC (not {0})",
    "service.peak.duration_h": "keep the peak to {1} h (not {0})",
    "depth_m": "lay it no deeper than {1} m (not {0})",
    "pressure_bar": "keep the pressure to {1} bar (not {0})",
    "concentration_pct": "keep the liquid to {1} % (not {0})",
    "dose_kgy": "end at {1} kGy (not {0})",
    "service.measurement": "measure {1} only",
    "service.duration_days": "end the service after {1} (not {0})",
    "service.max_strain_ue": "keep the strain to {1} microstrain (not {0})",
    "service.cycles": "end after {1} cycles (not {0})",
}
_LET_GO = {
    "part.max_process_temperature_c": "let the part be heated as far as its material stands",
    "limits.ready_within_h": "drop the time limit",
    "choose.adhesive": "leave the adhesive open",
    "choose.cure": "leave the cure open",
    "choose.backing": "leave the backing open",
    "choose.treatment": "leave the treatment open",
    "choose.coatings": "leave the coats open",
}
#: More of these does no harm, and nobody measures them to four digits.
_MEASURED = frozenset(("part.thickness_mm",))
#: Exposures of which the id is no noun.
_EXPOSURES = {
    "condensing": "condensation",
    "outdoor-weather": "weather outdoors",
    "fresh-water-immersion": "immersion in fresh water",
    "sea-water-immersion": "immersion in sea water",
    "oxygen-enriched": "enriched oxygen",
}
#: More ways out than this make no sentence; each has a line of its own as well.
MOST_TOLD = 3
#: Parts of fewer days than this are told in hours.
_IN_HOURS_DAYS = 10
_SHORT_OF = " ({0} itself won't do)"


def items_of(chain: Chain) -> dict[str, Any]:
    """Item id by slot; None for an empty slot; coatings innermost first."""
    items: dict[str, Any] = {slot: chain.pick(slot).id or None for slot in ITEM_SLOTS}
    return {**items, "coatings": [coat.id for coat in chain.coatings]}


def conflict_json(trouble: Trouble) -> list[dict[str, Any]]:
    """Give the requirements of the conflict; the substrate itself where letting go of everything else would not help.

    Empty where the search was stopped before it found any.
    """
    found = [{"field": r.field, "value": r.asked} for r in trouble.conflict]
    return found if found or not trouble.complete else [{"field": "part.substrate", "value": trouble.substrate.id}]


def relaxation_json(relaxation: Relaxation) -> dict[str, Any]:
    """Give the changes, the chain that they give, and both in a sentence."""
    return {
        "change": [{"field": c.field, "from": c.old, "to": c.new} for c in relaxation.changes],
        "gives": items_of(relaxation.gives),
        "message": relaxation_words(relaxation),
    }


def search_json(trouble: Trouble) -> dict[str, Any]:
    """Tell how many jobs were tried for it, of how many at most, and whether every smallest change was found."""
    return {"jobs_tried": trouble.plans, "jobs_at_most": MOST_PLANS, "complete": trouble.complete}


def relaxation_words(relaxation: Relaxation) -> str:
    """Give the changes in one sentence, and the gravest doubt of the chain that they give."""
    said = listed([change_words(change) for change in relaxation.changes])
    chain = relaxation.gives
    bond = chain.pick("adhesive").entry or chain.pick("backing").entry
    doubt = f" Doubtful still: {message(relaxation.doubt)}." if relaxation.doubt is not None else ""
    return f"{said[0].upper()}{said[1:]}; then bond with {bond.name if bond else 'what it gives'}.{doubt}"


def change_words(change: Change) -> str:
    """Write one change as something to do.

    >>> change_words(Change("service.temperature_c[1]", 300.0, 84.0, 85.0))
    "keep the service at 84 degC and below (not 300) (85 itself won't do)"
    >>> change_words(Change("service.temperature_c[1]", 85.0, 84.0, 85.0))
    'keep the service at 84 degC and below (not 85)'
    >>> change_words(Change("service.duration_days", 30.0, 1.233))
    'end the service after 29 h 35 min (not 30 days)'
    >>> change_words(Change("service.exposures", ["humid-air", "mineral-oil"], ["humid-air"]))
    'keep it from mineral oil'
    """
    field, old, new, beyond = change
    if new is None and field in _LET_GO:
        return _LET_GO[field]
    if isinstance(old, list) and (gone := [word for word in old if word not in new]):
        return _fewer(field, gone)
    past = _SHORT_OF.format(shown(beyond)) if beyond not in (None, old) else ""
    told = shown(_round_up(new)) if field in _MEASURED else _told(field, new)
    return _CHANGES[_key(field)].format(_told(field, old), told) + past


def _round_up(value: float) -> float:
    """Round up to two digits, as people measure.

    >>> _round_up(0.8537), _round_up(12.0)
    (0.86, 12.0)
    """
    step = 10.0 ** (math.floor(math.log10(value)) - 1)
    return round(math.ceil(value / step - 1e-9) * step, 9)


def _key(field: str) -> str:
    """Give the field, or of a figure of some exposure its name alone."""
    return field.rpartition(".")[2] if field.startswith("service.conditions.") else field


def _told(field: str, value: Any) -> str:
    if field == "limits.ready_within_h" and value is not None:
        return hours(value)
    if unit_of(field.partition("[")[0]) == "degC" and isinstance(value, float):
        return degrees(value)
    if field == "service.duration_days" and value < _IN_HOURS_DAYS and value % 1:
        # Not a minute longer than it may be.
        return duration(math.floor(value * 1440 + 1e-6))
    return days(value) if field == "service.duration_days" else shown(value)


def _fewer(field: str, words: Sequence[str]) -> str:
    told = listed([_noun(word) for word in words])
    if field == "service.exposures":
        return f"keep it from {told}"
    if field == "limits.exclude_hazards":
        return f"allow what is {told}"
    return f"make the surface other than {told} first"


def conflict_words(trouble: Trouble) -> str:
    """Tell what can't all be met, and what would help, in two sentences."""
    told = trouble.relaxations[:MOST_TOLD]
    said = f"{no_such(trouble.conflict)} on {trouble.substrate.name}" if trouble.conflict else _nothing(trouble)
    return f"{said}. {either(told)}".rstrip()


def _nothing(trouble: Trouble) -> str:
    if not trouble.complete:
        return f"What stands against a chain on {trouble.substrate.name} was not found before the search stopped"
    return f"No chain is known on {trouble.substrate.name}, whatever else is let go"


def no_such(conflict: Iterable[Requirement]) -> str:
    """Tell what nothing does: first what the work asks, then what the service asks."""
    asked = [(r.field.startswith("service."), _asked(r)) for r in conflict]
    work, service = ([words for of_service, words in asked if of_service is here] for here in (False, True))
    return "Nothing " + " and then ".join(listed(part) for part in (work, service) if part)


def _asked(r: Requirement) -> str:
    words = _ASKS.get(f"{r.field} {r.asked}") or _ASKS[_key(r.field)]
    return words.format(_noun(r.asked) if isinstance(r.asked, str) else _told(r.field, r.asked))


def _noun(word: str) -> str:
    return _EXPOSURES.get(word, word.replace("-", " "))


def either(relaxations: Sequence[Relaxation]) -> str:
    """Give the ways out as one sentence; "" where there is none."""
    ways = [listed([change_words(change) for change in r.changes]) for r in relaxations]
    if not ways:
        return ""
    return f"Either {'; or '.join(ways)}." if len(ways) > 1 else f"{ways[0][0].upper()}{ways[0][1:]}."
