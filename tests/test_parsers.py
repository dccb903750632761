"""Whatever is read from outside is either understood or refused in a line: no reader may fail in any other way.

Made-up input: what is nearly right, with one thing or two put wrong, and what is wrong altogether.

    TACKROOM_EXAMPLES=5000 pytest tests/test_parsers.py

tries so many with each reader.
"""

from __future__ import annotations

import copy
import json
import os
import tempfile
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from kb import calc
from kb.base.errors import TackroomError
from kb.base.files import validated
from kb.base.places import shipped
from kb.base.units import to_unit
from kb.job import job_of, read_job
from kb.knowledge import Knowledge
from kb.knowledge.called import called
from kb.knowledge.catalog.files import load_item
from kb.lint.proof import faults
from kb.materials import resolve
from kb.planning.compare import changed
from kb.report.calculations import calculation_json
from kb.rules.form import RuleTable, rule_of
from kb.rules.job_facts import job_facts
from kb.stock.events import checked
from kb.stock.history_table import COLUMNS as HISTORY_COLUMNS
from kb.stock.interchange import brought
from kb.stock.portable import documents_in, drafts_of, files_in
from kb.stock.products import COLUMNS as PRODUCT_COLUMNS
from kb.stock.products import Products, product_of
from kb.stock.scan import house_code, lot_named, read
from kb.stock.shelf_list import COLUMNS as SHELF_COLUMNS
from kb.stock.temperatures import read_log
from kb.web.fields import GROUPS
from kb.web.forms import job_from, query_of
from kb.work.drawing import lots_given
from kb.work.forms import checked as checked_work
from kb.work.recording import from_table, numbered
from tests.stock.factory import AnyItem

EXAMPLES = int(os.environ.get("TACKROOM_EXAMPLES", "60"))
tries = settings(
    max_examples=EXAMPLES,
    database=None,
    derandomize="TACKROOM_EXAMPLES" not in os.environ,
    suppress_health_check=list(HealthCheck),
)
JOB: dict[str, Any] = {
    "job": {"name": "bracket", "planned_on": "2027-03-01"},
    "part": {"substrate": "aluminium 6061", "surface": ["bare"], "thickness_mm": "0.25 in", "populated": False},
    "service": {
        "temperature_c": [-20, "158 degF"], "peak": {"temperature_c": 90, "duration_h": 2},
        "exposures": ["dry-air"], "cycles": 1e5,
    },
    "gauge": {"backing": "polyimide-film", "grid_mm": [3.0, 1.6]},
    "batch": {"boards": 10, "expected_yield": 0.9},
    "bench": {"air_temperature_c": 22},
    "limits": {"ready_within_h": 48, "exclude_hazards": []},
}  # fmt: skip
DESCRIBED: dict[str, Any] = {
    "like": "peek", "family": "polyamide", "max_temperature_c": 90, "cte_ppm_per_c": "80 ppm/degC", "porous": False,
    "hansen": {"d": 17.0, "p": 3.4, "h": 10.6, "radius": 5.1}, "aliases": ["ours"], "modulus_gpa": 2.5,
}  # fmt: skip
WORDS = st.one_of(
    st.text(max_size=30),
    st.sampled_from(
        ("", " ", "brass", "glass", "polyamide", "-", "9**9**9", "1e999", "nan", "20 degC", "\u0664", "=1")
    ),
    st.sampled_from(("\x00", "\u202e", "\ufeff", "'", '"""', "5 %", "{0.__class__}", "a" * 5000, "1" * 5000, "½")),
)
VALUES = st.recursive(
    st.one_of(
        WORDS,
        st.none(),
        st.booleans(),
        st.integers(),
        st.sampled_from((10**400, -(10**30), 0, -0.0, float("nan"), float("inf"), 1e308, 5e-324)),
        st.floats(),
        st.dates(),
        st.datetimes(),
    ),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(WORDS, inner, max_size=3),
    max_leaves=5,
)


