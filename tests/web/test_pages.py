"""The pages of the answers: each says what the command of the same purpose says, and a careless address gets a line."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from html import unescape
from pathlib import Path
from types import ModuleType
from typing import Any
from urllib.parse import parse_qsl, urlencode, urlsplit

import httpx
import pytest
from starlette.testclient import TestClient

from kb.base.vocabulary import FAMILIES
from kb.engine.check import answer, grid_of, question
from kb.engine.why import explain
from kb.job import Bench, Job, job_of, read_job
from kb.planning.coverage import cell, columns, representatives
from kb.planning.demo import jobs
from kb.quantities.bench import fitness, ordinary
from kb.report.estimate import estimate_json
from kb.report.matrix import SIGNS, Cell, cell_of
from kb.report.timeline import timeline_json
from kb.rules.roles import ROLES
from kb.rules.words import message, value_words
from kb.web import pages
from kb.web.app import create_app
from kb.web.desk import Desk
from kb.web.forms import query_of
from kb.web.naming import in_names, name_of
from kb.web.pages.answer import LABELS
from kb.web.pages.pair import MOST_CELLS
from kb.web.reckoning import MOST_SCHEDULED, estimated, scheduled
from kb.web.settings import Settings
from tests.quantities.jobs import GIRDER, job_with
from tests.stock.factory import record
from tests.web.addresses import ADHESIVE, BOARD, BRACKET, IMPOSSIBLE, MEASURED, PAGES, SEAL, fill
from tests.web.calling import routes_below

JOB = read_job(jobs()["board"])
ODD = "<script>alert(1)</script>"


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> TestClient:
    """The pages over the shelf of the invented lab."""
    workspace = tmp_path_factory.mktemp("workspace")
    fill(workspace)
    app = create_app(Settings(workspace=workspace, today=lambda: date(2027, 3, 1)))
    return TestClient(app, base_url="http://localhost", follow_redirects=False)


@pytest.fixture(scope="module")
def desk(page: TestClient) -> Desk:
    found: Desk = page.app.state.desk  # type: ignore[attr-defined]
    return found


def ok(page: TestClient, address: str) -> str:
    """The page's main part; it is answered, and none of it runs."""
    answer = page.get(address)
    assert answer.status_code == 200, f"{address}: {alert(answer)}"
    return main_of(answer)


def main_of(answer: httpx.Response) -> str:
    text = answer.text
    assert re.search(r"\sstyle=|\son[a-z]+=|<script>", text) is None
    return text[text.index("<main") : text.index("</main>")]


