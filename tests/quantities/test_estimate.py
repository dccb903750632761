"""Amounts: they follow from the rows, scale with the batch, are covered by packs, and stand in no order of lines."""

from __future__ import annotations

import random
import shutil
import subprocess
import sys
import time
from collections import Counter
from dataclasses import replace
from math import ceil
from pathlib import Path

import pytest

from kb import knowledge as kb_knowledge
from kb.base.errors import BadInput
from kb.base.places import shipped
from kb.engine.chain import Chain
from kb.engine.plan import Engine
from kb.knowledge import knowledge_of
from kb.knowledge.build import build
from kb.knowledge.cache import roots
from kb.knowledge.packing import unpack
from kb.planning.demo import jobs
from kb.quantities.estimate import Estimate, Line, estimate
from kb.report.estimate import estimate_json, estimate_text
from kb.rules.clauses import all_of
from kb.rules.job_facts import job_facts
from kb.rules.roles import ROLES, kinds_of
from tests.quantities.jobs import BOARD, BRACKET, GIRDER, job_with, planned, with_adhesive, with_coat


@pytest.fixture(scope="module")
def board(engine: Engine) -> Estimate:
    return estimate(*planned(job_with(BOARD), engine))


def line(found: Estimate, item: str) -> Line:
    return next(x for x in found.lines if x.entry.id == item)


def test_the_contracts_example_of_attempts(engine: Engine) -> None:
    found = estimate(*planned(job_with(BRACKET, batch={"boards": 10, "gauges_per_board": 2}), engine)).installations
    assert (found.good_needed, found.attempts) == (20, 23)


def test_every_item_of_the_chain_has_a_line_or_a_remark(board: Estimate) -> None:
    told = {x.entry.id for x in board.lines} | {
        a for r in board.remarks if r.rule == "usage-not-known" for a in r.about
    }
    assert {option.id for option in board.chain.picks if option.entry} <= told


def test_nothing_is_counted_that_the_chain_does_not_use(board: Estimate) -> None:
    in_chain = {option.id for option in board.chain.picks}
    assert {x.entry.id for x in board.lines if x.entry.kind != "aid"} <= in_chain


def test_packs_cover_gross_and_none_is_superfluous(board: Estimate) -> None:
    for x in board.lines:
        assert x.gross == pytest.approx(x.net + x.waste, abs=1e-6), x
        assert x.waste >= 0, x
        if x.pack_size is None:
            assert x.packs is None, x
        else:
            assert x.packs is not None, x
            assert x.packs * x.pack_size >= x.bring >= max(x.gross, x.range[1]), x
            assert (x.packs - 1) * x.pack_size < x.bring, x


def test_a_missing_pack_is_said_and_not_guessed(board: Estimate) -> None:
    backing = board.chain.pick("backing").id
    assert line(board, backing).packs is None
    assert any(r.rule == "pack-not-known" and backing in r.about for r in board.remarks)


def test_one_gauge_for_each_attempt(board: Estimate) -> None:
    assert line(board, board.chain.pick("backing").id).gross == board.installations.attempts


def test_degreaser_by_the_row_itself(board: Estimate) -> None:
    """By hand: 1 mL and 0.1 mL for each cm2 of 24.5 mm by 23 mm (the matrix, 10 mm wider all round); a tenth lost."""
    each = 1 + 0.1 * 2.45 * 2.3
    found = [u for x in board.lines for u in x.uses if u.stage == "degrease" and u.entry.kind == "degreaser"]
    assert [u.each for u in found] == [pytest.approx(each)]
    total = line(board, found[0].entry.id)
    if len(total.uses) == 1:
        assert total.net == pytest.approx(each * board.installations.attempts)
        assert total.waste == pytest.approx(total.net / 10)


def test_a_coat_weighs_its_film_and_its_solvent(engine: Engine) -> None:
    """By hand: 40 um over 24.5 mm by 23 mm at 1.1 g/mL, of which 40 % stays."""
    plan, chain = planned(job_with(BOARD), engine)
    found = estimate(plan, with_coat(plan, chain, "polyurethane-lacquer-air-drying"))
    assert line(found, "polyurethane-lacquer-air-drying").per_attempt == pytest.approx(
        2.45 * 2.3 * 40e-4 * 1.1 / 0.4, abs=1e-6
    )


