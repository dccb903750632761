"""The bench sheet and the approver's form hold what they must, harm nobody, and are the same each time."""

from __future__ import annotations

import json
import re
from html import unescape
from pathlib import Path

import pytest

from kb import knowledge as kb_knowledge
from kb.engine.plan import Engine
from kb.job import job_of
from kb.knowledge import Knowledge
from kb.materials.resolve import substrate
from kb.planning.demo import jobs
from kb.planning.procedure import procedure
from kb.report.approval import approval_form
from kb.report.form import asked, number
from kb.report.hazards import dust_of, hazards_in, hazards_of, wording
from kb.report.sheet import MOST_ROWS, bench_sheet, checks, dew_margin
from tests.report.conftest import Planned
from tests.test_cli import run
from tests.web.addresses import fill

JOBS = ("board", "bracket", "seal")
EVIL = '<script>alert("x")</script>'


def steps_on(sheet: str) -> list[tuple[int, str]]:
    """Number and text of every step, in the order in which they are printed."""
    found = re.findall(r'<div class="step" id="step-(\d+)">.*?<p>(.*?)</p>', sheet, re.S)
    return [(int(n), unescape(text)) for n, text in found]


@pytest.mark.parametrize("name", JOBS)
def test_every_step_once_and_in_order(planned: dict[str, Planned], name: str) -> None:
    one = planned[name]
    sheet = bench_sheet(one.plan, one.resolved, one.chain)
    steps = procedure(one.plan, one.chain)
    assert steps_on(sheet) == [(n, step.do) for n, step in enumerate(steps, start=1)]
    assert sheet.count('class="wait"') == sum(1 for step in steps if step.wait_s)
    body = unescape(sheet)
    for step in steps:
        assert all(line in body for line in (*step.must, *step.never))


@pytest.mark.parametrize("name", JOBS)
def test_the_sheet_has_what_the_bench_needs(planned: dict[str, Planned], name: str) -> None:
    one = planned[name]
    sheet = unescape(bench_sheet(one.plan, one.resolved, one.chain))
    for option in one.chain.picks:
        assert option.entry is None or option.entry.name in sheet
    for heading in ("Bench readings", "Cautions", "Hazard statements", "Acceptance", "Signatures", "Versions"):
        assert f">{heading}" in sheet
    assert one.plan.knowledge.digest in sheet
    assert one.plan.job.job.name in sheet
    for finding in one.chain.findings:
        assert finding.verdict == "prefer" or f"[{finding.rule.id};" in sheet


