"""The pages of the shelf and of the work: each write goes through once, and what must not be done isn't."""

from __future__ import annotations

import csv
import io
import re
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from datetime import date
from decimal import Decimal
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import quote

import httpx
import pytest
from fastapi import FastAPI
from starlette.testclient import TestClient

from kb.stock.products import Product, Products
from kb.stock.workspace import ledger_of
from kb.web.app import create_app
from kb.web.desk import Desk
from kb.web.pages.shelf import MOST_ROWS
from kb.web.settings import Settings
from kb.work.checking import verify
from tests.stock.factory import events, record
from tests.web.addresses import ADHESIVE, BOARD, fill

#: GS1's own example number; its check digit is right.
GTIN = "04012345678901"
GS = "\x1d"


@pytest.fixture(scope="module")
def application() -> FastAPI:
    """One application for all tests: what each keeps is in the desk that it gets."""
    return create_app(Settings(workspace=Path("nowhere"), today=lambda: date(2027, 3, 1), who="kim"))


@pytest.fixture
def page(application: FastAPI, tmp_path: Path) -> TestClient:
    """The application over the shelf of the invented lab."""
    fill(tmp_path)
    application.state.desk = Desk(replace(application.state.desk.settings, workspace=tmp_path))
    return TestClient(application, base_url="http://localhost", follow_redirects=False)


def seal(page: TestClient, address: str) -> dict[str, str]:
    """The hidden fields of a form on the page."""
    text = page.get(address).text
    found = {name: re.search(rf'name="{name}" value="([^"]+)"', text) for name in ("session_token", "once")}
    return {name: match[1] for name, match in found.items() if match}


def send(page: TestClient, address: str, to: str = "", **fields: str) -> httpx.Response:
    answer: httpx.Response = page.post(to or address, data={**seal(page, address), **fields})
    return answer


def happens(page: TestClient, lot: str, event: str, **fields: str) -> httpx.Response:
    return send(page, f"/shelf/lots/{quote(lot, safe='')}", event=event, **fields)


def alert(response: httpx.Response) -> str:
    """What the page says went wrong, in one line."""
    found = re.search(r'role="alert"[^>]*>\s*(.*?)\s*</(?:div|p)>', response.text, re.DOTALL)
    return "" if found is None else unescape(re.sub(r"<[^>]+>", "", found[1])).strip()


# -- looking


def test_the_shelf_tells_what_may_not_be_used_and_what_to_use_first(page: TestClient) -> None:
    text = page.get("/shelf").text
    assert re.search(
        r"Must not be used: 1.*CA-05</a>, .*ethyl cyanoacrylate, low viscosity</a>: expired", text, re.DOTALL
    )
    assert re.search(r"Use these first: 1.*PU-12.*expires soon: usable through 2027-03-20", text, re.DOTALL)
    assert re.findall(r'<th scope="row"><a[^>]*>([^<]+)</a>', text)[:3] == ["CA-05", "PU-12", "CA-07"]
    assert 'class="verdict expired">expired<' in text
    assert "Last days of 5 lots" in text


@pytest.mark.parametrize(
    ("query", "lots"),
    [
        ("state=expired", ["CA-05"]),
        ("item=isopropyl", ["IPA-31"]),
        ("item=Cyanoacrylate&state=in-date", ["CA-07"]),
        ("on=2027-01-15&item=ethyl", ["CA-05", "CA-07"]),
        ("item=brass", []),
        ("state=empty", []),
    ],
)
def test_the_filter_shows_what_was_asked_for(page: TestClient, query: str, lots: list[str]) -> None:
    assert re.findall(r'<th scope="row"><a[^>]*>([^<]+)</a>', page.get(f"/shelf?{query}").text) == lots


