"""Derive what an item's hazards are from what it is made of: statements, words to refuse it by, and whose they are.

An item states by itself only what no composition tells, each with its reason (`own_hazards`). Words that it types under
`hazards` are added to what follows, never taken in its place: who leaves one out changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from kb.knowledge.mixtures import Bottle, Constituent, Finding, classified, words_of
from kb.rules.clauses import Facts, Value

#: Every name that `hazards_of` may give.
DERIVED_HAZARDS = (
    "hazards", "hazard_statements", "hazard_because", "harmful", "restricted", "is_restricted", "reactive_groups",
    "flammable",
)  # fmt: skip
#: What is a mixture: without a composition its hazards are not known unless it states them.
MIXED_KINDS = ("degreaser", "conditioner", "neutraliser", "treatment", "adhesive", "coating", "solder", "flux")
#: Words for which a substitute is looked for first.
_GRAVE = ("carcinogen", "reproductive-toxicant", "toxic")


def hazards_of(item: Facts, items: Mapping[str, Facts], tables: Facts) -> dict[str, Value]:
    """Derive what follows for `item`, by name. `items` are the facts of every item, `tables` limits and wording.

    - `hazard_statements`: codes that its bottles carry; `hazard_because`: for each whose they are, and in which bottle.
    - `hazards`: the words by which a user may refuse it. Left out where nothing is known.
    - `harmful`: constituents for which a substitute is looked for first, each with what it does.
    - `restricted`: what laws say of what is in it, each with whose law and when; `is_restricted`: whether any does.
    - `reactive_groups`: of what is in it; `flammable`: of a degreaser.
    """
    limits = tables["mixtures"]
    own = {path.partition(".")[2] for path in item if path.startswith("own_hazards.")} | set(item.get("hazards", ()))
    if item["kind"] == "substance":
        said = [Finding(code, ()) for code in item.get("hazard_statements", ())]
        return {"hazards": sorted(words_of(said, limits) | own)}
    if not item.get("composition"):
        known = item["kind"] not in MIXED_KINDS or own or "hazards" in item
        found: dict[str, Value] = {"hazards": sorted(own)} if known else {}
        if own & set(_GRAVE):
            found["harmful"] = ["a constituent that its safety data sheet names"]
        return found
    bottles = bottles_of(item, items, tables)
    findings = {part: classified(bottle, limits) for part, bottle in bottles.items()}
    every = [finding for of_part in findings.values() for finding in of_part]
    words = words_of(every, limits) | own | _carried_words(bottles.values(), limits) | _of_ph(item, limits)
    if item.get("ph") is not None:
        # A pH that was measured says more of a watery liquid than the acid and the base that went into it.
        words -= {"acid", "alkaline"} - own - _of_ph(item, limits)
    restricted = list(dict.fromkeys(_restricted(bottles.values(), limits)))
    found = {
        "hazards": sorted(words),
        "hazard_statements": sorted({finding.statement for finding in every}),
        "hazard_because": [
            {"statement": finding.statement, "of": list(finding.of), "part": part}
            for part, of_part in findings.items()
            for finding in of_part
        ],
        "harmful": list(dict.fromkeys(_harmful(every, items, tables))),
        "restricted": restricted,
        "is_restricted": bool(restricted),
        "reactive_groups": sorted(
            {
                group
                for bottle in bottles.values()
                for one in bottle.holds
                if one.pct >= limits["groups"]["from_pct"]
                for group in one.facts.get("reactive_groups", ())
            }
        ),
    }
    if item["kind"] == "degreaser":
        found["flammable"] = "flammable" in words
    return found


def bottles_of(item: Facts, items: Mapping[str, Facts], tables: Facts) -> dict[int, Bottle]:
    """List the bottles that `item` comes in, by number."""
    parts: dict[int, list[Constituent]] = {}
    for share in item["composition"]:
        known = items.get(share["substance"], {})
        parts.setdefault(share.get("part", 1), []).append(Constituent(share["substance"], known, share["share_pct"]))
    return {
        part: Bottle(
            holds=tuple(holds),
            flash_point_c=item.get("flash_point_c"),
            no_flash_point=item.get("no_flash_point", False),
            ph=item.get("ph"),
            runny=_runny(item),
            volatile_from_kpa=tables["volatile_from_kpa"],
        )
        for part, holds in sorted(parts.items())
    }


def _runny(item: Facts) -> bool:
    """Tell whether it may run like water; what is not known to be thick may."""
    if item["kind"] == "adhesive":
        return item.get("form") == "liquid" and item.get("viscosity") not in ("medium", "high")
    return item.get("applied_as") in (None, "brush", "vapour")


def _carried_words(bottles: Iterable[Bottle], limits: Facts) -> set[str]:
    return {
        word
        for word, from_pct in limits["carried_words"].items()
        for bottle in bottles
        for one in bottle.holds
        if one.pct >= from_pct and f"own_hazards.{word}" in one.facts
    }


def _of_ph(item: Facts, limits: Facts) -> set[str]:
    ph = item.get("ph")
    if ph is None:
        return set()
    return (
        {"acid"} if ph < limits["ph"]["acid_below"] else {"alkaline"} if ph > limits["ph"]["alkaline_above"] else set()
    )


def _harmful(findings: Iterable[Finding], items: Mapping[str, Facts], tables: Facts) -> Iterator[str]:
    """Give each constituent with a grave statement, and what that says, in plain words."""
    said = tables["wording"]
    grave = {code for word in _GRAVE for code in tables["mixtures"]["words"][word]}
    for finding in findings:
        if finding.statement in grave:
            does = said.get(finding.statement, finding.statement).rstrip(".")
            for name in finding.of:
                yield f"{items.get(name, {}).get('name', name)} ({does[:1].lower()}{does[1:]})"


def _restricted(bottles: Iterable[Bottle], limits: Facts) -> Iterator[str]:
    """Tell what laws say of each constituent that counts."""
    for bottle in bottles:
        for one in bottle.holds:
            if one.reaches(limits["restriction"]["from_pct"]):
                for row in one.facts.get("restrictions", ()):
                    yield f"{row['says']} ({row['jurisdiction'].upper()}, as of {row['as_of']})"