def test_acceptance_holds_every_limit(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    steps = procedure(one.plan, one.chain)
    found = {check.what: check.limit for check in checks(steps)}
    assert found["resistance deviation, %"] == "at most 0.5 %"
    assert found["zero return, microstrain"] == "at most 2 microstrain"
    assert len([s for s in steps if s.limit]) == len([w for w in found if w != "as the step says"])
    metal = [c for c in checks(procedure(planned["bracket"].plan, planned["bracket"].chain)) if "insulation" in c.what]
    assert [c.limit for c in metal] == ["at least 1000 megaohm"]


@pytest.mark.parametrize(
    ("boards", "gauges", "columns", "rows"),
    [(1, 1, 1, 0), (1, 6, 6, 0), (1, 7, 0, 7), (1, 12, 0, 12), (10, 4, 0, 40), (2, 1, 0, 2), (200, 4, 0, MOST_ROWS)],
)
def test_each_gauge_has_a_column_or_else_a_row(
    engine: Engine, boards: int, gauges: int, columns: int, rows: int
) -> None:
    sheet = sheet_of(engine, boards, gauges)
    assert len(re.findall(r"<th scope=.col.>gauge \d+</th>", sheet)) == columns
    batch = re.search(r'<table class="fixed batch">.*?</table>', sheet, re.S)
    found = re.findall(r'<th scope="row">(\d+)</th><td>(\d+)</td><td>(\d+)</td>', batch[0] if batch else "")
    assert [int(number) for number, _, _ in found] == list(range(1, rows + 1))
    if (boards, gauges) == (10, 4):
        assert found[4] == ("5", "2", "1"), "numbered part by part, as the record numbers them"
    assert ("710 more: print this sheet again" in sheet) == (boards * gauges > MOST_ROWS)


def sheet_of(engine: Engine, boards: int, gauges: int) -> str:
    """The sheet of a plain job with so many gauges."""
    told = {
        "part": {"substrate": "brass-c26000"},
        "service": {"temperature_c": [10, 60]},
        "batch": {"boards": boards, "gauges_per_board": gauges},
    }
    job, resolved = job_of(told, "test"), substrate("brass-c26000", engine.knowledge, "test")
    plan = engine.plan(job, resolved.entry)
    return bench_sheet(plan, resolved, plan.chains[0])


def test_the_dew_margin_is_the_rules_own(knowledge: Knowledge) -> None:
    assert dew_margin(knowledge) == 3.0, "common practice, no source"


@pytest.mark.parametrize("name", JOBS)
def test_the_approver_sees_every_finding_and_every_refusal(planned: dict[str, Planned], name: str) -> None:
    one = planned[name]
    form = unescape(approval_form(one.plan, one.resolved, one.chain))
    for finding in one.chain.findings:
        assert f"[{finding.rule.id}]" in form
        assert finding.rule.because in form
        assert f"Basis: {finding.rule.basis}" in form
        for source in finding.rule.sources:
            assert one.plan.knowledge.sources[source]["title"] in form
    for item, findings in one.plan.excluded:
        assert item.name in form
        assert f"[{findings[0].rule.id};" in form
    assert all(f">chain {chain.rank}<" in form for chain in one.plan.chains)
    assert form.count("<svg") == 3


def test_the_approver_sees_what_is_a_default(planned: dict[str, Planned]) -> None:
    form = approval_form(planned["seal"].plan, planned["seal"].resolved, planned["seal"].chain)
    row = r"<tr><td>{}</td><th scope=\"row\">{}</th><td>{}</td><td>{}</td></tr>"
    assert re.search(row.format("service", "temperature, degC", "10 to 60", "the job file"), form)
    assert re.search(row.format("bench", "relative humidity, %", "45", "default"), form)


def test_ids_on_the_form_are_unique(planned: dict[str, Planned]) -> None:
    form = approval_form(planned["board"].plan, planned["board"].resolved, planned["board"].chain)
    ids = re.findall(r'\bid="([^"]+)"', form)
    assert len(ids) == len(set(ids))


@pytest.mark.parametrize("form", [bench_sheet, approval_form])
def test_names_from_files_are_harmless(form: object, house: Path) -> None:
    assert callable(form)
    (house / "catalog" / "adhesive").mkdir()
    (house / "catalog" / "adhesive" / "evil.toml").write_text(
        f'id = "evil"\nname = \'{EVIL}\'\nlike = "ethyl-cyanoacrylate-low-viscosity"\nbasis = "memory"\n'
    )
    engine = Engine(kb_knowledge.load(house))
    part = {"like": "brass-c26000", "name": EVIL}
    job = job_of(
        {"job": {"name": EVIL}, "part": {"substrate": part}, "service": {"temperature_c": [15, 35]}, "gauge": {}},
        "test",
    )
    resolved = substrate(job.part.substrate, engine.knowledge, "test")
    plan = engine.plan(job, resolved.entry, top=200)
    chain = next(c for c in plan.chains if (e := c.pick("adhesive").entry) and e.id == "evil")
    page = form(plan, resolved, chain)
    assert page.count("&lt;script&gt;") >= 3
    assert "<script" not in page
    assert EVIL not in page


@pytest.mark.parametrize("form", [bench_sheet, approval_form])
def test_self_contained_and_black_on_white(form: object, planned: dict[str, Planned]) -> None:
    assert callable(form)
    page = form(planned["board"].plan, planned["board"].resolved, planned["board"].chain)
    assert not re.search(r"<(script|link|img|iframe)|@import|\bsrc=|url\((?!#)", page)
    assert set(re.findall(r"#[0-9a-f]{3,6}\b(?=[ ;}])", page)) <= {"#000", "#fff"}
    assert "break-inside: avoid" in page


def test_paper(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    assert "size: A4 portrait" in bench_sheet(one.plan, one.resolved, one.chain)
    assert "size: letter portrait" in bench_sheet(one.plan, one.resolved, one.chain, "letter")


def test_the_number_changes_with_what_is_printed(planned: dict[str, Planned]) -> None:
    plan = planned["board"].plan
    numbers = {number(plan, chain, form) for chain in plan.chains for form in ("bench", "approval")}
    assert len(numbers) == 2 * len(plan.chains)
    assert number(planned["seal"].plan, planned["seal"].chain, "bench") not in numbers


def test_the_same_bytes_whatever_the_hash_seed() -> None:
    job = "generic_catalog/demo/2-bracket.toml"
    root = Path(__file__).parents[2]
    for extra in (["--form", "bench"], ["--form", "approval"]):
        first, second = (run("sheet", job, *extra, cwd=root, PYTHONHASHSEED=seed).stdout for seed in ("1", "2"))
        assert first == second
        assert first.startswith("<!doctype html>")


def test_every_statement_that_the_catalog_uses_has_words(knowledge: Knowledge) -> None:
    used = {c for e in knowledge.by_kind["substance"] for c in e.facts.get("hazard_statements", ())}
    assert used <= set(wording()["statements"])
    assert wording()["basis"] == "memory"


def test_hazard_statements_of_a_material_and_whose_they_are(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    found = {h.name: h for h in hazards_of(one.chain, one.plan.knowledge)}
    degreaser = one.chain.pick("degreaser").entry
    assert degreaser is not None
    said = {s.code: s for s in found[degreaser.name].statements}
    # From memory: isopropyl alcohol is highly flammable, and its code is H225.
    assert said["H225"].words == "Highly flammable liquid and vapour."
    assert said["H225"].of == ("isopropyl alcohol",)


def test_a_size_is_no_range(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    grid, matrix = one.plan.job.gauge.grid_mm, one.plan.job.gauge.matrix_mm
    said = {row.field: row.value for row in asked(one.plan)}
    assert said["grid, mm"] == f"{grid[0]:g} by {grid[1]:g}"
    assert said["matrix, mm"] == f"{matrix[0]:g} by {matrix[1]:g}"


def test_what_a_material_is_made_of_is_not_what_it_gives_off(knowledge: Knowledge) -> None:
    """An adhesive that is nearly all monomer gives off a fiftieth of it."""
    found = hazards_in(knowledge.entry("ethyl-cyanoacrylate-low-viscosity"), knowledge)
    (monomer,) = (part for part in found.parts if "cyanoacrylate" in part.name)
    assert monomer.share_pct == 95
    assert dict(found.gives_off)[monomer.name] == 2


def test_the_sheet_prints_both_and_the_day_of_the_limits(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    page = bench_sheet(one.plan, one.resolved, one.chain)
    assert "is made of: " in page
    assert "gives off to the air: " in page
    assert one.plan.knowledge.tables["mixtures"]["as_of"] in page


def test_a_solvent_and_the_dust_of_a_laminate_have_their_pictograms(planned: dict[str, Planned]) -> None:
    one = planned["board"]
    rows = bench_sheet(one.plan, one.resolved, one.chain).split("<tr>")
    solvent = next(row for row in rows if "H225" in row)
    dusts = [row for row in rows if "dust of the part: " in row]
    assert 'aria-label="Pictogram: flammable"' in solvent
    told = [row for row in dusts if "<strong>H" in row]
    assert told
    assert all('aria-label="Pictogram: ' in row for row in told)


def test_two_bottles_are_told_apart(knowledge: Knowledge) -> None:
    found = hazards_in(knowledge.entry("polyurethane-two-part"), knowledge)
    assert {part.bottle for part in found.parts} == {1, 2}
    assert {s.code for s in found.statements} >= {"H334", "H351"}
    assert found.restricted


def test_dust_of_a_part_has_its_limits(knowledge: Knowledge) -> None:
    """Lead 0.03 mg/m3 in the European Union, silica 0.05 in the United States, beryllium 0.0002 in both."""
    (lead,) = dust_of({"dust_hazard": ["lead"]}, knowledge)
    assert any(line.startswith("0.03 mg/m3") for line in lead.limits)
    (silica,) = dust_of({"dust_hazard": ["silica"]}, knowledge)
    assert any(line.startswith("0.05 mg/m3 respirable") for line in silica.limits)
    (beryllium,) = dust_of({"dust_hazard": ["beryllium"]}, knowledge)
    assert any(line.startswith("0.0002 mg/m3") for line in beryllium.limits)
    assert dust_of({}, knowledge) == []


def test_self_classified_and_coming_codes_say_so(knowledge: Knowledge) -> None:
    ozone = {s.code: s.note for s in hazards_in(knowledge.entry("ozone"), knowledge).statements}
    assert ozone["H351"] == "applies from 2027-02-01"
    solvent = {s.code: s.note for s in hazards_in(knowledge.entry("tetrachloroethylene"), knowledge).statements}
    assert solvent["H336"] == "self-classified"
    assert solvent["H351"] == ""


@pytest.mark.parametrize(
    ("arguments", "status", "said"),
    [
        (["sheet", "hot.toml"], 3, "no chain suits this job"),
        (["picture", "layers", "hot.toml"], 3, "no chain suits this job"),
        (["sheet", "job.toml", "--chain", "0"], 2, "--chain"),
        (["sheet", "job.toml", "-o", "no/such/folder.html"], 2, "can't be written"),
        (["sheet", "job.toml", "--paper", "a3"], 2, "--paper"),
        (["sheet", "gone.toml"], 2, "there is no such file"),
        (["picture", "coverage", "--family", "copper-aloy"], 2, "did you mean 'copper-alloy'?"),
        (["picture", "pairs", "adhesif", "coating"], 2, "did you mean 'adhesive'?"),
    ],
)
def test_faults_are_one_line(arguments: list[str], status: int, said: str, tmp_path: Path) -> None:
    part = '[part]\nsubstrate = "solder-masked board"\nmax_process_temperature_c = 60\n'
    text = part + "[service]\ntemperature_c = [15, {}]\n"
    (tmp_path / "job.toml").write_text(text.format(40) + "[limits]\nready_within_h = 1.6\n")
    (tmp_path / "hot.toml").write_text(text.format(300))
    done = run(*arguments, cwd=tmp_path)
    assert done.returncode == status, done.stderr
    assert said in done.stderr
    assert done.stderr.count("\n") == 1
    assert done.stdout == ""


def test_lots_are_filled_in_as_pick_proposes_them(tmp_path: Path) -> None:
    fill(tmp_path)
    job = str(jobs()["board"])
    done = run("sheet", job, "--pick", "--workspace", str(tmp_path))
    assert done.returncode == 0, done.stderr
    row = re.search(r'<th scope="row">degreaser</th>.*?</tr>', done.stdout, re.S)
    assert row is not None
    assert re.findall(r"</span> (\S+?)<br>", row[0]) == ["IPA-31"], "the lot with a box to tick"
    picked = json.loads(run("pick", job, "--json", "--workspace", str(tmp_path)).stdout)
    taken = {take["lot"]: take["usable_until"] for line in picked["lines"] for take in line["from"]}
    assert all(f"{until}<br>" in done.stdout for until in taken.values())
    assert "CA-07" in done.stdout
    assert "CA-05" not in done.stdout, "an expired lot is proposed to nobody"
    assert "&lt;b&gt;odd&lt;/b&gt;" in done.stdout
    assert "proposed for 2027-03-01" in done.stdout
    assert "proposed for" not in run("sheet", job, "--workspace", str(tmp_path)).stdout
    refused = run("sheet", job, "--pick", "--form", "approval")
    assert (refused.returncode, refused.stderr) == (
        2,
        "--pick: an approval form has no lots; leave it out, or ask for the bench sheet\n",
    )