def test_many_lots_are_leafed_through(page: TestClient, tmp_path: Path) -> None:
    came = {"type": "received", "at": "2027-02-01", "who": "kim", "item": "acetone", "quantity": "5", "unit": "mL"}
    record(tmp_path, [{**came, "lot": f"AC-{number:03}"} for number in range(MOST_ROWS + 20)])
    address, seen = "/shelf?item=acetone", list[str]()
    while address:
        text = page.get(address).text
        listed = re.findall(r'<th scope="row"><a[^>]*>([^<]+)</a>', text)
        assert len(listed) <= MOST_ROWS
        seen += listed
        onward = re.search(r'<a href="([^"]+)">The next ones', text)
        address = unescape(onward[1]) if onward else ""
    assert seen == [f"AC-{number:03}" for number in range(MOST_ROWS + 20)]
    assert "The ones before" in text
    assert page.get("/shelf?begin=9999").status_code == 422


def test_what_will_run_out_is_to_be_ordered(page: TestClient) -> None:
    for _ in range(3):
        assert happens(page, "IPA-31", "used", quantity="145", unit="mL").status_code == 303
    to_order = 'href="/catalog/isopropyl-alcohol">isopropyl alcohol, 99 % or better</a>: order now: 25 mL usable'
    assert to_order in page.get("/shelf").text


def test_a_lot_of_an_odd_name_is_shown_and_never_run(page: TestClient, tmp_path: Path) -> None:
    odd = '<script>alert("x")</script>/../é?#'
    came = {"type": "received", "at": "2027-02-01", "who": "<i>kim</i>", "lot": odd, "item": "acetone"}
    record(tmp_path, [{**came, "quantity": "5", "unit": "mL", "location": "<img src=x>"}])
    addresses = [
        "/shelf",
        f"/shelf/lots/{quote(odd, safe='')}",
        f"/trace?of={quote(odd)}",
        f"/shelf/scan?code={quote(odd)}x",
    ]
    for address in (*addresses, "/shelf/labels"):
        text = page.get(address).text
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "<i>kim" not in text
        assert "script&gt;" in text
    assert happens(page, odd, "opened").status_code == 303
    assert events(tmp_path)[-1]["lot"] == odd


def test_what_needs_somebody_leads_to_the_lot_and_to_the_item(page: TestClient) -> None:
    text = page.get("/shelf").text
    needs = text[text.index("Needs somebody") : text.index("Lots, as of")]
    assert '<a href="/shelf/lots/CA-05">CA-05</a>' in needs
    assert f'<a href="/catalog/{ADHESIVE}">ethyl cyanoacrylate, low viscosity</a>' in needs


# -- scanning and receiving


def test_a_known_lot_opens_from_its_name_and_from_its_label(page: TestClient) -> None:
    for code in ("CA-07", " CA-07\r", "tackroom:lot/CA-07", "http://lab.local/shelf/lots/CA-07"):
        answer = page.get("/shelf/scan", params={"code": code})
        assert (answer.status_code, answer.headers["location"]) == (303, "/shelf/lots/CA-07")


def test_a_pack_that_is_new_fills_the_form_and_goes_in(page: TestClient, tmp_path: Path) -> None:
    Products.load(tmp_path).put([Product(GTIN, ADHESIVE, None, "")])
    code = f"01{GTIN}17280131{'10'}NEW-1"
    answer = page.get("/shelf/scan", params={"code": code})
    form = answer.headers["location"]
    assert form.startswith("/shelf/receive?")
    text = page.get(form).text
    for value in ("NEW-1", "2028-01-31", "ethyl cyanoacrylate, low viscosity"):
        assert f'value="{value}"' in text
    answer = send(page, form, "/shelf/receive", scan=code, item=ADHESIVE, lot="NEW-1", quantity="20", unit="g")
    assert answer.headers["location"].startswith("/shelf/lots/NEW-1?done=")
    assert "Recorded: #8 2027-03-01 NEW-1 received 20 g, by kim" in page.get(answer.headers["location"]).text
    assert events(tmp_path)[-1]["expires"] == "2028-01-31"
    assert page.get("/shelf/scan", params={"code": code}).headers["location"] == "/shelf/lots/NEW-1"


