"""The answer to `check`, as a document, as text, and in sentences for pages."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from kb.base.units import degrees
from kb.engine.check import EXPOSURE, NOT_KNOWN, Answer, Asked, Checked, Remedy, Unknown, Use
from kb.report.members import count_words, differ, member_words, whose_words
from kb.report.text import listed, one_of, wrapped
from kb.rules.findings import Finding
from kb.rules.words import finding_json, message, shown

SAID = {
    "blocked": "BLOCKED: never together",
    "needs": "NEEDS: together only as said below",
    "caution": "CAUTION: together, and read this",
    NOT_KNOWN: "NOT KNOWN: nothing speaks against it, and nothing is known for it; that is no approval",
    "compatible": "COMPATIBLE: known to go together",
}
#: So many pairs of members of which nothing is known are told one by one.
MOST_TOLD = 6
_RULE_VERDICTS = ("block", "need", "caution", "prefer", "suits")


def check_json(found: Answer, remedies: Sequence[Remedy] | None = ()) -> dict[str, Any]:
    """Give `tackroom.check/1`; without `remedies` where these were not looked for."""
    checked = found.checked
    document: dict[str, Any] = {
        "schema": "tackroom.check/1",
        "items": list(checked.items),
        "read_as": [_read_json(one) for one in found.asked],
        "classes": {one.name: [t.id for t in one.things] for one in found.asked if one.is_class},
        "verdict": checked.verdict,
        "unseen": checked.verdict == NOT_KNOWN,
        "findings": [finding_json(f) for f in worst_first(checked.findings)],
        "notes": [finding_json(f) for f in worst_first(checked.notes)],
        "suits": [finding_json(f) for f in checked.suits],
        "not_known": [{"items": [u.first, u.second], "message": unknown_words(u)} for u in checked.unknown],
        "uses": [
            {"use": ", ".join(u.words), "possible": u.possible, "verdict": u.verdict, "reason": _why(u) or None}
            for u in checked.uses
        ],
        "orders": [{"items": list(ids), "verdict": verdict} for ids, verdict in checked.orders.items()],
        "by_member": [
            {
                "items": list(m.checked.items),
                "verdict": m.checked.verdict,
                "rules": sorted({f.rule.id for f in (*m.checked.findings, *m.checked.notes, *m.checked.suits)}),
            }
            for m in found.members
        ],
        "remedies": [
            {"do": "swap" if r.item else "add", "item": r.item or None, "by": list(r.by), "verdict": r.verdict}
            for r in remedies or ()
        ],
    }
    if remedies is None:
        del document["remedies"]
    return document


def _read_json(asked: Asked) -> dict[str, Any]:
    return {
        "typed": asked.typed,
        "as": asked.name,
        "kind": asked.kind,
        "members": [thing.id for thing in asked.things] if asked.is_class else [],
        "may_also_be": list(asked.others),
        "not_known": list(asked.not_known),
        "at_c": next((thing.at_c for thing in asked.things), None),
        "cured_c": _cured(asked),
    }


def _cured(asked: Asked) -> float | None:
    """Tell how hot an adhesive is said to be cured; None where nothing is said."""
    return next((thing.cured_c for thing in asked.things), None)


def check_text(found: Answer, remedies: Sequence[Remedy] | None = ()) -> str:
    """Write the verdict, how the words were read, each finding with reason and basis, what is known, what would do."""
    checked = found.checked
    lines = [" + ".join(checked.items), wrapped(said_of(found), "  ")]
    lines += [wrapped(said, "  ") for said in readings(found.asked)]
    lines += [wrapped(said, "  ") for said in [*order_words(checked), *use_words(checked.uses)]]
    lines += [wrapped(said, "  ") for said in member_words(found.members)]
    for finding in worst_first(checked.findings):
        lines += list(_finding(finding, whose_words(finding, found.members)))
    for finding in checked.suits:
        whose = whose_words(finding, found.members)
        lines.append(wrapped(f"{_said(finding, whose)} [{_basis(finding)}]", "  known: ", 4))
    unknown = not_known(checked)
    lines += [wrapped(said, "  not known: ", 4) for said in map(unknown_words, unknown[:MOST_TOLD])]
    if len(unknown) > MOST_TOLD:
        lines.append(f"  not known: {len(unknown) - MOST_TOLD} more such pairs")
    if checked.notes:
        lines.append("  Said of one of them by itself, whatever it goes with:")
        for finding in worst_first(checked.notes):
            said = _said(finding, whose_words(finding, found.members))
            lines.append(wrapped(f"{said} [{finding.rule.id}]", f"  - {finding.verdict}: ", 4))
    if remedies:
        lines.append("  What would do:")
        lines += [wrapped(remedy_words(remedy), "  - ", 4) for remedy in remedies]
    lines.append("Class values only: the data sheets of the items on your shelf rule. Try it on an offcut.")
    return "".join(f"{line}\n" for line in lines)


def said_of(found: Answer) -> str:
    """Say the verdict; of a class whose members differ, how many fare how."""
    verdict = found.checked.verdict
    if differ(found.members):
        return f"DEPENDS ON WHICH: {count_words(found.members, verdict)}"
    if verdict == "needs" and len(set(found.checked.orders.values())) > 1:
        return "NEEDS: together in the right order only, as said below"
    return SAID[verdict]


def _said(finding: Finding, whose: str) -> str:
    """Tell what a rule says, and of which members of a class it says it."""
    return f"{message(finding)}{f' (said of {whose})' if whose else ''}"


def _finding(finding: Finding, whose: str) -> Iterator[str]:
    yield wrapped(f"{_said(finding, whose)} [{_basis(finding)}]", f"  {finding.verdict}: ", 4)
    yield wrapped(finding.rule.because, "    because: ", 13)
    if finding.rule.instead:
        yield wrapped(finding.rule.instead, "    instead: ", 13)
    for name, _, result, value in finding.calculations:
        told = shown(float(value)) if isinstance(value, (int, float)) else value
        yield f"    worked out: {name}: {result} = {told}"


def _basis(finding: Finding) -> str:
    rule = finding.rule
    return f"{rule.id}; {rule.basis}{': ' if rule.sources else ''}{', '.join(rule.sources)}"


def readings(asked: Iterable[Asked]) -> Iterator[str]:
    """Tell how each word was read, where that isn't just as it was typed.

    >>> from kb.engine.check import Thing
    >>> list(readings([Asked("gear oil", "exposure", "mineral-oil", (Thing("mineral-oil"),))]))
    ['"gear oil" is read as mineral-oil, an exposure.']
    >>> list(readings([Asked("acetone", "degreaser", "acetone", ())]))
    []
    """
    for one in asked:
        if one.wiped:
            meant = listed([thing.words for thing in one.things])
            yield f'"{one.typed}" meets what has cured: it is judged as {meant}.'
        elif one.is_class:
            yield f'"{one.typed}" is a class: {listed([thing.id for thing in one.things])}.'
        elif one.name != one.typed.replace(" ", "-").lower():
            name = one.things[0].words if one.kind == EXPOSURE else one.name
            yield f'"{one.typed}" is read as {name}, {one_of(one.kind)}.'
        if (at_c := _cured(one)) is not None:
            yield f'Of "{one.typed}", the cure at {degrees(at_c)} degC alone is judged.'
        if one.not_known:
            strange = listed([f'"{word}"' for word in one.not_known])
            yield f'In "{one.typed}", {strange} is nothing that is known here: nothing of it was judged.'
        if one.others:
            others = listed([one_of(kind) for kind in one.others], "or")
            yield f'"{one.typed}" may also be {others}; write its id if that is meant.'


def order_words(checked: Checked) -> Iterator[str]:
    """Say in which order coats go together, where nobody said one and it matters."""
    if len(set(checked.orders.values())) > 1:
        for ids, verdict in checked.orders.items():
            yield f"{', then '.join(ids)}: {verdict}."


def use_words(uses: Sequence[Use]) -> Iterator[str]:
    """Give each way to use the things, with the worst that is said of it."""
    for use in uses:
        why, words = _why(use), ", ".join(use.words) or "used"
        said = f"{words}: {use.verdict}" if use.possible else f"never {words}"
        yield f"{said}{f': {why}' if why else ''}"


def _why(use: Use) -> str:
    found = [f for f in worst_first(use.findings) if f.verdict != "prefer"]
    return message(found[0]) if found else ""


def not_known(checked: Checked) -> Sequence[Unknown]:
    """List what is to be said of what isn't known; nothing where it changes nothing, since they are refused."""
    return () if checked.verdict == "blocked" else checked.unknown