@st.composite
def nearly(draw: st.DrawFn, right: Any) -> Any:
    """`right` with one to three things replaced, left out or added."""
    found = copy.deepcopy(right)
    for _ in range(draw(st.integers(1, 3))):
        here = found
        while True:
            places = list(here) if isinstance(here, dict) else list(range(len(here)))
            if not places:
                break
            place = draw(st.sampled_from(places))
            if isinstance(here[place], (dict, list)) and draw(st.booleans()):
                here = here[place]
                continue
            what = draw(st.sampled_from(("replaced", "left out", "added")))
            if what == "replaced":
                here[place] = draw(VALUES)
            elif what == "left out":
                del here[place]
            elif isinstance(here, dict):
                here[draw(WORDS)] = draw(VALUES)
            else:
                here.append(draw(VALUES))
            break
    return found


def understood(reader: Callable[..., Any], *given_to: Any) -> Any:
    """What the reader makes of it; None where it refuses in a line."""
    try:
        return reader(*given_to)
    except TackroomError as fault:
        said = str(fault)
    assert "\n" not in said
    assert len(said) > 3
    return None


# -- jobs


@tries
@given(nearly(JOB))
def test_a_job(data: Any) -> None:
    job = understood(job_of, data, "t")
    if job is not None:
        assert job_of(json.loads(job.model_dump_json(exclude_none=True)), "t") == job


@tries
@given(nearly(DESCRIBED))
def test_a_described_material(knowledge: Knowledge, data: Any) -> None:
    job = understood(job_of, {**JOB, "part": {"substrate": data}}, "t")
    if job is not None:
        found = understood(resolve.substrate, job.part.substrate, knowledge, "t")
        assert found is None or job_facts(job, found.entry.facts)


@tries
@given(WORDS)
def test_a_material_in_words(knowledge: Knowledge, words: str) -> None:
    understood(resolve.substrate, words, knowledge, "t")


def with_file(content: bytes, reader: Callable[[Path], Any]) -> Any:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "given.toml"
        path.write_bytes(content)
        return understood(reader, path)


TOML = (shipped()[1] / "demo").glob("*.toml")
JOB_FILES = [path.read_text(encoding="utf-8") for path in sorted(TOML)]


@st.composite
def scribbled(draw: st.DrawFn, texts: list[str]) -> str:
    """One of the texts with pieces cut out and others put in."""
    text = draw(st.sampled_from(texts))
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(text)))
        end = draw(st.integers(start, min(len(text), start + 20)))
        text = text[:start] + draw(WORDS) + text[end:]
    return text


@tries
@given(scribbled(JOB_FILES) | WORDS)
@example("part = " + "[" * 5000)
@example("[part]\nsubstrate = {" + "a.b." * 2000 + "c = 1}")
def test_a_job_file(text: str) -> None:
    with_file(text.encode("utf-8", "replace"), read_job)


@tries
@given(st.binary(max_size=200))
def test_a_file_of_bytes(content: bytes) -> None:
    with_file(content, read_job)


FIELD_NAMES = st.sampled_from(("service.temperature_c[1]", "part", "x", "batch.boards", "part.surface")) | WORDS


@tries
@given(st.lists(st.builds("{}={}".format, FIELD_NAMES, WORDS), max_size=3))
def test_a_field_set_anew(words: list[str]) -> None:
    understood(changed, job_of(JOB, "t"), words, "with")


@tries
@given(WORDS, st.sampled_from(("degC", "mm", "ppm/delta_degC", "GPa", "percent", "day", "mN/m")))
@example("1 " + "kg*" * 10 + "m", "mm")
def test_a_quantity(words: str, unit: str) -> None:
    try:
        assert to_unit(words, unit) is not None
    except ValueError as fault:
        assert str(fault)  # noqa: PT017


# -- forms

NAMES = [q.name for group in GROUPS for q in group.questions]


@tries
@given(st.lists(st.tuples(st.sampled_from(NAMES) | WORDS, WORDS), max_size=8))
def test_a_form(pairs: list[tuple[str, str]]) -> None:
    right = [("part.substrate", "brass"), ("service.temperature_c.0", "10"), ("service.temperature_c.1", "60")]
    for fields in (pairs, right + pairs, pairs + right):
        job = understood(job_from, fields)
        if job is not None:
            assert understood(job_from, parse_qsl(query_of(job))) == job