def test_the_plain_bars_on_a_pack_name_the_item(page: TestClient, tmp_path: Path) -> None:
    assert page.get("/shelf/scan?code=4012345678901").status_code == 422
    Products.load(tmp_path).put([Product(GTIN, ADHESIVE, Decimal(20), "g")])
    text = page.get(page.get("/shelf/scan?code=4012345678901").headers["location"]).text
    for value in ("ethyl cyanoacrylate, low viscosity", "20", "g"):
        assert f'value="{value}"' in text


def test_a_product_that_is_not_known_asks_for_the_item_and_is_known_from_then_on(
    page: TestClient, tmp_path: Path
) -> None:
    code = f"01{GTIN}10NEW-2{GS}17280131"
    form = page.get("/shelf/scan", params={"code": code}).headers["location"]
    text = page.get(form).text
    assert f"Product {GTIN} is not in the table of products: say what it is." in text
    assert 'value="NEW-2"' in text
    assert "tackroom stock" not in text, "whoever stands at the shelf has no terminal"
    pack = {"scan": code, "item": ADHESIVE, "lot": "NEW-2", "quantity": "20", "unit": "g"}
    refused = send(page, form, "/shelf/receive", **pack | {"item": "glue 77"}, remember="yes")
    assert "is no item that is known" in alert(refused)
    assert GTIN not in Products.load(tmp_path).by_gtin
    assert send(page, form, "/shelf/receive", **pack, remember="yes").status_code == 303
    assert Products.load(tmp_path).by_gtin[GTIN] == Product(GTIN, ADHESIVE, Decimal(20), "g")


def test_a_product_is_only_remembered_where_that_was_ticked(page: TestClient, tmp_path: Path) -> None:
    code = f"01{GTIN}10NEW-3{GS}17280131"
    form = page.get("/shelf/scan", params={"code": code}).headers["location"]
    pack = {"scan": code, "item": ADHESIVE, "lot": "NEW-3", "quantity": "20", "unit": "g"}
    assert send(page, form, "/shelf/receive", **pack).status_code == 303
    assert GTIN not in Products.load(tmp_path).by_gtin


def test_a_lot_of_that_name_of_another_product_is_not_taken_for_it(page: TestClient, tmp_path: Path) -> None:
    Products.load(tmp_path).put([Product(GTIN, "acetone", None, "")])
    answer = page.get("/shelf/scan", params={"code": f"01{GTIN}10CA-07"})
    assert answer.status_code == 422
    assert alert(answer).startswith("CA-07: the code is of acetone, and the lot of that name on the shelf is ethyl")


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("", "scan: nothing was scanned; scan again, or type the lot"),
        ("ca-07", "ca-07: there is no such lot; did you mean 'CA-07'?"),
        ("0104012345678902" + "10A", "scan: the check digit of 04012345678902 is wrong; scan again"),
        (
            f"01{GTIN}10A17280131",
            "scan: the lot 'A17280131' seems to hold a date (17) that belongs to a field of its own",
        ),
        ("]C1zzz", "scan: is not a GS1 code that can be read; scan again, or type what it says"),
    ],
)
def test_a_code_that_leads_nowhere_is_one_line(page: TestClient, code: str, said: str) -> None:
    answer = page.get("/shelf/scan", params={"code": code})
    assert answer.status_code == 422
    assert alert(answer).startswith(said)
    assert "\n" not in alert(answer)
    assert "autofocus" in answer.text


# -- what happens to a lot


