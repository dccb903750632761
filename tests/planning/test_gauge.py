"""What to ask of the gauge itself follows from the part and the job, and leaves the chains as they are."""

from __future__ import annotations

from typing import Any

import pytest

from kb.engine.plan import Engine
from kb.job import job_of
from kb.planning.ask import Asked, ask
from kb.planning.gauge import wanted_of_gauge
from kb.report.plan_text import plan_text
from kb.report.sheet import bench_sheet


def asked_of(engine: Engine, substrate: Any, part: Any = None, **service: Any) -> Asked:
    data = {"part": {"substrate": substrate, **(part or {})}, "service": {"temperature_c": [15, 35], **service}}
    return ask(engine, job_of(data, "job"), "job")


def wanted(asked: Asked) -> set[str]:
    return {one.rule.id for one in wanted_of_gauge(asked.plan)}


@pytest.mark.parametrize(
    ("substrate", "service", "some", "none"),
    [
        ("stainless-304", {},
         {"grid-compensated-like-the-part", "foil-for-the-usual", "resistance-on-a-good-conductor"},
         {"cool-grid-on-what-holds-the-heat", "leads-welded-on-in-the-heat"}),
        ("stainless-304", {"measurement": "dynamic", "cycles": 1e7},
         {"compensation-does-not-count", "foil-for-many-cycles"},
         {"grid-compensated-like-the-part", "foil-for-the-usual"}),
        ("polyethylene-hd", {},
         {"no-grid-expands-like-the-part", "cool-grid-on-what-holds-the-heat", "long-grid-on-soft-part"},
         {"grid-compensated-like-the-part", "usual-grid-on-fine-grain"}),
        ("concrete", {}, {"long-grid-on-coarse-grain"}, {"usual-grid-on-fine-grain"}),
        ("stainless-304", {"temperature_c": [15, 230]},
         {"foil-for-a-zero-in-the-warmth", "leads-welded-on-in-the-heat"}, {"foil-for-the-usual"}),
        ("stainless-304", {"max_strain_ue": 50_000},
         {"annealed-foil-beyond-three-per-cent"}, {"foil-for-the-usual"}),
        ("stainless-316", {"exposures": ["sea-water-immersion"], "duration_days": 2500},
         {"sealed-gauge-brings-its-grid", "sealed-gauge-brings-its-cable", "sealed-gauge-has-its-length"},
         {"foil-for-the-usual", "leads-on-where-water-comes", "usual-grid-on-fine-grain"}),
        ("solder-masked-board", {}, {"rosette-beside-a-package"}, {"usual-grid-on-fine-grain"}),
    ],
)  # fmt: skip
def test_what_is_asked_follows_the_part_and_the_job(
    engine: Engine, substrate: str, service: Any, some: set[str], none: set[str]
) -> None:
    found = wanted(asked_of(engine, substrate, **service))
    assert some <= found
    assert not none & found


def test_one_foil_at_a_time(engine: Engine) -> None:
    """No two rules on the foil may want another alloy of the same gauge."""
    for high in (35, 75, 76, 120, 260, 261, 400, 401, 700):
        for cycles, strain in ((10, 1500), (5e6, 1500), (5e6, 2500)):
            service = {"measurement": "both", "cycles": cycles, "max_strain_ue": strain}
            asked = asked_of(engine, "nickel-alloy-718", temperature_c=[15, high], **service)
            foils = {one.rule.message.split()[1] for one in wanted_of_gauge(asked.plan) if one.rule.title == "Foil"}
            assert len(foils) <= 1, (high, cycles, strain, foils)


def test_what_is_not_known_asks_for_nothing(engine: Engine) -> None:
    found = wanted(asked_of(engine, {"family": "peek"}))
    assert not found & {"grid-compensated-like-the-part", "no-grid-expands-like-the-part"}


def test_it_is_no_matter_of_the_chain_and_stands_on_text_and_paper(engine: Engine) -> None:
    asked = asked_of(engine, "stainless-304")
    first = asked.plan.chains[0]
    assert not any(finding.rule.of_gauge for finding in first.findings)
    told = "Foil: a copper-nickel foil"
    assert told in plan_text(asked.plan, asked.resolved, None)
    assert "<strong>Foil:</strong> a copper-nickel foil." in bench_sheet(asked.plan, asked.resolved, first)
