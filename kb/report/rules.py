"""The rules for programs and people."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from kb.rules.form import load_rules


def rules_json(where: Mapping[str, Path]) -> dict[str, Any]:
    """Give `tackroom.rules/1`, read from the files, since only these hold the cases."""
    rows = [
        {
            "id": rule.id,
            "title": rule.title,
            "verdict": rule.verdict,
            "about": list(rule.about),
            "message": rule.message,
            "because": rule.because,
            "instead": rule.instead or None,
            "basis": rule.basis,
            "sources": list(rule.sources),
            "omits": rule.omits,
            "added": table.added.isoformat(),
            "cases": [{"fires": case.fires, "with": case.with_} for case in table.cases],
        }
        for name, folder in where.items()
        if name.endswith("rules")
        for rule, table, _ in load_rules(folder, house=name.startswith("house"))
    ]
    return {"schema": "tackroom.rules/1", "rules": sorted(rows, key=lambda row: str(row["id"]))}


def rules_text(where: Mapping[str, Path]) -> str:
    """Write a line for each rule."""
    rows = rules_json(where)["rules"]
    lines = [f"{r['verdict']:<8} {r['id']:<52} {r['title']} [{r['basis']}]" for r in rows]
    return "".join(f"{line}\n" for line in [*lines, f"{len(rows)} rules"])