@pytest.mark.parametrize(
    ("event", "fields", "kept"),
    [
        ("opened", {}, {}),
        ("used", {"quantity": "2.50", "unit": "G", "job": "j"}, {"quantity": "2.5", "unit": "g", "job": "j"}),
        ("counted", {"quantity": "0", "unit": "g"}, {"quantity": "0"}),
        ("moved", {"location": "fridge 2", "storage_c": "4"}, {"location": "fridge 2", "storage_c": 4.0}),
        ("thawed", {"at": "2027-03-01T08:30"}, {"at": "2027-03-01T08:30"}),
        ("mixed", {"at": "2027-03-01T08:30"}, {}),
        ("requalified", {"until": "2027-09-01", "test": "lap shear", "reason": "as new"}, {"until": "2027-09-01"}),
        ("released", {"reason": "one hour only"}, {"reason": "one hour only"}),
        ("condemned", {"reason": "leaks", "sure": "yes"}, {"reason": "leaks"}),
        ("corrected", {"corrects": "2", "change": "expires=2027-06-30\r\nlocation=", "reason": "misread"},
         {"corrects": 2, "change": {"expires": "2027-06-30", "location": None}}),
    ],
)  # fmt: skip
def test_each_event_is_recorded_as_the_command_records_it(
    page: TestClient, tmp_path: Path, event: str, fields: dict[str, str], kept: dict[str, Any]
) -> None:
    answer = happens(page, "CA-07", event, who="ada", **fields)
    assert answer.headers["location"] == "/shelf/lots/CA-07?done=8"
    last = events(tmp_path)[-1]
    assert last.items() >= {"id": 8, "type": event, "lot": "CA-07", "who": "ada", **kept}.items()
    assert "Recorded: #8" in page.get("/shelf/lots/CA-07?done=8").text


@pytest.mark.parametrize(
    ("lot", "event", "fields", "status", "said"),
    [
        ("CA-05", "used", {"quantity": "1", "unit": "g"}, 409,
         "CA-05: expired: date on the container ended on 2027-01-31; nothing was recorded; take another lot"),
        ("CA-05", "used", {"quantity": "1", "unit": "g", "anyway": "yes"}, 422, "'reason': is missing"),
        ("CA-07", "used", {"quantity": "21", "unit": "g"}, 422, "CA-07: 21 g asked for, and 20 g are left"),
        ("CA-07", "used", {"quantity": "1,5", "unit": "g"}, 422, "quantity: '1,5' is not a number"),
        ("CA-07", "used", {"quantity": "1", "unit": "m"}, 422, "CA-07: m can't be converted to g; give the "),
        ("CA-07", "used", {"quantity": "1"}, 422, "unit: is missing"),
        ("CA-07", "opened", {"at": "yesterday"}, 422, "at: 'yesterday' is not an ISO date"),
        ("CA-07", "opened", {"at": "2026-01-01"}, 422, "CA-07: 2026-01-01 is before the lot was received"),
        ("CA-07", "condemned", {"reason": "leaks"}, 422, "sure: is not ticked"),
        ("CA-07", "condemned", {"sure": "yes"}, 422, "reason: may not be empty"),
        ("CA-07", "requalified", {"until": "soon", "test": "t", "reason": "r"}, 422, "until: 'soon' is not an ISO"),
        ("CA-07", "corrected", {"corrects": "99", "reason": "r", "void": "true"}, 422, "CA-07: has no event 99"),
        ("CA-07", "corrected", {"corrects": "x", "reason": "r", "void": "true"}, 422, "corrects: Input should be"),
        ("CA-07", "corrected", {"corrects": "2", "reason": "r", "change": "expires"}, 422, "'set': 'expires' is not"),
        ("CA-07", "moved", {"location": "a", "storage_c": "warm"}, 422, "storage_c: Input should be a valid number"),
        ("CA-07", "exploded", {}, 422, "event: 'exploded' is nothing that is recorded here"),
    ],
)  # fmt: skip
def test_what_is_refused_is_said_in_a_line_and_not_recorded(
    page: TestClient, tmp_path: Path, lot: str, event: str, fields: dict[str, str], status: int, said: str
) -> None:
    before = events(tmp_path)
    answer = happens(page, lot, event, **fields)
    assert answer.status_code == status
    assert alert(answer).startswith(said)
    assert "\n" not in alert(answer)
    assert events(tmp_path) == before
    for value in fields.values():
        if event != "exploded" and value not in ("yes", "true"):
            assert value in unescape(answer.text)  # what was typed is still there