def test_a_drop_for_each_gauge_and_one_thrown_away_for_each_board(engine: Engine) -> None:
    found = estimate(*with_adhesive(job_with(BOARD), engine, "ethyl-cyanoacrylate-low-viscosity"))
    attempts = found.installations.attempts
    x = line(found, "ethyl-cyanoacrylate-low-viscosity")
    assert x.net == pytest.approx(0.03 * attempts)
    assert x.waste == pytest.approx(0.03 * ceil(attempts / 4) + 0.1 * x.net, abs=1e-6)


@pytest.mark.parametrize("times", [2, 5, 20])
def test_totals_scale(engine: Engine, times: int) -> None:
    """At a yield of one the attempts are the good ones, and what is used per attempt or board grows with them."""
    few = estimate(*planned(job_with(BOARD, batch={"expected_yield": 1.0}), engine))
    many = estimate(few.plan, few.chain) if times == 1 else _scaled(few, times)
    for x, y in zip(few.lines, many.lines, strict=True):
        assert x.entry.id == y.entry.id
        if all(u.per in ("attempt", "board") and u.most is None for u in x.uses):
            assert y.net == pytest.approx(times * x.net, rel=1e-6)
            assert y.gross == pytest.approx(times * x.gross, rel=1e-6, abs=0 if x.unit != "piece" else times)


def _scaled(found: Estimate, times: int) -> Estimate:
    """The same chain for so many times the boards."""
    job = found.plan.job
    batch = job.batch.model_copy(update={"boards": job.batch.boards * times})
    return estimate(replace(found.plan, job=job.model_copy(update={"batch": batch})), found.chain)


def chain_key(chain: Chain) -> frozenset[tuple[str, str]]:
    """Name a chain as the lab's record of yields does."""
    return frozenset(chain.named.items())


def test_more_spares_never_need_less(engine: Engine) -> None:
    plan, chain = planned(job_with(BOARD), engine)
    sure, unsure = (estimate(replace(plan, yields={chain_key(chain): share}), chain) for share in (0.99, 0.6))
    assert sure.installations.attempts < unsure.installations.attempts
    assert all(x.gross <= y.gross for x, y in zip(sure.lines, unsure.lines, strict=True))


def test_a_bigger_gauge_needs_no_less(engine: Engine) -> None:
    plan, chain = planned(job_with(BOARD), engine)
    bigger = plan.job.model_copy(update={"gauge": plan.job.gauge.model_copy(update={"matrix_mm": (30.0, 20.0)})})
    pairs = list(zip(estimate(plan, chain).lines, estimate(replace(plan, job=bigger), chain).lines, strict=True))
    assert all(x.gross <= y.gross for x, y in pairs)
    assert any(x.gross < y.gross for x, y in pairs)


def test_a_cables_run_is_the_jobs_or_said_to_be_a_guess(engine: Engine) -> None:
    outdoors = {**GIRDER, "batch": {"boards": 1, "gauges_per_board": 2}}
    guessed = estimate(*planned(job_with(outdoors), engine))
    told = estimate(*planned(job_with(outdoors, gauge={"cable_m": "40 m"}), engine))
    runs = [next(x for x in found.lines if x.entry.kind == "wire") for found in (guessed, told)]
    assert runs[1].per_attempt == 4000
    # Whoever measures the way is not far out: nobody brings a drum for a guess of three metres.
    assert all(
        line.per_attempt * found.installations.good_needed <= line.bring <= 1.5 * line.net
        for line, found in zip(runs, (guessed, told), strict=True)
    )
    said = [[r.rule for r in found.remarks if r.about == (runs[0].entry.id,)] for found in (guessed, told)]
    assert said == [["cable-run-not-told"], []]


def test_what_is_used_again_is_counted_once(engine: Engine) -> None:
    job = job_with(BRACKET, batch={"boards": 40, "gauges_per_board": 4})
    found = estimate(*with_adhesive(job, engine, "epoxy-room-cure-two-part", "room"))
    assert line(found, "silicone-rubber-pad").gross == 20
    assert line(found, "pointed-tweezers").gross == 1


