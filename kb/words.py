"""From structured facts to sentences: the one place where a message is put together.

>>> fill("{degreaser} above {service.high_c} degC", {"degreaser": {"name": "acetone"}, "service": {"high_c": 60.0}})
'acetone above 60 degC'
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from kb.clauses import Missing, Scene, look_up
from kb.findings import Finding

_HOLE = re.compile(r"\{([a-z_]+(?:\.[a-zA-Z0-9_.-]+)?)\}")
#: What a role is called where nothing stands in it.
_NOTHING = {"substrate": "this surface", "cure": "this cure"}


def shown(value: Any) -> str:
    """A value as a person writes it: no trailing zeros, words for yes and no, a dash between the ends of a range.

    >>> shown(60.0), shown((30.0, 65.0)), shown(True), shown(("dry-air", "steam"))
    ('60', '30 to 65', 'yes', 'dry-air, steam')
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.4g}" if abs(value) < 1e4 else f"{value:.0f}"
    if isinstance(value, (list, tuple)):
        if len(value) == 2 and all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in value):
            return f"{shown(value[0])} to {shown(value[1])}"
        return ", ".join(shown(v) for v in value)
    return str(value)


def fill(template: str, scene: Scene) -> str:
    """`template` with `{role}` as the name of what stands there, and `{role.field}` as that fact's value."""

    def value_of(hole: re.Match[str]) -> str:
        path = hole[1]
        if "." not in path:
            facts = scene.get(path)
            return str(facts.get("name", _NOTHING.get(path, path))) if facts else _NOTHING.get(path, path)
        value = look_up(path, scene)
        return "(not known)" if isinstance(value, Missing) else shown(value)

    return _HOLE.sub(value_of, template)


def message(finding: Finding) -> str:
    """What a finding says, in one sentence; where it hangs on unknown facts, which."""
    scene: dict[str, dict[str, Any]] = {}
    for path, value in finding.seen:
        role, _, name = path.partition(".")
        scene.setdefault(role, {})[name] = value
    for role, _, name in finding.names:
        if name:
            scene.setdefault(role, {})["name"] = name
    said = fill(finding.rule.message, scene)
    if not finding.known and finding.unknown:
        return f"not known: {', '.join(finding.unknown)}. If it applies: {said}"
    if finding.rule.verdict == "need" and finding.met and finding.rule.needs:
        return f"{said} (met)"
    return said


def finding_json(finding: Finding) -> Mapping[str, Any]:
    """A finding as the JSON answers hold it."""
    rule = finding.rule
    return {
        "rule": rule.id,
        "verdict": finding.verdict,
        "about": list(finding.about),
        "message": message(finding),
        "because": rule.because,
        "instead": rule.instead or None,
        "basis": rule.basis,
        "sources": list(rule.sources),
        "known": finding.known,
        "met": finding.met,
        "seen": {path: list(v) if isinstance(v, tuple) else v for path, v in finding.seen},
        "unknown": list(finding.unknown),
        "calculations": [
            {"name": name, "inputs": _plain(inputs), "result": {result: value}}
            for name, inputs, result, value in finding.calculations
        ],
    }


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {key: _plain(inner) for key, inner in value.items()}
    return [_plain(inner) for inner in value] if isinstance(value, (list, tuple)) else value