def test_a_barred_lot_is_used_anyway_only_with_a_reason_that_is_kept(page: TestClient, tmp_path: Path) -> None:
    fields = {"quantity": "1", "unit": "g", "anyway": "yes", "reason": "practice piece"}
    assert happens(page, "CA-05", "used", **fields).status_code == 303
    assert events(tmp_path)[-1]["reason"] == "practice piece"


def test_a_lot_that_is_not_there_is_not_found(page: TestClient) -> None:
    answer = page.get("/shelf/lots/ca-07")
    assert answer.status_code == 404
    assert alert(answer) == "ca-07: there is no such lot; did you mean 'CA-07'?"
    assert send(page, "/shelf/lots/CA-07", "/shelf/lots/nowhere", event="opened").status_code == 404


# -- once


def test_a_second_click_records_nothing_more(page: TestClient, tmp_path: Path) -> None:
    form = {**seal(page, "/shelf/lots/CA-07"), "event": "used", "quantity": "1", "unit": "g"}
    answers = [page.post("/shelf/lots/CA-07", data=form) for _ in range(2)]
    assert {a.headers["location"] for a in answers} == {"/shelf/lots/CA-07?done=8"}
    assert len(events(tmp_path)) == 8


def test_many_clicks_at_once_are_one(page: TestClient, tmp_path: Path) -> None:
    form = {**seal(page, "/shelf/lots/CA-07"), "event": "used", "quantity": "1", "unit": "g"}
    with ThreadPoolExecutor(8) as pool:
        answers = list(pool.map(lambda _: page.post("/shelf/lots/CA-07", data=form), range(8)))
    assert {a.headers["location"] for a in answers} == {"/shelf/lots/CA-07?done=8"}
    assert len(events(tmp_path)) == 8


def test_a_form_that_was_kept_and_filled_in_anew_is_not_taken_for_the_first(page: TestClient, tmp_path: Path) -> None:
    form = {**seal(page, "/shelf/lots/CA-07"), "event": "used", "unit": "g"}
    assert page.post("/shelf/lots/CA-07", data={**form, "quantity": "1"}).status_code == 303
    answer = page.post("/shelf/lots/CA-07", data={**form, "quantity": "2"})
    assert answer.status_code in (409, 422)
    assert "was sent before, saying otherwise" in alert(answer)
    assert len(events(tmp_path)) == 8


def test_what_failed_may_be_sent_again(page: TestClient, tmp_path: Path) -> None:
    form = {**seal(page, "/shelf/lots/CA-07"), "event": "used", "unit": "g"}
    assert page.post("/shelf/lots/CA-07", data={**form, "quantity": "99"}).status_code == 422
    assert page.post("/shelf/lots/CA-07", data={**form, "quantity": "9"}).status_code == 303
    assert len(events(tmp_path)) == 8


@pytest.mark.parametrize("address", ["/shelf/lots/CA-07", "/shelf/receive", "/shelf/import", f"/record?{BOARD}"])
def test_a_write_without_the_token_of_its_session_is_refused(page: TestClient, tmp_path: Path, address: str) -> None:
    form = {**seal(page, "/shelf/lots/CA-07"), "event": "opened"}
    for token in ("", "0" * 64):
        answer = page.post(address, data={**form, "session_token": token})
        assert answer.status_code == 403
        assert alert(answer) == "form: is from another session; load the page again and repeat it"
    assert len(events(tmp_path)) == 7


