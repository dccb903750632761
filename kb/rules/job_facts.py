"""A job's facts as rules read them, by role and name: its own, and what its part's material says for it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from kb.rules.clauses import Facts

if TYPE_CHECKING:
    from kb.job import Job

#: Stands for "no limit" in minutes, so that rules about time stay silent instead of not knowing.
NO_LIMIT_MIN = 1e12
#: How far a first coat reaches beyond the gauge's backing, all round [mm].
COAT_MARGIN_MM = 10.0
#: Facts of the part's material that reach the rules through the job's own, and as what.
FROM_SUBSTRATE = {"max_temperature_c": "part.max_process_temperature_c", "carries_parts": "part.populated"}


def _words(name: str) -> tuple[str, ...]:
    """Give the words of a job's name, for what can be said nowhere else in the job.

    >>> _words("Food-grade pump, 2nd run")
    ('food', 'grade', 'pump', '2nd', 'run')
    """
    return tuple(re.findall(r"[a-z0-9]+", name.lower()))


def job_facts(job: Job, substrate: Facts) -> dict[str, dict[str, Any]]:
    """Give a job's facts by role and name, as rules read them; unknown ones are left out.

    `substrate` holds the facts of the part's material. The part endures the heat that the job says; where it
    says nothing, what the material does, or what it is to serve at if that is more. It carries live parts if
    such a material usually does and the job doesn't say.
    """
    service, peak, high = job.service, job.service.peak, job.service.temperature_c[1]
    own_limit, given_limit = substrate.get("max_temperature_c"), job.part.max_process_temperature_c
    serves = None if own_limit is None else max(own_limit, high)
    within, populated = job.limits.ready_within_h, job.part.populated
    grid, matrix = job.gauge.grid_mm, job.gauge.matrix_mm
    installations = job.batch.boards * job.batch.gauges_per_board
    coated_mm2 = (matrix[0] + 2 * COAT_MARGIN_MM) * (matrix[1] + 2 * COAT_MARGIN_MM)
    facts: dict[str, dict[str, Any]] = {
        "part": {
            "surface": job.part.surface,
            "max_process_temperature_c": serves if given_limit is None else given_limit,
            "process_limit_given": given_limit is not None,
            "populated": substrate.get("carries_parts") if populated is None else populated,
            "thickness_mm": job.part.thickness_mm,
            "thickness_known": job.part.thickness_mm is not None,
            "clamping": job.part.clamping,
            "orientation": job.part.orientation,
            "no_oven": job.part.orientation != "horizontal" if job.part.no_oven is None else job.part.no_oven,
            "no_oven_said": job.part.no_oven is True,
            "oven_said": job.part.no_oven is False,
            "no_abrading": job.part.no_abrading,
            # What comes off again leaves the part whole: its paint and plating, too.
            "finish_stays": job.part.no_abrading or job.limits.removable,
            "tested_free_of": job.part.tested_free_of,
            "family_known": "family" in substrate,
            "acid_known": "acid_sensitive" in substrate,
            "dust_known": "dust_hazard" in substrate,
            "layer_off": False,
        },
        "service": {
            **service.surroundings().facts(),
            "peak_h": peak.duration_h if peak else 0.0,
            "thermal_cycles": service.thermal_cycles,
            "duration_days": service.duration_days,
            "measurement": service.measurement,
            "max_strain_ue": service.max_strain_ue,
            "cycles": service.cycles,
            "cycles_known": service.cycles is not None,
            "name_words": _words(job.job.name),
        },
        "gauge": {
            "backing": job.gauge.backing or "any",
            "grid_length_mm": grid[0],
            "grid_area_mm2": grid[0] * grid[1],
            "matrix_area_mm2": matrix[0] * matrix[1],
        },
        "batch": {
            "boards": job.batch.boards,
            "gauges_per_board": job.batch.gauges_per_board,
            "installations": installations,
            "coated_cm2": round(installations * coated_mm2 / 100, 2),
            "technicians": job.batch.technicians,
        },
        "bench": dict(job.bench),
        "limits": {
            "ready_within_min": NO_LIMIT_MIN if within is None else within * 60,
            "exclude_hazards": job.limits.exclude_hazards,
            "outgassing": job.limits.outgassing,
            "removable": job.limits.removable,
        },
        "choose": job.choose.facts(),
    }
    return {role: {k: x for k, x in known.items() if x is not None} for role, known in facts.items()}
