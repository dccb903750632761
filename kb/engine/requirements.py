"""What a job asks, one requirement at a time, and the same job without one of them.

A requirement is let go by putting its easiest value in its place: room temperature, no time limit, any
clamp. What can be let go is a list here; what it then allows is for the rules to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

from kb.job import Job

ROOM_C = 22.0


@dataclass(frozen=True, slots=True)
class Requirement:
    """`field` as the job file names it, the value asked, and the value that lets it go.

    A number may be moved part of the way: `fact` is what rules read of it.
    """

    field: str
    asked: Any
    easiest: Any
    change: Callable[[Job, Any], Job]
    fact: str | None = None

    def let_go(self, job: Job) -> Job:
        """`job` without this requirement."""
        return self.change(job, self.easiest)


def _put(table: str, name: str) -> Callable[[Job, Any], Job]:
    def change(job: Job, value: Any) -> Job:
        inner = getattr(job, table).model_copy(update={name: value})
        return job.model_copy(update={table: inner})

    return change


def _without(table: str, name: str, word: str, instead: tuple[str, ...]) -> Callable[[Job, Any], Job]:
    def change(job: Job, _: Any) -> Job:
        left = tuple(w for w in getattr(getattr(job, table), name) if w != word)
        return _put(table, name)(job, left or instead)

    return change


def _temperature(end: int) -> Callable[[Job, Any], Job]:
    def change(job: Job, value: float) -> Job:
        span = list(job.service.temperature_c)
        span[end] = value
        return _put("service", "temperature_c")(job, (min(span), max(span)))

    return change


def _peak(job: Job, value: float | None) -> Job:
    peak = job.service.peak
    if value is None or peak is None or value <= job.service.temperature_c[1]:
        return _put("service", "peak")(job, None)
    return _put("service", "peak")(job, peak.model_copy(update={"temperature_c": value}))


def requirements(job: Job) -> list[Requirement]:
    """Everything that `job` asks and could let go, in the order of the job file."""
    return list(_asked(job))


def _asked(job: Job) -> Iterator[Requirement]:
    part, service, limits = job.part, job.service, job.limits
    for word in part.surface:
        if word != "bare":
            yield Requirement(f"part.surface: {word}", word, None, _without("part", "surface", word, ("bare",)))
    if part.max_process_temperature_c is not None:
        yield Requirement(
            "part.max_process_temperature_c",
            part.max_process_temperature_c,
            None,
            _put("part", "max_process_temperature_c"),
            "part.max_process_temperature_c",
        )
    if part.populated is not False:
        yield Requirement("part.populated", part.populated, False, _put("part", "populated"))
    if part.thickness_mm is not None:
        yield Requirement(
            "part.thickness_mm", part.thickness_mm, 1e3, _put("part", "thickness_mm"), "part.thickness_mm"
        )
    if part.clamping != "any":
        yield Requirement("part.clamping", part.clamping, "any", _put("part", "clamping"))
    if part.orientation != "horizontal":
        yield Requirement("part.orientation", part.orientation, "horizontal", _put("part", "orientation"))
    low, high = service.temperature_c
    if low < ROOM_C:
        easy = min(ROOM_C, high)
        yield Requirement("service.temperature_c[0]", low, easy, _temperature(0), "service.low_c")
    if high > ROOM_C:
        easy = max(ROOM_C, low)
        yield Requirement("service.temperature_c[1]", high, easy, _temperature(1), "service.high_c")
    if service.peak is not None:
        yield Requirement("service.peak.temperature_c", service.peak.temperature_c, None, _peak, "service.peak_c")
    for word in service.exposures:
        if word != "dry-air":
            change = _without("service", "exposures", word, ("dry-air",))
            yield Requirement(f"service.exposures: {word}", word, None, change)
    if service.duration_days > 1:
        yield Requirement(
            "service.duration_days",
            service.duration_days,
            1.0,
            _put("service", "duration_days"),
            "service.duration_days",
        )
    other = {"static": "dynamic", "dynamic": "static", "both": "static"}[service.measurement]
    yield Requirement("service.measurement", service.measurement, other, _put("service", "measurement"))
    if service.max_strain_ue > 500:
        yield Requirement(
            "service.max_strain_ue",
            service.max_strain_ue,
            500.0,
            _put("service", "max_strain_ue"),
            "service.max_strain_ue",
        )
    if service.cycles:
        yield Requirement("service.cycles", service.cycles, 1.0, _put("service", "cycles"), "service.cycles")
    if job.gauge.backing is not None:
        yield Requirement("gauge.backing", job.gauge.backing, None, _put("gauge", "backing"))
    bench = job.bench
    if bench.relative_humidity_pct != 45:
        change = _put("bench", "relative_humidity_pct")
        field = "bench.relative_humidity_pct"
        yield Requirement(field, bench.relative_humidity_pct, 45.0, change, field)
    if bench.part_temperature_c != ROOM_C:
        change = _put("bench", "part_temperature_c")
        yield Requirement(
            "bench.part_temperature_c", bench.part_temperature_c, ROOM_C, change, "bench.part_temperature_c"
        )
    if limits.ready_within_h is not None:
        change = _put("limits", "ready_within_h")
        yield Requirement("limits.ready_within_h", limits.ready_within_h, None, change, "limits.ready_within_min")
    for word in limits.exclude_hazards:
        change = _without("limits", "exclude_hazards", word, ())
        yield Requirement(f"limits.exclude_hazards: {word}", word, None, change)
    if limits.outgassing:
        yield Requirement("limits.outgassing", True, False, _put("limits", "outgassing"))
