"""What a job asks, one requirement at a time; the same job without one of them; and what differs between two jobs.

A requirement is let go by putting its easiest value in its place: room temperature, no time limit, any
clamp. What can be let go is a list here; what it then allows is for the rules to say.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from kb.base.vocabulary import TESTED_FOR
from kb.job import Job
from kb.rules.clauses import Facts, Value
from kb.rules.job_facts import job_facts

ROOM_C = 22.0
USUAL_HUMIDITY_PCT = 45.0
#: Where a material's own limit isn't known, the highest temperature that a job file may name.
NO_LIMIT_C = 3000.0
AN_HOUR_IN_DAYS, A_MINUTE_IN_H = 1 / 24, 1 / 60
#: Figures of an exposure that can be let go, and what is as good as none of it.
EASY_FIGURES = {"depth_m": 1.0, "pressure_bar": 0.1, "concentration_pct": 0.0, "dose_kgy": 0.0}

Change = Callable[[Job, Value], Job]


@dataclass(frozen=True, slots=True)
class Requirement:
    """`field` as the job file names it, the value asked (of a list: the word), and the value that lets it go.

    A number may be moved part of the way: `far` is how far.
    """

    field: str
    asked: Value
    easiest: Value
    change: Change
    far: float | None = None

    def let_go(self, job: Job) -> Job:
        """Drop this requirement from `job`."""
        return self.change(job, self.easiest)


def requirements(job: Job, substrate: Facts) -> list[Requirement]:
    """List all that `job`, on a material with these facts, asks and could let go; in the order of the job file."""
    return [*_of_part(job, substrate), *_of_service(job), *_of_the_rest(job, substrate)]


def differences(old: Job, new: Job) -> list[tuple[str, Value, Value]]:
    """List (field, old value, new value) wherever two jobs differ, as the job file names it; lists of words as a whole.

    >>> from kb.job import job_of
    >>> job = job_of({"part": {"substrate": "brass"}, "service": {"temperature_c": [10, 60]}}, "a job")
    >>> differences(job, requirements(job, {})[1].let_go(job))
    [('service.temperature_c[1]', 60.0, 22.0)]
    """
    return list(_differ("", old.model_dump(mode="json"), new.model_dump(mode="json")))


def _differ(path: str, old: Value, new: Value) -> Iterator[tuple[str, Value, Value]]:
    if old == new:
        return
    if isinstance(old, Mapping) and isinstance(new, Mapping):
        for name in old:
            yield from _differ(f"{path}.{name}" if path else name, old[name], new[name])
    elif isinstance(old, list) and old and all(isinstance(x, float) for x in old):
        for index, (one, other) in enumerate(zip(old, new, strict=True)):
            yield from _differ(f"{path}[{index}]", one, other)
    else:
        yield path, old, new


def _put(field: str) -> Change:
    table, _, name = field.partition(".")

    def change(job: Job, value: Value) -> Job:
        return job.model_copy(update={table: getattr(job, table).model_copy(update={name: value})})

    return change


def _number(field: str, asked: float, easiest: float, change: Change) -> Requirement:
    return Requirement(field, asked, easiest, change, easiest)


def _words(field: str, words: tuple[str, ...], instead: tuple[str, ...]) -> Iterator[Requirement]:
    """Give each word of a list; where the last one goes, `instead` takes its place."""
    table, _, name = field.partition(".")

    def without(word: str) -> Change:
        def change(job: Job, _: Value) -> Job:
            others = tuple(w for w in getattr(getattr(job, table), name) if w != word)
            return _put(field)(job, others or instead)

        return change

    for word in words:
        if words != instead:
            yield Requirement(field, word, None, without(word))


def _service(job: Job, low: float, high: float) -> Job:
    """Move the service to between `low` and `high`; a peak that would lie below is none."""
    peak = job.service.peak
    kept = peak if peak is not None and peak.temperature_c > high else None
    return job.model_copy(
        update={"service": job.service.model_copy(update={"temperature_c": (low, high), "peak": kept})}
    )


def _low(job: Job, value: float) -> Job:
    return _service(job, value, max(value, job.service.temperature_c[1]))


def _high(job: Job, value: float) -> Job:
    return _service(job, min(value, job.service.temperature_c[0]), value)


def _peak(name: str) -> Change:
    def change(job: Job, value: float) -> Job:
        peak = job.service.peak
        if peak is None:
            return job
        changed = job.service.model_copy(update={"peak": peak.model_copy(update={name: value})})
        return _service(job.model_copy(update={"service": changed}), *job.service.temperature_c)

    return change


def _figure(word: str, name: str) -> Change:
    def change(job: Job, value: float) -> Job:
        said = job.service.conditions[word].model_copy(update={name: value})
        return _put("service.conditions")(job, {**job.service.conditions, word: said})

    return change


def _figures(job: Job) -> Iterator[Requirement]:
    """Tell what the job says of its exposures in numbers: how deep, how strong."""
    for word, said in job.service.conditions.items():
        for name, easiest in EASY_FIGURES.items():
            asked = getattr(said, name)
            if word in job.service.exposures and asked is not None and asked > easiest:
                yield _number(f"service.conditions.{word}.{name}", asked, easiest, _figure(word, name))


def _of_part(job: Job, substrate: Facts) -> Iterator[Requirement]:
    part = job.part
    yield from _words("part.surface", part.surface, ("bare",))
    if part.max_process_temperature_c is not None:
        field = "part.max_process_temperature_c"
        free = job_facts(_put(field)(job, None), substrate)["part"].get("max_process_temperature_c", NO_LIMIT_C)
        if free > part.max_process_temperature_c:
            yield Requirement(field, part.max_process_temperature_c, None, _put(field), free)
    if job_facts(job, substrate)["part"].get("populated"):
        yield Requirement("part.populated", True, False, _put("part.populated"))
    if part.thickness_mm is not None:
        yield _number("part.thickness_mm", part.thickness_mm, 1e3, _put("part.thickness_mm"))
    if part.clamping != "any":
        yield Requirement("part.clamping", part.clamping, "any", _put("part.clamping"))
    if part.orientation != "horizontal":
        yield Requirement("part.orientation", part.orientation, "horizontal", _put("part.orientation"))
    if part.no_abrading:
        yield Requirement("part.no_abrading", True, False, _put("part.no_abrading"))
    yield from _untested(part.tested_free_of, substrate, "painted" in part.surface)


def _untested(tested: tuple[str, ...], substrate: Facts, covered: bool) -> Iterator[Requirement]:
    """List what a test could still rule out: what its dust or that of its look-alikes may hold.

    Under a coat that is anything.
    """
    dust = (*substrate.get("dust_hazard", ()), *substrate.get("lookalike_dust_hazard", ()))
    covered = covered or substrate.get("layer", "none") != "none"

    def with_test(word: str) -> Change:
        def change(job: Job, _: Value) -> Job:
            found = tuple(w for w in TESTED_FOR if w == word or w in job.part.tested_free_of)
            return _put("part.tested_free_of")(job, found)

        return change

    for word in TESTED_FOR:
        if word not in tested and (covered or any(name.startswith(word) for name in dust)):
            yield Requirement("part.tested_free_of", word, None, with_test(word))


def _of_service(job: Job) -> Iterator[Requirement]:
    service = job.service
    low, high = service.temperature_c
    if low < ROOM_C:
        yield _number("service.temperature_c[0]", low, ROOM_C, _low)
    if high > ROOM_C:
        yield _number("service.temperature_c[1]", high, ROOM_C, _high)
    if service.peak is not None:
        peak = service.peak
        yield _number("service.peak.temperature_c", peak.temperature_c, high, _peak("temperature_c"))
        if peak.duration_h > A_MINUTE_IN_H:
            yield _number("service.peak.duration_h", peak.duration_h, A_MINUTE_IN_H, _peak("duration_h"))
    yield from _words("service.exposures", service.exposures, ("dry-air",))
    yield from _figures(job)
    if service.measurement == "both":
        yield Requirement("service.measurement", "both", "static", _put("service.measurement"))
    for name, easiest in (("duration_days", AN_HOUR_IN_DAYS), ("max_strain_ue", 100.0), ("cycles", 1.0)):
        asked = getattr(service, name)
        if asked is not None and asked > easiest:
            yield _number(f"service.{name}", asked, easiest, _put(f"service.{name}"))


def _of_the_rest(job: Job, substrate: Facts) -> Iterator[Requirement]:
    if job.gauge.backing is not None:
        yield Requirement("gauge.backing", job.gauge.backing, None, _put("gauge.backing"))
    for name in ("boards", "gauges_per_board"):
        if getattr(job.batch, name) > 1:
            yield Requirement(f"batch.{name}", getattr(job.batch, name), 1, _put(f"batch.{name}"))
    bench = {
        "air_temperature_c": ROOM_C,
        "relative_humidity_pct": USUAL_HUMIDITY_PCT,
        "part_temperature_c": ROOM_C,
    }
    for name, easiest in bench.items():
        if getattr(job.bench, name) != easiest:
            yield _number(f"bench.{name}", getattr(job.bench, name), easiest, _put(f"bench.{name}"))
    if job.bench.dust_collector != "wet" and substrate.get("dust_hazard"):
        yield Requirement("bench.dust_collector", job.bench.dust_collector, "wet", _put("bench.dust_collector"))
    if job.limits.ready_within_h is not None:
        field = "limits.ready_within_h"
        yield Requirement(field, job.limits.ready_within_h, None, _put(field), math.inf)
    for name in ("adhesive", "cure", "backing", "treatment", "coatings"):
        if getattr(job.choose, name) is not None:
            yield Requirement(f"choose.{name}", getattr(job.choose, name), None, _put(f"choose.{name}"))
    yield from _words("limits.exclude_hazards", job.limits.exclude_hazards, ())
    if job.limits.outgassing:
        yield Requirement("limits.outgassing", True, False, _put("limits.outgassing"))
    if job.limits.removable:
        yield Requirement("limits.removable", True, False, _put("limits.removable"))