def told(html: str) -> str:
    """What can be read, on one line."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def alert(answer: httpx.Response) -> str:
    found = re.search(r'role="alert"[^>]*>(.*?)</', answer.text, re.DOTALL)
    return unescape(found[1]).strip() if found else ""


def rows(html: str) -> list[list[str]]:
    """The cells of every row of a body, in words."""
    bodies = re.findall(r"<tbody>(.*?)</tbody>", html, re.DOTALL)
    found = [row for body in bodies for row in re.findall(r"<tr>(.*?)</tr>", body, re.DOTALL)]
    return [[told(cell) for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row, re.DOTALL)] for row in found]


# -- every page


def test_a_gauge_that_is_welded_on_is_named_where_an_adhesive_would_be(page: TestClient) -> None:
    service = {"service.temperature_c.0": "10", "service.temperature_c.1": "40", "service.exposures": "oxygen-enriched"}
    asked = urlencode({"part.substrate": "stainless-316", "part.max_process_temperature_c": "60", **service})
    assert "Weld on: hermetic gauge" in told(ok(page, f"/?{asked}"))
    assert "Chain 1: hermetic gauge" in told(ok(page, f"/amounts?{asked}"))


@pytest.mark.parametrize("name", sorted(set(PAGES) - {"not-found", "enter", "sheet", "approval", "shelf-scan-unknown"}))
def test_every_page_is_laid_out_for_everyone(name: str, page: TestClient, desk: Desk) -> None:
    """One first heading; fields have labels, headings of tables a scope; items have names; what is wide scrolls."""
    html = ok(page, PAGES[name])
    assert len(re.findall("<h1", html)) == 1
    labelled = set(re.findall(r'<label[^>]* for="([^"]+)"', html))
    for tag in re.findall(r"<(?:input|select|textarea)[^>]*>", html):
        if 'type="hidden"' not in tag:
            field = re.search(r' id="([^"]+)"', tag)
            assert (field and field[1] in labelled) or 'type="checkbox"' in tag, tag
    assert re.search(r"<th(?![^>]*scope=)(?!ead)[^>]*>", html) is None
    assert html.count('class="scroll"') == len(re.findall(r'tabindex="0" role="region" aria-label="[^"]', html))
    assert ids_said(html, desk) == []


def ids_said(html: str, desk: Desk) -> list[str]:
    """Ids of items that a page says where it could name them: names that are written like ids are none."""
    entries = desk.known.entries
    names = [said for entry in entries.values() for said in (entry.name, *entry.facts.get("aliases", ()))]
    spoken = " ".join([*names, *(family for families in FAMILIES.values() for family in families)])
    shown = re.sub(r"(?s)<(script|code|option|datalist)\b.*?</\1>", " ", html.partition("<main")[2])
    words = re.findall(r"\b[a-z0-9]+(?:-[a-z0-9]+)+\b", told(shown))
    return [word for word in words if word in entries and word not in spoken]


def test_many_items_are_folded_by_family(page: TestClient, desk: Desk) -> None:
    html = ok(page, "/catalog?kind=substrate")
    assert {row[0] for row in rows(html)} == {entry.name for entry in desk.known.by_kind["substrate"]}
    assert html.count("<details><summary><h3>") == len({e.family for e in desk.known.by_kind["substrate"]})


#: What isn't a page of its own: parts of a page, and files to take away.
NO_PAGES = {
    "/health",
    "/ready",
    "/choose/answer",
    "/choose/material",
    "/bench-run/lot",
    "/bench-run/room",
    "/favicon.ico",
    "/job.toml",
    "/shelf/export.csv",
    "/shelf/labels",
}


def test_every_page_stands_in_the_list_of_addresses() -> None:
    """Only what stands there is looked at: its layout, its contrast, its use with a keyboard."""
    listed = [urlsplit(address).path for address in PAGES.values()]
    modules = [
        module for module in vars(pages).values() if isinstance(module, ModuleType) and hasattr(module, "router")
    ]
    routes = [route for module in modules for _, route in routes_below(module.router) if "GET" in route.methods]
    assert len(routes) > len(NO_PAGES)
    missing = {route.path for route in routes if not any(route.path_regex.match(path) for path in listed)}
    assert missing == NO_PAGES, "add it to PAGES in tests/web/addresses.py"


# -- the answer


def test_what_the_shelf_can_supply_comes_first_on_every_page_of_the_chain(tmp_path: Path, desk: Desk) -> None:
    bonds = (chain.pick("adhesive").id for chain in desk.asked(JOB, 100).plan.chains)
    item = next(bond for bond in bonds if bond != ADHESIVE)
    lot = {"who": "kim", "lot": "EP-1", "quantity": "50", "unit": "g"}
    came = {"type": "received", "at": "2027-02-01", "item": item, "expires": "2029-01-31", "storage_c": 5, **lot}
    record(tmp_path, [came])
    app = create_app(Settings(workspace=tmp_path, today=lambda: date(2027, 3, 1)))
    page, desk = TestClient(app, base_url="http://localhost"), app.state.desk
    asked = desk.asked(JOB, prefer="stock")
    assert (asked.plan.supplied, desk.asked(JOB).chain().pick("adhesive").id) == (3, ADHESIVE)
    assert {chain.pick("adhesive").id for chain in asked.plan.chains} == {item}
    assert desk.asked(JOB, prefer="stock").plan is asked.plan
    html = ok(page, f"/?{BOARD}&prefer=stock")
    assert "Chains that can be made from what may be used on 2027-03-01 come first" in told(html)
    assert '<option value="stock" selected>' in html
    link = re.search(r'href="(/amounts\?[^"]*prefer=stock[^"]*)"', html)
    assert link is not None
    assert desk.known.entries[item].name in told(ok(page, unescape(link[1])))
    # What is taken off the shelf changes the answer at once.
    record(
        tmp_path,
        [{"type": "used", "at": "2027-02-20", "who": "kim", "lot": "EP-1", "quantity": "50", "unit": "g"}],
    )
    assert desk.asked(JOB, prefer="stock").plan.supplied is None


@pytest.mark.parametrize("part", ["part.substrate=brass", "part.substrate.family=polyamide", "part.substrate=abs"])
def test_the_part_of_an_answer_leads_to_its_page_where_it_has_one(part: str, page: TestClient) -> None:
    html = ok(page, f"/?{part}&service.temperature_c.0=0&service.temperature_c.1=60")
    for link in re.findall(r'Part: <a href="([^"]+)"', html):
        assert page.get(unescape(link)).status_code == 200


def test_pictograms_stand_beside_the_words_wherever_a_material_is_handled(page: TestClient) -> None:
    flame = 'aria-label="Pictogram: flammable'
    for address in (f"/?{BOARD}", f"/bench-run?{BOARD}", "/catalog/isopropyl-alcohol"):
        assert flame in page.get(address).text, address
    assert "Pictogram" not in page.get("/catalog/water").text


def test_what_can_harm_people_is_told_in_words(page: TestClient) -> None:
    html = told(ok(page, f"/?{BOARD}"))
    assert "What can harm you" in html
    assert "isopropyl alcohol, 99 % or better : flammable" in html
    assert "H225 Highly flammable liquid and vapour" in html


def test_notes_of_the_knowledge_stand_in_the_answer(
    page: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = desk.asked(JOB)
    noted = replace(asked, plan=asked.plan.noted("A rule of the lab's own says <so>."))
    monkeypatch.setattr(Desk, "asked", lambda *_, **__: noted)
    assert "A rule of the lab's own says &lt;so&gt;." in unescape(ok(page, f"/?{BOARD}")).replace("<so>", "&lt;so&gt;")
    assert "<so>" not in ok(page, f"/?{BOARD}")


def test_a_plan_that_is_not_proven_says_so(page: TestClient, desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    asked = desk.asked(JOB)
    stopped = replace(asked, plan=replace(asked.plan, bound=asked.plan.chains[0].cost))
    monkeypatch.setattr(Desk, "asked", lambda *_, **__: stopped)
    assert "The search was too wide and was stopped at its limit." in told(ok(page, f"/?{BOARD}"))


# -- why, and two chains


def test_why_says_of_an_item_what_the_command_says(page: TestClient, desk: Desk) -> None:
    asked = desk.asked(JOB)
    for name in ("epoxy-phenolic-medium", "methyl-cyanoacrylate-low-viscosity", ADHESIVE):
        found = explain(desk.engine, asked.plan, desk.known.entries[name])
        html = ok(page, f"/why?{BOARD}&item={name}")
        assert told(html).split("Back to the answer ")[1].startswith(f"{found.item.name}: {found.standing} ")
        for finding in found.findings:
            assert f'href="/rules/{finding.rule.id}"' in html
            assert finding.rule.because in unescape(html)
            assert f'"verdict {finding.verdict}"' in html
        assert [row[0] for row in rows(html)] == [gap.criterion for gap in found.gaps if found.standing != "out"]
    assert found.standing == "in"


def test_a_way_in_leads_to_a_job_in_which_the_item_is_not_refused(page: TestClient) -> None:
    html = ok(page, f"/why?{BOARD}&item=butyl-acetate")
    ways = re.search(r"What would let it in, least first</h2>\s*<ul>(.*?)</ul>", html, re.DOTALL)
    assert ways, "another part would let it in, or another backing"
    query = unescape(re.findall(r'href="/\?([^"]+)"', ways[1])[0])
    assert query != BOARD
    again = told(ok(page, f"/why?{query}&item=butyl-acetate"))
    assert re.search("butyl acetate: (in|behind) ", again)


def test_another_item_can_be_asked_for_the_same_job(page: TestClient) -> None:
    html = ok(page, f"/why?{BOARD}&item={ADHESIVE}")
    form = html[html.index('<form action="/why"') :]
    kept = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)"', form))
    assert {name: unescape(value) for name, value in kept.items()} == dict(parse_qsl(BOARD))
    assert '<option value="isopropyl alcohol">' in form.lower() or "isopropyl" in form.lower()


def test_two_chains_stand_side_by_side(page: TestClient, desk: Desk) -> None:
    html = ok(page, f"/compare?{BOARD}&a=1&b=2")
    one, other = desk.asked(JOB).plan.chains[:2]
    table = {row[0]: row[1:] for row in rows(html)}
    same = dict(re.findall(r"<dt>([^<]+)</dt><dd>([^<]+)</dd>", html))
    for slot, label in LABELS.items():
        names = [unescape(e.name) if (e := c.pick(slot).entry) else "nothing" for c in (one, other)]
        if names[0] != names[1]:
            assert table[label] == names
            assert label not in same
        elif names[0] != "nothing":
            assert unescape(same[label]) == names[0]
            assert label not in table, "what is the same in both is folded"
    assert f"The same in both: {len(same)} of " in html
    ahead = other.cost - one.cost
    assert ("Chain 1 is better by" in html) == (ahead > 0), "the first chain is never the dearer one"
    assert (f"{ahead} point" in html) if ahead else ("They count the same" in html)
    assert not re.search(r"-\d+ points?\b", html), "what counts is said in words, not as a sum below nothing"
    assert set(table) & set(LABELS.values()), "two chains differ in something"
    assert f"/compare?{BOARD.replace('&', '&amp;')}&amp;a=1&amp;b=2" in page.get(f"/?{BOARD}").text


# -- pairs and grids


@pytest.mark.parametrize(
    "words",
    [
        ("acetone", "polycarbonate"),
        ("acetone", "ethanol"),
        ("brass", "salt fog"),
        ("silicone-acetoxy-paste", "concrete"),
    ],
)
def test_a_pair_gets_the_verdict_of_the_command(words: tuple[str, str], page: TestClient, desk: Desk) -> None:
    checked = answer(desk.engine, question(words, desk.known, "check")).checked
    html = ok(page, f"/pair?{urlencode([('thing', w) for w in words])}")
    shown = re.search(r'<h2 id="verdict">(.*?)</h2>', html, re.DOTALL)
    assert shown
    verdict = told(shown[1]).rpartition(": ")[2]
    assert verdict == checked.verdict.replace("-", " ")
    for finding in checked.findings:
        assert f'href="/rules/{finding.rule.id}"' in html


def test_that_nothing_is_known_is_no_approval(page: TestClient) -> None:
    text = told(ok(page, "/pair?thing=acetone&thing=ethanol"))
    assert "not known Nothing speaks against it, and nothing is known for it; that is no approval." in text
    assert "compatible" not in text


def test_a_class_is_answered_member_by_member_and_the_reading_is_told(page: TestClient, desk: Desk) -> None:
    text = told(ok(page, "/pair?thing=oxime+silicone&thing=gear+oil"))
    assert '"gear oil" is read as mineral oil, an exposure.' in text
    both = ("silicone-neutral-cure-oxime-flowable", "silicone-neutral-cure-oxime-paste")
    assert " and ".join(desk.known.entries[item].name for item in both) in text


def test_the_order_of_coats_may_be_said(page: TestClient) -> None:
    pair = "thing=butyl-mastic-tape&thing=polyurethane-lacquer-air-drying"
    assert "needs" in told(ok(page, f"/pair?{pair}"))
    assert ": blocked Never together" in told(ok(page, f"/pair?{pair}&order=then"))


def test_a_pair_that_is_refused_says_what_would_do(page: TestClient) -> None:
    text = told(ok(page, "/pair?thing=acetone&thing=polycarbonate"))
    assert "acetone + polycarbonate: blocked" in text
    assert re.search(r"What would do in place of acetone take [a-z-]+", text)
    assert "not known" not in text, "nothing that is not known can mend it"


def test_a_pair_is_judged_for_the_job_in_the_address(page: TestClient) -> None:
    html = ok(page, f"/pair?{BOARD}&thing=acetone&thing={ADHESIVE}")
    assert f'For the job <a href="/?{BOARD.replace("&", "&amp;")}">' in html
    assert '<input type="hidden" name="part.substrate" value="solder-masked board">' in html
    assert html != ok(page, f"/pair?thing=acetone&thing={ADHESIVE}")


def test_a_grid_holds_every_pair_with_its_reason(page: TestClient, desk: Desk) -> None:
    html = ok(page, "/matrix?rows=conditioner&columns=treatment")
    grid = grid_of(desk.engine, "conditioner", "treatment")
    expected = [
        [name_of(row, desk.known), *(in_names(" ".join(words_of(cell_of(one))), desk.known) for one in line)]
        for row, line in zip(grid.rows, grid.cells, strict=True)
    ]
    assert [[" ".join(cell.split()) for cell in row] for row in expected] == rows(html)
    assert "<svg" in html


def words_of(cell: Cell) -> Iterator[str]:
    """What a cell of the page says."""
    yield f"{SIGNS[cell.verdict]} {cell.verdict.replace('-', ' ')}"
    yield from (re.sub(r" \[[a-z0-9-]+\]$", "", reason) for reason in cell.reasons)
    if cell.mend:
        yield f"Instead: {cell.mend}"


def test_the_grid_that_is_shown_first_is_of_glue_and_coat(page: TestClient) -> None:
    assert "adhesive by coating" in told(ok(page, "/matrix"))


def test_a_grid_for_a_spreadsheet(page: TestClient, desk: Desk) -> None:
    html = ok(page, f"/matrix?{BOARD}&rows=conditioner&columns=treatment")
    link = unescape(re.findall(r'href="(/matrix[^"]+form=csv)"', html)[0])
    assert "part.substrate=" in link
    answer = page.get(link)
    assert answer.headers["content-disposition"] == 'attachment; filename="conditioner-by-treatment.csv"'
    table = list(csv.reader(io.StringIO(answer.text)))
    assert table[0] == ["conditioner", "treatment", "verdict", "reason", "second reason", "what would make it right"]
    assert len(table) - 1 == len(desk.known.by_kind["conditioner"]) * len(desk.known.by_kind["treatment"])


def test_a_grid_that_is_too_large_is_shown_by_family(page: TestClient, desk: Desk) -> None:
    assert len(desk.known.by_kind["substrate"]) * len(desk.known.by_kind["coating"]) > MOST_CELLS
    html = ok(page, "/matrix?rows=substrate&columns=coating")
    assert "family by family" in html
    family_of = {entry.name: entry.family for entry in desk.known.by_kind["substrate"]}
    assert len({family_of[row[0]] for row in rows(html)}) == 1
    assert 'href="/matrix?rows=substrate&amp;columns=coating&amp;family=glass"' in html
    glass = [row[0] for row in rows(ok(page, "/matrix?rows=substrate&columns=coating&family=glass"))]
    assert {family_of[name] for name in glass} == {"glass"}


# -- the day


def test_amounts_are_those_of_the_command(page: TestClient, desk: Desk) -> None:
    asked = desk.asked(JOB)
    found = estimated(asked, asked.chain(), desk)[0]
    document = estimate_json(found)
    html = ok(page, f"/amounts?{BOARD}")
    count = document["installations"]
    assert f"Attempt {count['attempts']} installations for {count['good_needed']} good ones." in told(html)
    names = [line["name"] for line in document["lines"]]
    table = rows(html)
    assert [row[0] for row in table[: len(names)]] == names
    for line, row in zip(document["lines"], table, strict=False):
        packs = "not known" if line["packs"] is None else f"{line['packs']} of "
        assert row[3].startswith(packs)
    assert [row[0] for row in table[len(names) :]] == [v["name"] for v in document["air"]]
    for remark in document["findings"]:
        assert remark["message"] in told(html)


def test_another_chain_has_its_own_amounts(page: TestClient, desk: Desk) -> None:
    second = desk.asked(JOB).chain(2).pick("adhesive").entry
    assert second
    assert f"Chain 2: {second.name}." in told(ok(page, f"/amounts?{BOARD}&chain=2"))


def test_no_page_reckons_for_longer_than_a_reader_waits(page: TestClient) -> None:
    batch = urlencode({**dict(parse_qsl(BOARD)), "batch.boards": 5000})
    for address in ("amounts", "timeline"):
        answer = page.get(f"/{address}?{batch}")
        assert answer.status_code == 422
        assert f"at most {MOST_SCHEDULED}" in alert(answer)


@pytest.mark.parametrize(
    ("state", "verdict"),
    [({}, "go"), ({"bench.relative_humidity_pct": "95"}, "wait"), ({"bench.part_temperature_c": "5"}, "stop")],
)
def test_the_room_says_whether_to_bond(state: dict[str, str], verdict: str, page: TestClient) -> None:
    html = ok(page, f"/room?{urlencode({**dict(parse_qsl(f'{BOARD}&{MEASURED}')), **state})}")
    assert f'<p class="verdict big {verdict}" role="status">{verdict.upper()}: ' in html
    for name, value in state.items():
        assert re.search(rf'name="{re.escape(name)}"[^>]* value="{value}"', html)


def test_the_room_says_the_dew_point_and_the_margin(page: TestClient) -> None:
    # 22 degC at 45 %: 9.5 degC by the Magnus formula, as psychrometric charts have it.
    assert "Dew point 9.5 degC; the part stands 12.5 K above it." in told(ok(page, f"/room?{BOARD}&{MEASURED}"))
    cold = MEASURED.replace("part_temperature_c=22", "part_temperature_c=5")
    assert "the part stands 4.5 K below it." in told(ok(page, f"/room?{BOARD}&{cold}"))


@pytest.mark.parametrize("given", ["", "&bench.relative_humidity_pct=45", "&measured=yes", f"&{MEASURED[:-13]}"])
def test_nothing_is_said_of_a_room_that_nobody_has_measured(given: str, page: TestClient) -> None:
    html = ok(page, f"/room?{BOARD}{given}")
    assert "Not judged yet." in told(html)
    assert "GO:" not in html


def test_the_schedule_has_a_row_for_each_step_of_each_installation(page: TestClient, desk: Desk) -> None:
    asked = desk.asked(read_job(jobs()["seal"]))
    document = timeline_json(scheduled(estimated(asked, asked.chain(), desk)[0]), None)["timeline"]
    html = ok(page, f"/timeline?{SEAL}")
    expected = [
        [str(r["start_min"]), str(r["end_min"]), value_words(r["stage"]), str(r["installation"]), r["who"] or "waits"]
        for r in document[:400]
    ]
    assert rows(html) == expected
    assert "<svg" in html


@pytest.mark.parametrize(
    "address", ["amounts", "room", "timeline", "sheet", "approval", "pictures", "pick", "record", "bench-run"]
)
def test_without_a_job_a_page_says_how_to_get_there(address: str, page: TestClient) -> None:
    assert '<a href="/">Choose a chain</a> first' in ok(page, f"/{address}")


# -- paper and pictures


def test_the_approval_form_begins_with_the_chain_and_the_sheet_with_a_card(page: TestClient, desk: Desk) -> None:
    form = page.get(f"/approval?{BOARD}").text
    places = [form.index(f"<h2>{title}</h2>") for title in ("The chain", "What was asked", "Why this one")]
    assert places == sorted(places)
    sheet = page.get(f"/sheet?{BOARD}").text
    card = sheet[sheet.index('class="block card"') : sheet.index("Batch, serial numbers")]
    glue = desk.asked(JOB).chain().pick("adhesive").entry
    assert glue is not None
    assert glue.name in card
    assert "cautions below" in card


@pytest.mark.parametrize(
    ("address", "size"), [("sheet", "a4"), ("sheet", "letter"), ("approval", "a4"), ("approval", "letter")]
)
def test_paper_is_printed_under_a_policy_of_its_own(address: str, size: str, page: TestClient) -> None:
    answer = page.get(f"/{address}?{BOARD}&paper={size}")
    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert re.search(r"style-src 'sha256-[A-Za-z0-9+/=]{44}'", policy)
    assert "script-src" not in policy
    assert "default-src 'none'" in policy
    assert f'<a href="/?{BOARD.replace("&", "&amp;")}">Back to the answer</a>' in answer.text
    assert "<script" not in answer.text
    assert f"size: {size.upper() if size == 'a4' else size}".lower() in answer.text.lower()


def test_a_sheet_with_lots_takes_them_from_the_shelf(page: TestClient) -> None:
    plain, filled = page.get(f"/sheet?{BOARD}").text, page.get(f"/sheet?{BOARD}&lots=yes").text
    assert "CA-07" not in plain
    assert re.search(r"CA-07<br>.*?2027-05-31", filled, re.DOTALL)
    assert "CA-05" not in filled, "it is past its date"
    assert "were proposed for 2027-03-01" in filled


def test_each_picture_stands_with_its_words(page: TestClient) -> None:
    html = ok(page, f"/pictures?{BRACKET}")
    figures = re.findall(r"<figure.*?</figure>", html, re.DOTALL)
    assert len(figures) == 4
    for figure in figures:
        assert "<svg" in figure
        assert re.search(r"<details><summary>[^<]+: in words</summary><ul><li>[^<]{10}", figure)


# -- the knowledge


def test_everything_that_is_known_of_an_item_is_shown(page: TestClient, desk: Desk) -> None:
    html = ok(page, "/catalog/acetone")
    facts = {row[0]: row[1:] for row in rows(html)}
    assert facts["hansen d"] == ["15.5", "dataset: hspipy-1.1.8, db.csv"]
    assert facts["flash point"][0] == "-20 degC", "a fact is told in words, with its unit"
    assert "H225: Highly flammable liquid and vapour" in told(html)
    assert 'href="/sources#hspipy-1.1.8"' in html
    assert 'href="/rules?kind=degreaser"' in html
    naming = re.findall(r'</span> <a href="/rules/([^"]+)"', html)
    assert naming
    for rule in naming:
        held = desk.known.rules_by_id[rule]
        assert "ketone" in repr(held.when + held.needs) or "acetone" in repr(held.when + held.needs)


def test_the_catalog_is_browsed_and_searched(page: TestClient, desk: Desk) -> None:
    listed = rows(ok(page, "/catalog?kind=adhesive&family=cyanoacrylate"))
    names = {e.name for e in desk.known.by_kind["adhesive"] if e.family == "cyanoacrylate"}
    assert {row[0] for row in listed} == names
    assert 'href="/catalog/polyamide-66' in ok(page, "/catalog?words=glass+filled+nylon")
    assert "Nothing in the catalog is near" in ok(page, "/catalog?words=qqqqxxxx")


def test_a_rule_says_when_it_speaks_and_what_proves_it(page: TestClient, desk: Desk) -> None:
    text = told(ok(page, "/rules/acid-must-be-neutralised"))
    assert "When acid of the conditioner is yes Then it needs ph of the neutraliser is above 7" in text
    assert "It speaks with conditioner: " in text
    assert "It is silent with conditioner: " in text
    assert desk.known.rules_by_id["acid-must-be-neutralised"].because in text


def test_no_page_of_a_rule_shows_the_holes_of_its_message(page: TestClient, desk: Desk) -> None:
    for rule in desk.rules()["rules"][::9]:
        text = told(ok(page, f"/rules/{rule['id']}"))
        assert not re.search(r"\{[a-z_.]+\}", text), rule["id"]
        assert not re.search(rf"\b[a-z]+_[a-z]+|\b(?:{'|'.join(ROLES)})\.[a-z]", text[text.index("Id: ") :]), (
            f"{rule['id']}: a field's name where words are read"
        )


def test_rules_are_found_by_verdict_kind_and_words(page: TestClient, desk: Desk) -> None:
    assert len(rows(ok(page, "/rules"))) == len(desk.known.rules) + len(desk.known.beside)
    needs = rows(ok(page, "/rules?verdict=need"))
    assert len(needs) == sum(rule.verdict == "need" for rule in desk.known.rules)
    about = re.findall(r'href="/rules/([^"]+)"', ok(page, "/rules?kind=neutraliser"))
    assert about
    assert all({"neutraliser", "liquid"} & set(desk.known.rules_by_id[rule].about) for rule in about)


def test_coverage_is_shown_one_family_at_a_time(page: TestClient, desk: Desk) -> None:
    assert not rows(ok(page, "/coverage"))
    html = ok(page, "/coverage?family=polyethylene")
    table = {row[0]: row[1:] for row in rows(html)}
    assert list(table) == [value_words(column) for column in columns()]
    part = representatives(desk.known)["polyethylene"]
    for column in ("salt-fog, a month", "120 degC, a week"):
        one = cell(desk.engine, part, column)
        assert table[value_words(column)][0] == (one.adhesive or "none").replace("-", " ")
        assert all(f'href="/rules/{rule}"' in html for rule in one.closed_by)
    assert "none" in {adhesive for adhesive, _ in table.values()}, "polyethylene melts"


# -- the job as a file


def test_a_job_taken_away_is_the_job(page: TestClient) -> None:
    answer = page.get(f"/job.toml?{BOARD}")
    assert answer.headers["content-disposition"] == 'attachment; filename="job.toml"'
    assert job_of(tomllib.loads(answer.text), "job.toml") == JOB


def bring(page: TestClient, content: bytes, **more: Any) -> httpx.Response:
    text = page.get("/job").text
    fields = {name: re.search(rf'name="{name}" value="([^"]+)"', text) for name in ("session_token", "once")}
    data = {name: match[1] for name, match in fields.items() if match} | more
    answer: httpx.Response = page.post("/job", data=data, files={"file": ("job.toml", content)})
    return answer


def test_a_job_that_is_brought_is_opened(page: TestClient) -> None:
    answer = bring(page, jobs()["board"].read_bytes())
    assert (answer.status_code, answer.headers["location"]) == (303, f"/?{BOARD}")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "file: is empty"),
        (b"\xff\xfe", "file: is not UTF-8 text"),
        (b"[part", "file: is not TOML"),
        (b"[" * 50_000, "file: is not TOML"),
        (b"[part]\nsubstrate = 'brass'\n", "[service] is missing"),
        (b"[part]\nsubstrat = 'brass'\n[service]\ntemperature_c = [0, 1]\n", "substrat"),
    ],
)
def test_a_file_that_is_no_job_is_refused_in_a_line(content: bytes, said: str, page: TestClient) -> None:
    answer = bring(page, content)
    assert answer.status_code == 422
    assert said in alert(answer)
    assert "\n" not in alert(answer)


def test_a_file_from_another_session_or_too_large_is_refused(page: TestClient) -> None:
    assert bring(page, b"x = 1", session_token="made-up").status_code == 403
    assert bring(page, b"#" * 30_000_000).status_code == 413


def test_a_run_is_judged_by_its_own_chain(page: TestClient, desk: Desk) -> None:
    """What is measured during a run judges the chain that is being bonded, not the one for another room."""
    girder = job_with(GIRDER)
    measured = urlencode({"air_temperature_c": 6, "relative_humidity_pct": 85, "part_temperature_c": 4})
    found = page.get(f"/bench-run/room?{query_of(girder)}&{measured}").json()
    asked = desk.asked(girder, 1, None, "t")
    here = girder.model_copy(update={"bench": Bench(**dict(parse_qsl(measured)))})
    own = fitness(asked.engine, here, asked.resolved.entry, asked.chain())
    assert found["verdict"] == own.verdict == "wait"
    assert found["said"] == [*map(message, own.findings), *(r.message for r in own.remarks)]
    usual = desk.asked(ordinary(girder), 1, None, "t").chain()
    others = {coat.name for coat in usual.coatings} - {coat.name for coat in asked.chain().coatings}
    assert others
    assert not any(name in line for name in others for line in found["said"])
    assert page.get(f"/bench-run/room?{query_of(girder)}&relative_humidity_pct=130").status_code == 422


# -- careless addresses


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("/why", 422, "What is the part made of? is missing"),
        (f"/why?{BOARD}", 422, "Item: is missing"),
        (f"/why?{BOARD}&item=unobtainium", 422, "unobtainium"),
        (f"/why?{BOARD}&item=acetone&prefer=luck", 422, "'luck' is not a preference"),
        ("/why?item=acetone&part.substrate=brass", 422, "Lowest service temperature: is missing"),
        (f"/compare?{BOARD}&a=1&b=x", 422, "no ranks"),
        (f"/compare?{BOARD}&a=0&b=1", 422, "no ranks"),
        (f"/compare?{BOARD}&a=1&b=²", 422, "no ranks"),
        (f"/compare?{IMPOSSIBLE}", 409, "no chain suits this job"),
        ("/compare", 422, "part.substrate: is missing"),
        ("/pair?thing=acetone", 422, "one alone"),
        ("/pair?thing=acetone&thing=unobtainium", 422, "unobtainium"),
        (f"/pair?{'&'.join(['thing=acetone'] * 9)}", 422, "at most 8"),
        ("/matrix?rows=x", 422, "rows: 'x' is no kind"),
        ("/matrix?rows=degreaser&columns=aid", 422, "columns: 'aid' is no kind"),
        ("/matrix?rows=degreaser&columns=coating&family=glass", 422, "is no family of degreaser"),
        (f"/amounts?{BOARD}&chain=0", 422, "chain: '0' is no rank"),
        (f"/amounts?{BOARD}&chain=²", 422, "is no rank"),
        (f"/amounts?{IMPOSSIBLE}", 409, "no chain suits this job"),
        (f"/amounts?{BOARD}&chain=101", 422, "is no rank"),
        (f"/room?{BOARD}&activated_h=soon", 422, "Since the surface was treated: 'soon'"),
        (f"/room?{BOARD}&activated_h=nan", 422, "Since the surface was treated: 'nan'"),
        (f"/room?{BOARD}&bench.relative_humidity_pct=145", 422, "Relative humidity: "),
        (f"/room?{IMPOSSIBLE}", 409, "no chain suits this job"),
        (f"/timeline?{IMPOSSIBLE}", 409, "no chain suits this job"),
        (f"/sheet?{BOARD}&paper=a3", 422, "paper: 'a3' is no size"),
        (f"/approval?{IMPOSSIBLE}", 409, "no chain suits this job"),
        (f"/pictures?{IMPOSSIBLE}", 409, "no chain suits this job"),
        ("/catalog?kind=gadget", 422, "'gadget' is no kind"),
        ("/catalog?family=gadget", 422, "'gadget' is no family"),
        ("/catalog/unobtainium", 404, "there is no such item"),
        ("/rules?verdict=maybe", 422, "'maybe' is no verdict"),
        ("/rules?kind=aid", 422, "'aid' is no kind"),
        ("/rules/nothing", 404, "there is no such rule"),
        ("/coverage?family=glas", 422, "did you mean 'glass'"),
        ("/job.toml", 422, "part.substrate: is missing"),
    ],
)
def test_a_careless_address_gets_one_clear_line(address: str, status: int, said: str, page: TestClient) -> None:
    answer = page.get(address)
    assert answer.status_code == status
    main_of(answer)
    assert said in alert(answer)
    assert "\n" not in alert(answer)


@pytest.mark.parametrize(
    "address",
    [
        f"/why?{BOARD}&item={{}}",
        f"/compare?{BOARD}&a={{}}",
        "/pair?thing=acetone&thing={}",
        "/matrix?rows={}&columns=coating",
        f"/room?{BOARD}&activated_h={{}}",
        f"/amounts?{BOARD}&chain={{}}",
        "/catalog?words={}",
        "/catalog?kind={}",
        "/rules?words={}",
        "/coverage?family={}",
        "/job.toml?part.substrate=brass&service.temperature_c.0={}&service.temperature_c.1=60",
        "/sheet?part.substrate={}&service.temperature_c.0=0&service.temperature_c.1=60",
    ],
)
def test_what_is_typed_is_text_and_never_run(address: str, page: TestClient) -> None:
    answer = page.get(address.replace("{}", ODD))
    assert answer.status_code in (200, 422)
    assert "alert(1)" in main_of(answer)


@pytest.mark.parametrize("address", ["amounts", "room", "timeline", "pictures", "sheet", "approval", "job"])
def test_a_job_may_be_called_anything(address: str, page: TestClient) -> None:
    named = Job.model_validate(JOB.model_dump() | {"job": {"name": ODD}})
    answer = page.get(f"/{address}?{query_of(named)}")
    assert answer.status_code == 200
    assert ODD not in answer.text