def test_what_other_programs_record_is_seen_at_once(page: TestClient, tmp_path: Path) -> None:
    page.get("/shelf")
    used = {"type": "used", "at": "2027-03-01", "who": "ada", "lot": "CA-07", "quantity": "19", "unit": "g"}
    record(tmp_path, [used])
    assert "<strong>1 g</strong> left" in page.get("/shelf/lots/CA-07").text
    assert happens(page, "CA-07", "used", quantity="2", unit="g").status_code == 422


# -- lists


LIST = "item,lot,quantity,unit,expires,location\nacetone,AC-1,500,mL,2028-01-31,=cmd()\nacetone,AC-2,250,mL,,shelf\n"


def bring(page: TestClient, content: bytes, name: str = "list.csv") -> httpx.Response:
    answer: httpx.Response = page.post(
        "/shelf/import", data=seal(page, "/shelf/import"), files={"file": (name, content)}
    )
    return answer


def test_a_list_is_shown_first_and_goes_in_as_a_whole(page: TestClient, tmp_path: Path) -> None:
    shown = bring(page, LIST.encode())
    assert "Not recorded yet: 2 events in list.csv" in shown.text
    assert len(events(tmp_path)) == 7
    hidden = dict(re.findall(r'type="hidden" name="(\w+)" value="([^"]*)"', shown.text.partition("Choose a file")[0]))
    for _ in range(2):
        answer = page.post("/shelf/import", data=hidden, files={"none": b""})
        assert (answer.status_code, answer.headers["location"]) == (303, "/shelf")
    assert [e["lot"] for e in events(tmp_path)[7:]] == ["AC-1", "AC-2"]


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "file: is empty"),
        (b"item,lot\nacetone,A\n", "list.csv: row 1, column quantity: is missing"),
        (LIST.replace("250", "many").encode(), "list.csv: row 3, column quantity: 'many' is not a number"),
        (LIST.replace("AC-2", "CA-07").encode(), "list.csv: lot CA-07: is there already"),
        (LIST.replace("acetone,AC-2", "acetoone,AC-2").encode(), "list.csv: row 3, column item: 'acetoone' is no item"),
        (b"\xff\xfe\x00", "list.csv"),
        (b"x" * 500_001, "file: has more than 500 kB"),
    ],
)
def test_a_list_at_fault_is_told_by_row_and_nothing_goes_in(
    page: TestClient, tmp_path: Path, content: bytes, said: str
) -> None:
    answer = bring(page, content)
    assert answer.status_code == 422
    assert alert(answer).startswith(said)
    assert len(events(tmp_path)) == 7


def test_a_spreadsheet_takes_no_cell_of_the_list_for_a_formula(page: TestClient, tmp_path: Path) -> None:
    came = {"type": "received", "at": "2027-02-01", "who": "kim", "item": "acetone", "quantity": "5", "unit": "mL"}
    record(tmp_path, [{**came, "lot": "=1+1", "location": "@SUM(A1)", "storage_c": -20}])
    answer = page.get("/shelf/export.csv")
    assert answer.headers["content-disposition"] == 'attachment; filename="shelf.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.text)))
    assert (rows[-1]["lot"], rows[-1]["location"], rows[-1]["storage_c"]) == ("'=1+1", "'@SUM(A1)", "-20")
    assert not [cell for row in rows for cell in row.values() if re.match(r"[=+@]|-(?!\d)", cell)]


def test_labels_print_under_a_policy_of_their_own(page: TestClient) -> None:
    answer = page.get("/shelf/labels?lot=CA-07")
    assert answer.text.count('class="label"') == 1
    assert "style-src 'sha256-" in answer.headers["content-security-policy"]
    assert "style=" not in answer.text
    assert page.get("/shelf/labels?lot=nope").status_code == 422


# -- the work


