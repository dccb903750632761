"""The answers' documents as OpenAPI has them: each by its schema's name, with its members.

They are the commands' own (docs/reference.md); tests hold real answers to what is said here.
"""

from __future__ import annotations

from typing import Any

from kb.web.api.common import Responses

Schema = dict[str, Any]

TEXT: Schema = {"type": "string"}
NUMBER: Schema = {"type": "number"}
COUNT: Schema = {"type": "integer", "minimum": 0}
YES_NO: Schema = {"type": "boolean"}
TABLE: Schema = {"type": "object"}
TEXTS: Schema = {"type": "array", "items": TEXT}
ROWS: Schema = {"type": "array", "items": TABLE}


def maybe(schema: Schema) -> Schema:
    """Allow it, or null."""
    return {"anyOf": [schema, {"type": "null"}]}


def one_of(*words: str) -> Schema:
    return {"type": "string", "enum": list(words)}


def table(may: tuple[str, ...] = (), /, **members: Schema) -> Schema:
    """Describe an object with these members.

    All must be there but those in `may`. It may grow: a reader passes over others.
    """
    needed = [name for name in members if name not in may]
    return {"type": "object", "properties": members, "required": needed}


def rows(**members: Schema) -> Schema:
    return {"type": "array", "items": table(**members)}


def document(name: str, may: tuple[str, ...] = (), /, **members: Schema) -> Schema:
    """Give an answer: its schema's name, and its members."""
    return table(may, **{"schema": {"type": "string", "const": name}}, **members)


def answer(*documents: Schema) -> Responses:
    """Give `responses` of a request that is answered with one of the documents."""
    schema = documents[0] if len(documents) == 1 else {"type": "object", "anyOf": list(documents)}
    return {200: {"description": "The answer.", "content": {"application/json": {"schema": schema}}}}


