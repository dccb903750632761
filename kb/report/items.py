"""Catalog items for programs and people: lists, one item whole, and what words may mean."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from kb.base.errors import BadInput, nearest
from kb.base.plurals import singulars
from kb.base.vocabulary import FAMILIES, KINDS
from kb.knowledge import Entry, Knowledge
from kb.knowledge.derive import DERIVED
from kb.materials.identify import Match, clear, no_part
from kb.materials.resolve import Resolved
from kb.report.text import filled, listed, one_of
from kb.rules.words import named, shown, value_words

#: What is done with words that name a class only.
_AS_CLASS = (
    "A job that says no more is planned at the cautious end of its members, the ordinary one where they contradict."
)
#: What to do with a material that the catalog lacks.
_DESCRIBE = "If it is none of the catalog's, let `tackroom describe JOB` ask you about it."


def select(knowledge: Knowledge, kind: str | None, family: str | None) -> list[Entry]:
    """Give the entries of a kind and family, in catalog order; BadInput for a word that is neither."""
    if kind is not None and kind not in KINDS:
        one = next(singulars(kind), kind)
        raise BadInput("list", f"'{kind}' is no kind of item", nearest(one, KINDS) or f"kinds: {', '.join(KINDS)}")
    families = [f for k, names in FAMILIES.items() if kind in (None, k) for f in names]
    if family is not None and family not in families:
        raise BadInput(
            "list", f"'{family}' is no family", nearest(family, families) or f"families: {', '.join(families)}"
        )
    return [e for e in knowledge.entries.values() if kind in (None, e.kind) and family in (None, e.family)]


def nested(facts: Mapping[str, Any]) -> dict[str, Any]:
    """Flat facts as the nested tables that they were written as.

    >>> nested({"id": "x", "hansen.d": 18.0, "hansen.p": 1.0, "pair": (1, 2)})
    {'id': 'x', 'hansen': {'d': 18.0, 'p': 1.0}, 'pair': [1, 2]}
    >>> nested({"resists.steam": "good", "resists.steam.up_to_c": 120.0, "span": (1, 2), "span.low": 1})
    {'resists': {'steam': {'is': 'good', 'up_to_c': 120.0}}, 'span': [1, 2]}
    """
    tree: dict[str, Any] = {}
    for path, value in facts.items():
        *tables, name = path.split(".")
        if isinstance(facts.get(".".join(tables)), (list, tuple)):
            continue  # an end of a range that is there as a whole
        here = tree
        for table in tables:
            known = here.setdefault(table, {})
            # A word that has limits of its own is written as a table, in which it says what it is.
            here[table] = known if isinstance(known, dict) else {"is": known}
            here = here[table]
        if isinstance(here.get(name), dict):
            here[name]["is"] = _listed(value)
        else:
            here[name] = _listed(value)
    return tree


def _listed(value: Any) -> Any:
    if isinstance(value, (list, tuple)):
        return [_listed(v) for v in value]
    return {k: _listed(v) for k, v in value.items()} if isinstance(value, Mapping) else value


def items_json(entries: Sequence[Entry]) -> dict[str, Any]:
    """Give `tackroom.items/1`."""
    return {"schema": "tackroom.items/1", "items": [nested(e.facts) for e in entries]}


def items_text(entries: Sequence[Entry]) -> str:
    """Write a line for each item, grouped by kind."""
    lines: list[str] = []
    kind = ""
    for entry in entries:
        if entry.kind != kind:
            kind = entry.kind
            lines.append(kind.upper())
        lines.append(f"  {entry.id:<42} {entry.family:<24} {entry.name}")
    return "".join(f"{line}\n" for line in [*lines, f"{len(entries)} items"])


def sources_of(entry: Entry, knowledge: Knowledge) -> dict[str, Any]:
    """Give every source that the entry cites, whole, by id."""
    ids = {citation["id"] for citation in entry.facts.get("sources", ())}
    ids |= {fb["source"] for fb in entry.facts.get("field_basis", ()) if fb.get("source")}
    ids |= {limit["source"] for limit in entry.facts.get("limits", ())}
    return {i: dict(knowledge.sources[i]) for i in sorted(ids) if i in knowledge.sources}


def item_json(entry: Entry, knowledge: Knowledge) -> dict[str, Any]:
    """Give `tackroom.item/1`: every known field, and the sources that they rest on."""
    return {"schema": "tackroom.item/1", "item": nested(entry.facts), "sources": sources_of(entry, knowledge)}


#: Fields that are told elsewhere than among the facts.
_TOLD_APART = frozenset(
    (
        "id",
        "kind",
        "family",
        "name",
        "summary",
        "field_basis",
        "basis",
        "sources",
        "schedules",
        "limits",
        "house",
        "hazard_because",
    )
)


def fact_rows(entry: Entry, in_words: bool = False) -> list[tuple[str, str, str]]:
    """Give every known fact of an item: its name, what it is, and what it rests on ("" where as the item).

    Named as its file names them, and what follows from them; or `in_words` with their units, what was given alone.
    """
    told = _worded if in_words else _written
    basis_of = {
        name: fb["basis"]
        + (f": {fb['source']}" if fb.get("source") else "")
        + (f", {fb['locator']}" if fb.get("locator") else "")
        for fb in entry.facts.get("field_basis", ())
        for name in fb["fields"]
    }
    rows: list[tuple[str, str, str]] = []
    for path, value in entry.facts.items():
        if path in _TOLD_APART or value in ((), "", {}) or (in_words and path in DERIVED):
            continue
        basis = basis_of.get(path) or basis_of.get(path.partition(".")[0]) or ""
        tables = [value] if isinstance(value, Mapping) else value
        if isinstance(tables, (list, tuple)) and tables and isinstance(tables[0], Mapping):
            rows.append((told(path, 0)[0], "; ".join(_table(row, told) for row in tables), basis))
        else:
            rows.append((*told(path, value), basis))
    for name in ("schedules", "limits"):
        rows += [(name[:-1], _table(row, told), "") for row in entry.facts.get(name, ())]
    for row in entry.facts.get("hazard_because", ()):
        rows.append((row["statement"], f"part {row['part']}: {shown(row['of']) or 'as measured'}", "computed"))
    return rows


def _table(row: Mapping[str, Any], told: Callable[[str, Any], tuple[str, str]]) -> str:
    return ", ".join(" ".join(told(name, value)) for name, value in row.items() if value is not None)


def _written(name: str, value: Any) -> tuple[str, str]:
    return name, shown(value)


def _worded(name: str, value: Any) -> tuple[str, str]:
    """Give a fact in words.

    >>> _worded("full_cure_min", 1440.0), _worded("resists.steam.up_to_c", 120.0)
    (('full cure', '24 h'), ('resistance to steam up to', '120 degC'))
    """
    words, unit = named(name)
    return words, value_words(value, unit)


def item_text(entry: Entry, knowledge: Knowledge) -> str:
    """Give every known fact of an item, a line each, with what it rests on."""
    lines = [f"{entry.name} ({entry.kind}, {entry.family})", str(entry.facts.get("summary", "")), ""]
    lines += [f"  {name:<28} {text}" + (f"   [{basis}]" if basis else "") for name, text, basis in fact_rows(entry)]
    lines += ["", f"Basis: {entry.facts['basis']}, where nothing else is said."]
    lines += [f"Source {i}: {s['title']}, {s['edition']}" for i, s in sources_of(entry, knowledge).items()]
    return "".join(f"{line}\n" for line in lines)


def class_text(words: str, members: Sequence[Entry]) -> str:
    """Give the members of a class of materials, a line each."""
    said = filled(f"'{words}' names a class of materials. {_AS_CLASS}")
    return f"{said}\n{items_text(members)}"


def matches_json(
    words: str, matches: Sequence[Match], found: Resolved | None = None, others: Sequence[str] = ()
) -> dict[str, Any]:
    """Give `tackroom.identify/1`. `taken`: the id that a job takes without asking; `members`: those of a class.

    `found` is the class, the finish on a metal, or the material with strange words beside it, that a job takes
    instead of a match; `others` are the kinds of what else is called so.
    """
    taken = matches[0].entry.id if matches and clear(matches) else None
    if found is not None:
        taken = None if found.members or found.how == "described" else found.entry.id
    return {
        "schema": "tackroom.identify/1",
        "query": words,
        "taken": taken,
        "members": list(found.members) if found else [],
        "not_known": list(found.not_known) if found else [],
        "may_also_be": list(others),
        "matches": list(_matches(matches)),
    }


def _matches(matches: Sequence[Match]) -> Iterator[dict[str, Any]]:
    for m in matches:
        yield {"id": m.entry.id, "name": m.entry.name, "family": m.entry.family, "how": m.how, "score": m.score}


def matches_text(
    words: str, matches: Sequence[Match], found: Resolved | None = None, others: Sequence[str] = ()
) -> str:
    """Tell what words may mean, a line each; then what a job with these words would make of them, and `others`."""
    if not matches and found is None:
        told = no_part(words, matches)
        return (
            filled(f"'{words}' is not planned: {told}.") + "\n"
            if told
            else f"Nothing in the catalog is near '{words}'. {_DESCRIBE}\n"
        )
    rows = [f"{m.score:5.1f}  {m.entry.id:<36} {m.entry.family:<22} {m.entry.name} ({m.how})" for m in matches]
    told = "".join(f" {said}." for said in found.said_of_the_rest()) if found else ""
    if found is not None and found.members:
        said = f"'{words}' is a class: {', '.join(found.members)}. {_AS_CLASS}{told}"
        rows.append(filled(said))
    elif found is not None and found.how == "described":
        below = found.entry.facts["base"]
        rows.append(filled(f"A job takes '{words}' as the finish of {found.model} on {below}."))
    elif found is not None:
        rows.append(filled(f"A job takes '{words}' as {found.entry.id}.{told}"))
    elif clear(matches) and matches[0].entry.kind == "substrate":
        rows.append(f"A job takes '{words}' as {matches[0].entry.id}.")
    elif matches[0].entry.kind != "substrate":
        kinds = listed(list(dict.fromkeys(match.entry.kind for match in matches)), "or")
        rows.append(
            filled(f"'{words}' is no material of a part that is known. What is named above is of the kind {kinds}.")
        )
    else:
        rows.append(filled(f"None of them is sure: a job would ask. Write the id that is meant. {_DESCRIBE}"))
    if others:
        named = listed([one_of(kind) for kind in others], "or")
        rows.append(filled(f"'{words}' may also be {named}: `tackroom check` reads it by what stands beside it."))
    return "".join(f"{row}\n" for row in rows)