def test_two_estimates_of_a_job_are_the_same(engine: Engine, board: Estimate) -> None:
    again = estimate(*planned(job_with(BOARD), engine))
    assert estimate_json(again) == estimate_json(board)


def test_the_range_holds_the_likely_and_is_ordered(board: Estimate) -> None:
    low, high = board.installations.range
    assert board.installations.good_needed <= low <= high
    for x in board.lines:
        assert 0 < x.range[0] <= x.range[1], x
        # The range is of the same size as the figure: neither can be in another unit.
        assert x.range[0] <= 1.5 * x.gross, x
        assert x.range[1] >= x.net / 2, x


def test_cups_that_the_clock_empties_half_are_in_the_range_too(engine: Engine) -> None:
    """Where all that is planned is attempted, the range holds the cups of the plan, and not those of a full pot."""
    batch = {"boards": 4, "gauges_per_board": 6, "expected_yield": 0.92, "confidence": 0.9, "technicians": 2}
    job = job_with(BRACKET, batch=batch, choose={"adhesive": "epoxy-room-cure-filled"})
    found = estimate(*planned(job, engine))
    mix = next(mix for mix in found.mixes if mix.stage == "mount")
    assert mix.number > ceil(found.installations.attempts / mix.installations_each)
    assert found.installations.range[1] == found.installations.attempts
    assert line(found, mix.entry.id).range[1] == mix.number * mix.mass_g == line(found, mix.entry.id).gross
    assert line(found, "mixing-cup").range[1] == mix.number


def test_too_many_attempts_are_refused_in_one_line(engine: Engine) -> None:
    plan, chain = planned(job_with(BOARD), engine)
    hopeless = replace(plan, yields={chain_key(chain): 1e-6})
    with pytest.raises(BadInput, match="more than 1000000 attempts"):
        estimate(hopeless, chain)


def test_no_amount_depends_on_the_order_of_lines(tmp_path: Path) -> None:
    """The rows of every usage file shuffled, and the files renamed so that they are read in another order."""
    rules, catalog = shipped()
    copy = tmp_path / "generic_catalog"
    shutil.copytree(catalog, copy)
    files = sorted((copy / "usage").glob("*.toml"))
    draw = random.Random(5)
    for number, path in enumerate(reversed(files)):
        text = path.read_text(encoding="utf-8")
        head, *blocks = text.split("\n[[")
        if blocks:
            draw.shuffle(blocks)
            text = "\n[[".join([head.removeprefix("[["), *(b.rstrip("\n") + "\n" for b in blocks)])
            text = text if head.lstrip().startswith("#") else f"[[{text}"
        path.rename(path.with_name(f"z{number}.toml")).write_text(text, encoding="utf-8")
    other = knowledge_of(build({"rules": rules, "generic_catalog": copy}), "shuffled")
    assert other.tables["usage"] == kb_knowledge.load().tables["usage"]
    job = job_with(BOARD)
    documents = []
    for known in (kb_knowledge.load(), other):
        found = estimate(*planned(job, Engine(known)))
        documents.append(estimate_json(found))
    assert documents[0] == documents[1]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('aid = "razor-blade"', 'aid = "razr-blade"', "razor-blade"),
        ('stage = "strip"', 'stage = "strp"', "stage"),
        ("amount = 1", "amount = -1", "amount"),
        ("amount = 1", "amuont = 1", "amount"),
        ("spread = [0.5, 2]", "spread = [2, 3]", "spread"),
        ('unit = "piece"', 'unit = "pieces"', "unit"),
        ('aid = "razor-blade"', 'role = "blade"', "blade"),
    ],
)
def test_a_broken_row_is_named(tmp_path: Path, old: str, new: str, said: str) -> None:
    copy = tmp_path / "generic_catalog"
    shutil.copytree(shipped()[1], copy)
    path = copy / "usage" / "1-strip.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    with pytest.raises(BadInput, match=said) as caught:
        build({**roots(None), "generic_catalog": copy})
    assert "usage/1-strip.toml" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_each_aid_in_the_rows_serves_something(engine: Engine) -> None:
    """Every stage that handles something has an aid; every row is of a stage and a reason."""
    rows = engine.knowledge.tables["usage"]["rows"]
    stages = Counter(row["stage"] for row in rows)
    assert set(stages) >= {"degrease", "abrade-dry", "abrade-wet", "condition", "neutralise", "treat", "mount", "cure",
                           "protect"}  # fmt: skip
    assert all(row["why"] for row in rows)


