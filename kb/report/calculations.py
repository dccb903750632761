"""Named calculations for programs and people."""

from __future__ import annotations

import json
from typing import Any

from kb import calc
from kb.base.errors import BadInput


def calculation_json(name: str, inputs: str) -> dict[str, Any]:
    """Give `tackroom.calc/1` for one calculation, its inputs given as a JSON object."""
    try:
        given = json.loads(inputs)
    except (ValueError, RecursionError) as fault:
        raise BadInput("--inputs", f"is not JSON: {fault}", "for instance: '{\"air_temperature_c\": 20}'") from None
    if not isinstance(given, dict):
        raise BadInput("--inputs", "is not a JSON object", "for instance: '{\"air_temperature_c\": 20}'")
    return {"schema": "tackroom.calc/1", **calc.run(name, given)}


def calculation_text(document: dict[str, Any]) -> str:
    """Write inputs, results and source, a line each."""
    lines = [document["name"]]
    lines += [f"  {name:<28} {value}" for name, value in document["inputs"].items()]
    lines += [f"  = {name:<26} {value}" for name, value in document["result"].items()]
    lines += [f"  source: {document['source']}"]
    return "".join(f"{line}\n" for line in lines)


def list_json() -> dict[str, Any]:
    """Give every calculation with its inputs and results, and the inputs of a call of it."""
    known = [calc.describe(name) for name in calc.names()]
    rows = [
        {
            "name": c.name,
            "title": c.title,
            "inputs": dict(c.inputs),
            "results": dict(c.results),
            "source": c.source,
            "example": dict(c.example),
        }
        for c in known
    ]
    return {"schema": "tackroom.calcs/1", "calculations": rows}


def list_text() -> str:
    """Write a block for each calculation."""
    lines: list[str] = []
    for row in list_json()["calculations"]:
        lines += [f"{row['name']}: {row['title']}", f"    inputs:  {', '.join(row['inputs'])}"]
        lines += [f"    results: {', '.join(row['results'])}", f"    example: --inputs '{json.dumps(row['example'])}'"]
    return "".join(f"{line}\n" for line in lines)
