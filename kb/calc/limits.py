"""Whether surroundings go beyond what a grade of resistance holds for."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from kb.calc.spec import Input, Spec, number, text

#: An exposure, a figure of it, and a value: the most that a grade holds for, or what a job brings.
Figure = tuple[str, str, float]


def _figures(value: Any) -> list[Figure]:
    if not isinstance(value, (list, tuple)) or any(
        not isinstance(row, (list, tuple)) or len(row) != 3 for row in value
    ):
        raise ValueError('is a list of [exposure, figure, value], such as [["alkali", "concentration_pct", 10]]')
    return [(text(word), text(name), number()(most)) for word, name, most in value]


SPECS: Final = {
    "beyond-limits": Spec(
        inputs={
            "limits": Input("a list of [exposure, figure, most]: what a grade holds for", _figures),
            "met": Input("a list of [exposure, figure, value]: what a job brings", _figures),
        },
        results={"beyond": "true where a figure that the job brings is above its limit"},
        example={
            "limits": [["sea-water-immersion", "high_c", 50]],
            "met": [["sea-water-immersion", "high_c", 80], ["sea-water-immersion", "days", 30]],
        },
        source="comparison figure by figure (by definition)",
    )
}


def beyond_limits(limits: Sequence[Figure], met: Sequence[Figure]) -> Mapping[str, Any]:
    """Whether a job brings more of an exposure than a grade holds for; what it doesn't meet has no limit.

    Source: comparison figure by figure.

    >>> beyond_limits([("alkali", "concentration_pct", 10.0)], [("alkali", "concentration_pct", 10.0)])
    {'beyond': False}
    >>> beyond_limits([("alkali", "concentration_pct", 10.0)], [("alkali", "concentration_pct", 30.0)])
    {'beyond': True}
    """
    brought = {(word, name): value for word, name, value in met}
    return {"beyond": any(brought.get((word, name), most) > most for word, name, most in limits)}