def test_document_has_the_contracts_fields(board: Estimate) -> None:
    document = estimate_json(board)
    assert document["schema"] == "tackroom.estimate/1"
    assert set(document["installations"]) >= {"good_needed", "attempts", "expected_yield", "confidence"}
    assert set(document["lines"][0]) >= {
        "item", "kind", "unit", "per_attempt", "net", "waste", "gross", "pack_size", "packs", "basis",
    }  # fmt: skip
    assert set(document["timeline"][0]) >= {"start_min", "end_min", "stage", "installation", "who"}
    assert set(document["air"][0]) >= {
        "substance", "evaporated_g", "peak_mg_m3", "average_8h_mg_m3", "limit_mg_m3", "share_of_limit",
        "share_of_lel", "source",
    }  # fmt: skip
    assert document["ready_after_min"] > 0


def test_text_is_plain_and_fits_a_terminal(board: Estimate) -> None:
    text = estimate_text(board)
    assert "\x1b" not in text
    assert max(len(x) for x in text.splitlines()) <= 120
    for word in ("ATTEMPT 45", "BRING", "AIR", "WASTE", "Local limits come first"):
        assert word in text, word


def test_an_estimate_costs_little_beside_its_plan(tmp_path: Path) -> None:
    """Forty boards of four gauges: the whole command takes at most half as long again as a whole `plan`."""
    text = jobs()["board"].read_text().replace("boards = 10", "boards = 40")
    job = tmp_path / "forty.toml"
    job.write_text(text)

    def seconds(command: str) -> float:
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-m", "kb", command, str(job)], check=False, capture_output=True)
        return time.perf_counter() - begun

    taken = [(seconds("plan"), seconds("estimate")) for _ in range(5)]
    assert min(e for _, e in taken) <= 1.5 * min(p for p, _ in taken)


def test_a_campaign_of_5000_takes_seconds(engine: Engine) -> None:
    plan, chain = planned(job_with(BOARD, batch={"boards": 1250, "gauges_per_board": 4}), engine)
    begun = time.process_time()
    found = estimate(plan, chain)
    assert time.process_time() - begun < 2
    assert found.installations.good_needed == 5000


def test_rows_read_facts_that_exist(engine: Engine) -> None:
    """A misspelt fact would be unknown for ever, and its row used for everything."""
    known = engine.knowledge
    job = job_facts(job_with(BOARD, part={"thickness_mm": 1.6}), known.entries["solder-masked-board"].facts)
    told = {role: set(facts) for role, facts in job.items()}
    for role in ROLES:
        for kind in kinds_of(role):
            told.setdefault(role, set()).update(name for entry in known.by_kind[kind] for name in entry.facts)
    told["cure"] = {name for entry in known.by_kind["adhesive"] for cure in entry.facts["schedules"] for name in cure}
    for row in known.tables["usage"]["rows"]:
        paths = [path for condition in row["when"] for path in unpack(condition).facts()]
        for path in (*paths, *([row["film"]] if row["film"] else [])):
            role, _, name = path.partition(".")
            assert name == "present" or name in told[role], path


def test_what_stays_on_in_a_cure_endures_it(engine: Engine) -> None:
    """Tape, film, pad and clamp of every cure of every adhesive."""
    known = engine.knowledge
    hot = []
    for entry in known.by_kind["adhesive"]:
        for cure in entry.facts["schedules"]:
            scene = {
                "adhesive": entry.facts,
                "cure": cure,
                "backing": known.entries["polyimide-film-25um"].facts,
                "part": {"clamping": "any"},
            }
            for row in known.tables["usage"]["rows"]:
                aid = known.entries[row["aid"]] if row["aid"] else None
                stays = aid is not None and (row["stage"] == "cure" or aid.family == "tape")
                if stays and all_of(unpack(c).truth(scene) for c in row["when"]) is True:
                    assert aid is not None
                    if aid.facts["max_c"] < cure["temperature_c"]:
                        hot.append((aid.id, entry.id, cure["temperature_c"]))
    assert not hot