@tries
@given(st.text(max_size=200))
def test_an_address(query: str) -> None:
    understood(job_from, parse_qsl(query))


# -- knowledge


def files(of: str) -> list[dict[str, Any]]:
    rules, catalog = shipped()
    folder = rules if of == "rules" else catalog / of
    return [tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(folder.rglob("*.toml"))[::9]]


RULES = files("rules")
KINDS = ("substrate", "degreaser", "adhesive", "coating", "substance", "backing", "aid")
ITEMS = [(kind, data) for kind in KINDS for data in files(kind)]


def rule(data: Any, known: Knowledge) -> None:
    table = validated(RuleTable, data, "t")
    faults(rule_of(table, "t"), table, known.entries, "t")


@tries
@given(st.sampled_from(RULES).flatmap(nearly))
def test_a_rule(knowledge: Knowledge, data: Any) -> None:
    understood(rule, data, knowledge)


@tries
@given(st.sampled_from(ITEMS).flatmap(lambda item: st.tuples(st.just(item[0]), nearly(item[1]))))
def test_an_item(item: tuple[str, Any]) -> None:
    understood(load_item, *item, "t", {})


# -- calculations


@tries
@given(st.sampled_from(calc.names()).flatmap(lambda one: st.tuples(st.just(one), nearly(calc.describe(one).example))))
def test_inputs_of_a_calculation(one: tuple[str, dict[str, Any]]) -> None:
    understood(calc.run, *one)


@tries
@given(st.sampled_from(calc.names()) | WORDS, WORDS | st.builds(json.dumps, st.dictionaries(WORDS, st.floats())))
@example("dew-point", "[" * 100_000)
@example("dew-point", '{"air_temperature_c": ' + "9" * 5000 + "}")
def test_inputs_as_text(name: str, inputs: str) -> None:
    understood(calculation_json, name, inputs)


# -- the shelf

EVENT = {
    "type": "received", "at": "2027-03-01", "who": "kim", "lot": "A-17", "item": "acetone", "quantity": "500",
    "unit": "mL", "made": "2026-12-01", "expires": "2028-12-31", "storage_c": 20, "location": "cupboard",
}  # fmt: skip
CORRECTED = {
    "type": "corrected", "at": "2027-03-01", "who": "kim", "lot": "A-17", "corrects": 1, "change": {"unit": "g"},
    "reason": "slip",
}  # fmt: skip
CELLS = WORDS | st.sampled_from(("A-17", "acetone", "2,5", "1.250", "mL", "2027-03-01", "true", "-18", '{"unit": "g"}'))


@tries
@given(nearly(EVENT) | nearly(CORRECTED))
def test_an_event(raw: Any) -> None:
    event = understood(checked, raw)
    assert event is None or checked(event) == event


def table_of(columns: tuple[str, ...]) -> st.SearchStrategy[bytes]:
    """A table with some of the columns, in any order, and any cells."""

    def written(names: list[str], rows: list[list[str]], sign: str, end: str) -> bytes:
        lines = [sign.join(names), *(sign.join(cells) for cells in rows)]
        return end.join(lines).encode("utf-8", "replace")

    header = st.permutations(columns) | st.lists(st.sampled_from(columns) | WORDS, max_size=8)
    rows = st.lists(st.lists(CELLS, min_size=1, max_size=len(columns)), max_size=4)
    return st.builds(written, header, rows, st.sampled_from(",;\t"), st.sampled_from(("\n", "\r\n"))) | st.binary()


@tries
@given(table_of(SHELF_COLUMNS) | table_of(HISTORY_COLUMNS))
def test_a_shelf_list_or_history(content: bytes) -> None:
    understood(brought, content, "in.csv", AnyItem(), "2027-03-01", "kim")


@tries
@given(nearly({"schema": "tackroom.stock-history/1", "events": [EVENT | {"id": 1}, CORRECTED | {"id": 2}]}))
def test_a_history_in_json(document: Any) -> None:
    content = json.dumps(document, default=str).encode("utf-8", "replace")
    understood(brought, content, "in.json", AnyItem(), "2027-03-01", "kim")


