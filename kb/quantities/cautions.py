"""What a user must read about the day's air and amounts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from kb.engine.chain import Chain
from kb.knowledge import Entry
from kb.quantities import Remark
from kb.quantities.air import NO_LAW, Air, Law, Room, Vapour
from kb.quantities.usage import CM_PER_M, Use
from kb.rules.words import shown

#: The remark that says of what no pack is known.
PACK_NOT_KNOWN = "pack-not-known"
_NOSE = "The room's mean is less than what a nose over the work breathes; local limits come first."
_OPEN = "extraction at the bench, small closed bottles, wipes into a closed bin at once"


def of_air(air: Air, room: Room, figures: Mapping[str, Any], law: Law = NO_LAW) -> Iterator[Remark]:
    """Tell what passes a share of its limit, what has no listed limit, and what ventilation would do."""
    caution, stop = figures["caution_share"], figures["stop_share"]
    for found in air.vapours:
        yield from _against_limits(found, caution, stop)
        yield from _unknowns(found)
    total = air.additive_sum
    if total > caution and sum(1 for v in air.vapours if v.limits) > 1:
        yield Remark(
            "air-additive-effect",
            "need" if total > stop else "caution",
            tuple(v.entry.id for v in air.vapours if v.limits),
            f"together the vapours reach {_percent(total)} of their 8-hour limits",
            "Substances of like effect add up: each one's share of its limit, summed.",
            _OPEN,
            sources=("osha-1910-1000",),
        )
    if air.explosive_sum > caution:
        yield Remark(
            "air-explosive",
            "need" if air.explosive_sum > stop else "caution",
            tuple(v.entry.id for v in air.vapours if v.share_of_lel),
            f"the room's mean reaches {_percent(air.explosive_sum)} of the lower explosive limit",
            "Near the work it is far higher, and vapour lies along the floor: no flame, spark or hot plate.",
            _OPEN,
        )
    yield from _whose_law(air, law)
    yield from _through_skin(air)
    if air.changes_for:
        yield _ventilation(air, room)


def _whose_law(air: Air, law: Law) -> Iterator[Remark]:
    """Say whose limits were taken, where that is not simply the law that the job names."""
    if law.jurisdiction is None and any(v.limits for v in air.vapours):
        whose = sorted({v.worst.jurisdiction for v in air.vapours if v.worst})
        yield Remark(
            "air-law-not-said",
            "caution",
            (),
            f"the job doesn't say whose limits hold: the strictest of the lists counts here ({', '.join(whose)})",
            "Lists differ by up to ten times, some bind and some advise, and they change.",
            "set limits.jurisdiction; the list of your place, as of today, holds in any case",
        )
    foreign = [v.entry for v in air.vapours if v.foreign]
    if foreign:
        yield Remark(
            "air-law-lists-none",
            "caution",
            tuple(entry.id for entry in foreign),
            f"no limit of this law is listed here for {', '.join(entry.name for entry in foreign)}: the strictest of "
            "other lists counts",
            "A row that is missing here may stand in the law.",
            "look in the list of your place",
        )


def _through_skin(air: Air) -> Iterator[Remark]:
    """Name what limits of the air don't protect from."""
    through = [v.entry for v in air.vapours if any(limit.skin for limit in v.limits)]
    if through:
        yield Remark(
            "taken-up-through-skin",
            "caution",
            tuple(entry.id for entry in through),
            f"goes through skin, whatever the air holds: {', '.join(entry.name for entry in through)}",
            "A list marks it so: a wet glove or sleeve can give more than a day's breathing.",
            "gloves that the safety data sheet names, changed when wetted; no wiping with bare hands",
        )


def _against_limits(found: Vapour, caution: float, stop: float) -> Iterator[Remark]:
    worst = found.worst
    if worst is None or worst.share <= caution:
        return
    level = found.average_8h_mg_m3 if worst.kind == "twa-8h" else found.peak_mg_m3
    mean = "8 h mean" if worst.kind == "twa-8h" else "peak"
    passes = worst.share > stop
    yield Remark(
        "air-passes-limit" if passes else "air-near-limit",
        "need" if passes else "caution",
        (found.entry.id,),
        f"{found.entry.name}: {mean} {shown(level)} mg/m3 is {_percent(worst.share)} of a listed limit of "
        f"{shown(worst.limit_mg_m3)} mg/m3 ({worst.list}, {worst.kind}; as of {worst.as_of})",
        _NOSE,
        _OPEN,
        sources=(worst.source,),
    )


def _unknowns(found: Vapour) -> Iterator[Remark]:
    if not found.limits:
        yield Remark(
            "air-limit-unknown",
            "caution",
            (found.entry.id,),
            f"{found.entry.name}: no exposure limit is listed here; its peak is {shown(found.peak_mg_m3)} mg/m3",
            "That none is listed is not to say that it is harmless.",
            "look in its safety data sheet and the local list",
        )
    if found.share_of_lel is None and "flammable" in found.entry.facts.get("hazards", ()):
        yield Remark(
            "air-explosive-limit-unknown",
            "caution",
            (found.entry.id,),
            f"{found.entry.name} is flammable and its lower explosive limit is not known",
            "Its share of an explosive mixture is missing in the sum.",
            "look in its safety data sheet",
        )


def _ventilation(air: Air, room: Room) -> Remark:
    told = [
        f"{changes:.3g} air changes per hour for {_percent(share)}"
        if changes is not None
        else f"no air change of the whole room for {_percent(share)}"
        for share, changes in sorted(air.changes_for.items(), reverse=True)
    ]
    return Remark(
        "ventilation-needed",
        "caution",
        (),
        f"to keep within the limits the room of {room.volume_m3:g} m3, now {room.changes_per_h:g} per hour, needs: "
        f"{'; '.join(told)}",
        "Reckoned for a well-mixed room; where air stands still it takes several times as much.",
        _OPEN,
    )


def _percent(share: float) -> str:
    """Give a share as a person reads it.

    >>> _percent(0.254), _percent(13.2)
    ('25.4 %', '1320 %')
    """
    return f"{100 * share:.3g} %" if share < 10 else f"{100 * share:.0f} %"


def of_lines(chain: Chain, counted: set[str]) -> Iterator[Remark]:
    """Tell what of the chain no amount is known for."""
    missing = [o.entry for o in chain.picks if o.entry is not None and o.entry.id not in counted]
    for entry in {e.id: e for e in missing}.values():
        yield Remark(
            "usage-not-known",
            "caution",
            (entry.id,),
            f"no amount is known for {entry.name}",
            "A process without a counted consumable, or one that nobody has written down yet.",
            "ask whoever does it what it takes",
        )


def of_runs(taken: Sequence[Use]) -> Iterator[Remark]:
    """Tell what length was taken for granted, since the job says none."""
    if taken:
        run = f"{taken[0].each / CM_PER_M:g} m of cable"
        yield Remark(
            "cable-run-not-told",
            "caution",
            tuple(dict.fromkeys(use.entry.id for use in taken)),
            f"how far the instrument stands is not told: {run} are reckoned for each gauge",
            "Nothing else in the job says how long a cable is.",
            "write the run along its way: gauge.cable_m in the job",
        )


def of_packs(unpacked: Sequence[Entry]) -> Iterator[Remark]:
    """Tell what no pack is known of."""
    if unpacked:
        yield Remark(
            PACK_NOT_KNOWN,
            "caution",
            tuple(entry.id for entry in unpacked),
            f"how it is packed is not known: {', '.join(entry.name for entry in unpacked)}",
            "Packs are counted only where the catalog says how much they hold.",
            "take it from the supplier",
        )