def test_picking_takes_what_expires_first_and_keeps_it_for_the_job(page: TestClient) -> None:
    address = f"/pick?{BOARD}"
    text = page.get(address).text
    assert re.search(r'of <a href="/shelf/lots/CA-07">CA-07</a>, usable until 2027-05-31', text)
    assert 'not <a href="/shelf/lots/CA-05">CA-05</a>: expired' in text
    assert 'class="verdict stop">short' in text
    assert send(page, address, event="reserve").status_code == 303
    assert "Kept for Fennimore Lane" in page.get(address).text
    other = address.replace("job.name=", "job.name=another+")
    assert "are reserved for other work" in page.get(other.replace("batch.boards=10", "batch.boards=110")).text
    assert send(page, address, event="release").status_code == 303
    assert "Nothing is kept for" in page.get(address).text


def record_form(page: TestClient, **fields: str) -> httpx.Response:
    usual = {f"lot.{ADHESIVE}": "CA-07", "outcome": "pass", "installation": "1-3", "part": "board 4"}
    return send(page, f"/record?{BOARD}", **{**usual, **fields})


def test_what_was_made_is_recorded_once_drawn_from_the_lot_and_traced(page: TestClient, tmp_path: Path) -> None:
    checked = record_form(page, check="yes")
    assert "this would be recorded" in checked.text
    assert len(events(tmp_path)) == 7
    form = {**seal(page, f"/record?{BOARD}"), f"lot.{ADHESIVE}": "CA-07", "outcome": "pass", "installation": "1-3"}
    answers = [page.post(f"/record?{BOARD}", data=form) for _ in range(2)]
    assert len({a.headers["location"] for a in answers}) == 1
    used = events(tmp_path)[7:]
    assert [(e["lot"], e["type"], e["record"]) for e in used] == [("CA-07", "used", 1)]
    assert ledger_of(tmp_path).shelf().lots["CA-07"].quantity < 20
    assert verify(ledger_of(tmp_path)).problems == ()
    traced = page.get(answers[0].headers["location"]).text
    assert "3 installations passed, 0 failed" in traced
    assert "To call back if the lot is bad" in page.get("/trace?of=CA-07").text


@pytest.mark.parametrize(
    ("fields", "status", "said"),
    [
        ({f"lot.{ADHESIVE}": "CA-05"}, 409, "CA-05: expired"),
        ({"outcome": ""}, 422, "installation 1: nothing says how it came out"),
        ({"reading.zero_return_ue": "9"}, 422, "installation 1: can't pass: zero_return_ue 9"),
        ({"reading.zero_return_ue": "much"}, 422, "zero_return_ue: 'much' is not a number"),
        ({"lots": "GONE-1"}, 422, "GONE-1: there is no such lot"),
        ({f"amount.{ADHESIVE}": "400"}, 422, "CA-07: 400 g asked for, and 20 g are left"),
        ({"bench.relative_humidity_pct": "dry"}, 422, "relative_humidity_pct: 'dry' is not a number"),
    ],
)
def test_a_record_that_is_refused_takes_nothing(
    page: TestClient, tmp_path: Path, fields: dict[str, str], status: int, said: str
) -> None:
    answer = record_form(page, **fields)
    assert answer.status_code == status
    assert alert(answer).startswith(said)
    assert len(events(tmp_path)) == 7


def test_a_table_records_each_row(page: TestClient) -> None:
    table = b"installation,outcome,lots,zero_return_ue\n1,pass,CA-07,0.5\n2,,CA-07,7\n"
    answer = page.post(
        f"/record?{BOARD}", data=seal(page, f"/record?{BOARD}"), files={"table": ("made.csv", table, "text/csv")}
    )
    assert answer.status_code == 303
    assert "1 installation passed, 1 failed" in page.get(answer.headers["location"]).text


def test_tracing_what_is_not_there_is_one_line(page: TestClient) -> None:
    answer = page.get("/trace?of=nothing")
    assert answer.status_code == 422
    assert alert(answer).startswith("nothing: there is no such lot")


def test_pages_about_a_job_say_where_one_is_chosen(page: TestClient) -> None:
    for address in ("/pick", "/record"):
        assert "Choose a chain" in page.get(address).text