WHOLE = {
    "schema": "tackroom.ledger/1", "head": "", "documents": {"words": [{"words": "w", "item": "acetone"}]},
    "files": {"catalog/degreaser/x.toml": "id = 1"}, "entries": [
        {"stream": "stock", "document": {"id": 1, **EVENT}},
        {"stream": "work", "document": {
            "id": 1, "type": "installed", "job": "J", "at": "2027-03-02", "who": "kim", "chain": {"adhesive": "x"},
            "installations": [{"installation": "1", "outcome": "pass"}], "draws": [
                {"lot": "A-17", "quantity": "1", "unit": "mL"}],
        }},
    ],
}  # fmt: skip


@tries
@given(nearly(WHOLE))
def test_a_whole_workspace_in_json(document: Any) -> None:
    content = json.dumps(document, default=str).encode("utf-8", "replace")
    found = understood(brought, content, "in.json", AnyItem(), "2027-03-01", "kim")
    if found is not None and found.whole is not None:
        understood(drafts_of, found.whole, "in.json", checked_work)
        understood(documents_in, found.whole, "in.json")
        understood(files_in, found.whole, "in.json")


@tries
@given(nearly(WHOLE["entries"][1]["document"]))  # type: ignore[index]
def test_a_record_of_the_work(raw: Any) -> None:
    kept = understood(checked_work, raw)
    assert kept is None or checked_work(kept) == kept


@tries
@given(nearly({"words": {"1": {"words": "w", "item": "acetone"}}, "products": {"1": {"gtin": "04012345678901"}}}))
def test_documents_that_somebody_edited(document: Any) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "documents.json").write_text(json.dumps(document, default=str), "utf-8", "replace")
        understood(called, Path(folder))
        understood(Products.load, Path(folder))


@tries
@given(table_of(("time", "temperature_c")))
def test_a_log(content: bytes) -> None:
    understood(read_log, content, "log.csv")


@tries
@given(table_of(PRODUCT_COLUMNS))
def test_a_table_of_products(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "products.csv").write_bytes(content)
        understood(Products.load, Path(folder))


@tries
@given(WORDS, WORDS, WORDS | st.none(), WORDS)
def test_a_product(gtin: str, item: str, quantity: str | None, unit: str) -> None:
    understood(product_of, gtin, item, quantity, unit, None, str)


@tries
@given(table_of(("installation", "part", "outcome", "lots", "photo", "note", "zero_return_ue")))
def test_a_table_of_installations(content: bytes) -> None:
    limits = {"zero_return_ue": {"quantity": "zero_return_ue", "at_most": 2.0, "unit": "microstrain"}}
    understood(from_table, content, "done.csv", limits, ["A-17"])


@tries
@given(st.lists(WORDS | st.from_regex(r"[0-9]{1,6}-[0-9]{1,7}(,1-99999){0,3}", fullmatch=True), max_size=3))
def test_lots_and_installations_in_words(words: list[str]) -> None:
    understood(lots_given, words)
    for one in words:
        understood(numbered, one)


DIGITS = st.text("0123456789", max_size=24)
FIELDS = st.tuples(
    st.sampled_from(("01", "10", "11", "15", "17", "21", "(01)", "(17)", "02", "99", "]C1")), DIGITS | WORDS
)
CODES = st.lists(FIELDS, max_size=4).map(lambda fields: "\x1d".join("".join(one) for one in fields))


@tries
@given(CODES | WORDS | WORDS.map(house_code), st.none() | WORDS)
@example("]C101040123456789011799999910A", None)
@example("tackroom:lot/%ff%00", None)
def test_a_code(code: str, lot: str | None) -> None:
    understood(read, code, "2027-03-01", lot)
    understood(lot_named, code, "2027-03-01")


def test_these_files_are_there() -> None:
    assert len(RULES) > 10
    assert len(ITEMS) > 20
    assert len(JOB_FILES) >= 3