def unknown_words(unknown: Unknown) -> str:
    """Say in a sentence of what nothing is known.

    >>> unknown_words(Unknown("acetone", "butyl-mastic-tape", None))
    'acetone and butyl-mastic-tape never meet in a chain: what comes of them together is not known'
    """
    if unknown.relation is None:
        if unknown.first == unknown.second:
            return f"{unknown.first} is named twice"
        if unknown.parts:
            both = f"{unknown.first} and {unknown.second} are both materials of parts"
            return f"{both}: what these do where they touch, as metals corrode in the wet, is not judged here"
        never = f"{unknown.first} and {unknown.second} never meet in a chain"
        return f"{never}: what comes of them together is not known"
    said = f"{unknown.first} {unknown.relation.words} {unknown.second}: "
    graded = unknown.relation.first == "substance" and not unknown.relation.chained
    return f"{said}{'it carries no grade for this, and ' if graded else ''}nothing says that it goes well"


def remedy_words(remedy: Remedy) -> str:
    """Write one remedy as something to do.

    >>> remedy_words(Remedy("acetone", ("ethanol", "isopropyl-alcohol"), "compatible"))
    'in place of acetone take ethanol or isopropyl-alcohol: compatible'
    """
    named = listed(list(remedy.by), "or")
    said = f"in place of {remedy.item} take {named}" if remedy.item else f"add {named}"
    said += " as the first coat" if remedy.below else ""
    return f"{said}: {remedy.verdict}"


def worst_first(findings: Iterable[Finding]) -> list[Finding]:
    """Give the findings by how bad they are."""
    return sorted(findings, key=lambda f: _RULE_VERDICTS.index(f.verdict))