FINDING = table(
    rule=TEXT, verdict=one_of("block", "need", "caution", "prefer"), about=TEXTS, message=TEXT, because=TEXT,
    instead=maybe(TEXT), basis=TEXT, sources=TEXTS, known=YES_NO, met=YES_NO, seen=TABLE, unknown=TEXTS, recalled=TEXTS,
    calculations=ROWS,
)  # fmt: skip
FINDINGS: Schema = {"type": "array", "items": FINDING}
#: What stands in each slot of a chain; coatings are a list.
ITEMS = table(
    degreaser=maybe(TEXT), abrasive_dry=maybe(TEXT), abrasive_wet=maybe(TEXT), conditioner=maybe(TEXT),
    neutraliser=maybe(TEXT), treatment=maybe(TEXT), backing=maybe(TEXT), adhesive=maybe(TEXT),
    solder=maybe(TEXT), flux=maybe(TEXT), wire=maybe(TEXT), coatings=TEXTS,
)  # fmt: skip
#: What stands against a job, what would help, and how far that was searched.
TROUBLE: dict[str, Schema] = {
    "conflict": maybe(ROWS),
    "relaxations": rows(change=ROWS, gives=ITEMS, message=TEXT),
    "search": maybe(table(jobs_tried=COUNT, complete=YES_NO)),
}
#: When the first installation, and when the batch, may be measured.
READY: dict[str, Schema] = {
    "ready_after_min": NUMBER, "batch_ready_after_min": NUMBER, "within_limit": maybe(YES_NO),
}  # fmt: skip
CHAIN = table(
    rank=COUNT, items=ITEMS, families=TABLE, cure=maybe(TABLE),
    steps={"type": "array", "items": {"type": "object", "required": ["stage", "do", "must", "never"]}},
    findings=FINDINGS, score=rows(criterion=TEXT, value=NUMBER, unit=TEXT, points=NUMBER), cost=NUMBER,
    **READY,
)  # fmt: skip
PLAN = document(
    "tackroom.plan/1", ("proven", "bound"), proven=YES_NO, bound={},
    job={"$ref": "#/components/schemas/Job"},
    substrate={"type": "object", "required": ["id", "name", "family", "match", "missing"]},
    outcome=one_of("planned", "no-chain"), chains={"type": "array", "items": CHAIN},
    excluded=rows(item=TEXT, kind=TEXT, family=TEXT, findings=FINDINGS), **TROUBLE, notes=TEXTS, knowledge=TEXT,
    alternatives=rows(by=TEXT, says=TEXT, service_days=maybe(NUMBER), chain=CHAIN), none_near=rows(by=TEXT, says=TEXT),
    set=rows(fact=TEXT, **{"from": {}, "to": {}}),
    gauge=FINDINGS, firmness=maybe(table(level=TEXT, share=NUMBER, to=table(adhesive=maybe(TEXT), coatings=TEXTS))),
    hangs_on=maybe(rows(fact=TEXT, value={}, basis=TEXT, changes_at={}, to={})),
)  # fmt: skip
CHECK = document(
    "tackroom.check/1", ("remedies",), items=TEXTS, classes=TABLE,
    read_as=rows(
        typed=TEXT, kind=TEXT, members=TEXTS, may_also_be=TEXTS, not_known=TEXTS, at_c=maybe(NUMBER),
        cured_c=maybe(NUMBER), **{"as": TEXT},
    ),
    verdict=one_of("blocked", "needs", "caution", "not-known", "compatible"), unseen=YES_NO,
    findings=FINDINGS, notes=FINDINGS, suits=FINDINGS, not_known=rows(items=TEXTS, message=TEXT),
    uses=rows(use=TEXT, possible=YES_NO, verdict=TEXT, reason=maybe(TEXT)), orders=rows(items=TEXTS, verdict=TEXT),
    by_member=rows(items=TEXTS, verdict=TEXT),
    remedies=rows(do=one_of("swap", "add"), item=maybe(TEXT), by=TEXTS, verdict=TEXT),
)  # fmt: skip
GAPS = rows(
    criterion=TEXT, unit=TEXT, values={"type": "array", "items": NUMBER}, points={"type": "array", "items": NUMBER}
)
_HELD = maybe(table(items=ITEMS, cost=NUMBER, critical_path_min=NUMBER))
EXPLAIN = document(
    "tackroom.explain/1", job=TEXT, substrate=TEXT, item=TEXT, kind=TEXT, family=TEXT,
    standing=one_of("in", "behind", "out"), message=TEXT, findings=FINDINGS, first=_HELD, held_against=_HELD,
    gaps=GAPS, **TROUBLE,
)  # fmt: skip
_SIDE = table(
    name=TEXT, outcome=one_of("planned", "no-chain"), items=maybe(ITEMS), cost=maybe(NUMBER),
    ready_after_min=maybe(NUMBER), batch_ready_after_min=maybe(NUMBER), within_limit=maybe(YES_NO),
    conflict=TROUBLE["conflict"], relaxations=TROUBLE["relaxations"],
)  # fmt: skip
COMPARE = document(
    "tackroom.compare/1", a=_SIDE, b=_SIDE,
    conditions={"type": "array", "items": {"type": "object", "required": ["field", "a", "b"]}},
    slots=rows(slot=TEXT, a=maybe(TEXT), b=maybe(TEXT)), gaps=GAPS,
    findings=table(only_a=FINDINGS, only_b=FINDINGS), excluded=table(only_a=TEXTS, only_b=TEXTS),
)  # fmt: skip
DESCRIBE = document(
    "tackroom.describe/1", part=table(substrate=TABLE), answers={"type": "object", "additionalProperties": TEXT},
    open=TEXTS, plan=PLAN,
)  # fmt: skip
_OF_CHAIN = table(rank=COUNT, items=ITEMS)
ESTIMATE = document(
    "tackroom.estimate/1", ("learned_yield",), chain=_OF_CHAIN, cost=TABLE,
    installations=table(
        good_needed=COUNT, attempts=COUNT, expected_yield=NUMBER, confidence=NUMBER,
        range={"type": "array", "items": COUNT},
    ),
    lines=rows(
        item=TEXT, name=TEXT, kind=TEXT, unit=TEXT, per_attempt=NUMBER, net=NUMBER, waste=NUMBER, gross=NUMBER,
        range={"type": "array", "items": NUMBER}, bring=NUMBER, pack_size=maybe(NUMBER),
        packs=maybe(COUNT), basis=TEXT, uses=ROWS,
    ),
    mixes=rows(
        item=TEXT, number=COUNT, mass_g=NUMBER, installations_each=COUNT, limited_by=TEXT, pot_life_min=maybe(NUMBER),
        thrown_away_g=NUMBER,
    ),
    timeline=ROWS, **READY, air=ROWS, air_together=TABLE, waste=ROWS, findings=ROWS,
    learned_yield=TABLE,
)  # fmt: skip
BENCH = document(
    "tackroom.bench/1", dew_point_c=maybe(NUMBER), margin_c=maybe(NUMBER), phase=maybe(TEXT),
    humidity_ratio_g_kg=maybe(NUMBER), humidity_at_part_pct=maybe(NUMBER), verdict=one_of("go", "wait", "stop"),
    change=TEXTS, chain=_OF_CHAIN, findings=ROWS,
)  # fmt: skip
TIMELINE = document(
    "tackroom.timeline/1", installations=COUNT, resources=TABLE, start=TEXT, ready=TEXT, **READY,
    tasks=ROWS, mixes=ROWS,
    longest_chain_min=NUMBER, serial_min=NUMBER, held_up_by=maybe(TEXT), one_more_saves_min=TABLE,
    solver_ready_after_min=maybe(NUMBER), remarks=TEXTS, timeline=ROWS,
)  # fmt: skip
PICK = document(
    "tackroom.pick/1", on=TEXT,
    lines={"type": "array", "items": {"type": "object", "required": ["item", "needed", "unit", "from", "short"]}},
)  # fmt: skip
ITEM = document("tackroom.item/1", item=TABLE, sources=TABLE)
ITEM_LIST = document(
    "tackroom.items/1",
    items={"type": "array", "items": {"type": "object", "required": ["id", "kind", "family", "name"]}},
)
IDENTIFY = document(
    "tackroom.identify/1", query=TEXT, taken=maybe(TEXT), members=TEXTS, not_known=TEXTS, may_also_be=TEXTS,
    matches=rows(id=TEXT, name=TEXT, family=TEXT, how=TEXT, score=NUMBER),
)  # fmt: skip
RULE = table(
    id=TEXT, title=TEXT, verdict=TEXT, about=TEXTS, message=TEXT, because=TEXT, instead=maybe(TEXT), basis=TEXT,
    sources=TEXTS, omits=maybe(TEXT), added=TEXT, cases=ROWS,
)  # fmt: skip
RULES = document("tackroom.rules/1", rules={"type": "array", "items": RULE})
ONE_RULE = document("tackroom.rule/1", rule=RULE, sources=TABLE)
SOURCES = document("tackroom.sources/1", sources={"type": "object", "additionalProperties": TABLE})
CALCULATIONS = document(
    "tackroom.calcs/1",
    calculations=rows(name=TEXT, title=TEXT, inputs=TABLE, results=TABLE, source=TEXT, example=TABLE),
)
CALCULATION = document("tackroom.calc/1", name=TEXT, inputs=TABLE, result=TABLE, source=TEXT)
MATRIX = document(
    "tackroom.matrix/1", kinds=TEXTS, counts=TABLE,
    cells=rows(
        row=TEXT, column=TEXT, verdict=TEXT, unseen=YES_NO, reason=maybe(TEXT), reasons=TEXTS, mend=maybe(TEXT)
    ),
)  # fmt: skip
_LOT = {
    name: maybe(TEXT)
    for name in (
        "received", "made", "expires", "opened", "usable_until", "location", "limited_by", "thawed", "mixed",
        "requalified_until", "gtin", "batch",
    )
} | {
    "lot": TEXT, "item": TEXT, "quantity": NUMBER, "unit": TEXT, "storage_c": maybe(NUMBER), "notes": TEXTS,
    "state": one_of(
        "in-date", "expires-soon", "expired", "opened-life-ended", "storage-excursion", "empty", "condemned", "on-hold"
    ),
    "reserved": NUMBER,
}  # fmt: skip
LOTS = document("tackroom.stock/1", on=TEXT, known=maybe(TEXT), lots=rows(**_LOT))
FLAGS = document(
    "tackroom.stock/1",
    on=TEXT,
    known=maybe(TEXT),
    lots=rows(**_LOT, reason=TEXT),
    left_over=ROWS,
    reorder=ROWS,
    planned=ROWS,
    below_minimum=ROWS,
)
_EVENT: Schema = {"type": "object", "required": ["type", "at", "who", "lot"]}
EVENTS = document("tackroom.stock-events/1", dry_run=YES_NO, events={"type": "array", "items": _EVENT})
HISTORY = document("tackroom.stock-history/1", lot=TEXT, events={"type": "array", "items": _EVENT})
REPORT = document("tackroom.stock-report/1", sound=YES_NO, events=COUNT, problems=TEXTS, notes=TEXTS)
SCAN = document(
    "tackroom.stock-scan/1",
    **{name: maybe(TEXT) for name in ("lot", "gtin", "made", "expires", "serial", "item")},
)
RECORD = document("tackroom.record/1", dry_run=YES_NO, record=TABLE, **{"yield": TABLE})
TRACE = document(
    "tackroom.trace/1", of=TEXT, kind=one_of("lot", "job", "batch", "part", "who", "days"), passed=COUNT, failed=COUNT,
    lots=rows(lot=TEXT, item=TEXT, installations=COUNT, failed=COUNT, share=NUMBER), installations=ROWS,
    recall=rows(job=TEXT, part=maybe(TEXT), installations=TEXTS), other_uses=ROWS, undone_uses=ROWS,
    on_shelf=rows(
        lot=TEXT, item=TEXT, quantity=NUMBER, unit=TEXT, location=maybe(TEXT), batch=maybe(TEXT), installations=COUNT
    ),
    records=rows(
        record=COUNT, job=TEXT, who=TEXT, verdict=one_of("unsigned", "approved", "refused"), signatures=ROWS
    ),
)  # fmt: skip
SIGNED = document("tackroom.signed/1", signed=TABLE)
SESSION = document("tackroom.session/1", token=TEXT, header=TEXT, who=TEXT, today=TEXT)
