"""What grades of resistance hold for, and whether surroundings go beyond it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Final

from kb.calc.spec import Input, Spec, number, text

#: An exposure, a figure of it, and a value: the most that a grade holds for, or what a job brings.
Figure = Sequence[Any]


def _figures(value: Any) -> list[Figure]:
    if not isinstance(value, (list, tuple)) or any(
        not isinstance(row, (list, tuple)) or len(row) != 3 for row in value
    ):
        raise ValueError('is a list of [exposure, figure, value], such as [["alkali", "concentration_pct", 10]]')
    return [[text(word), text(name), number()(most)] for word, name, most in value]


#: How a limit is said, by the figure that it is a limit of.
_SAID = {
    "high_c": "{0} up to {1:g} degC",
    "three_days_c": "{0} up to {1:g} degC for three days",
    "days": "{0} for {1:g} days",
    "concentration_pct": "{0} up to {1:g} %",
    "dose_kgy": "{0} up to {1:g} kGy",
}


def _words(value: Any) -> list[str]:
    if not isinstance(value, (list, tuple)):
        raise ValueError('is a list of exposures, such as ["alkali"]')
    return [text(word) for word in value]


SPECS: Final = {
    "beyond-limits": Spec(
        inputs={
            "limits": Input("a list of [exposure, figure, most]: what a grade holds for", _figures),
            "met": Input("a list of [exposure, figure, value]: what a job brings", _figures),
        },
        results={
            "beyond": "true where a figure that the job brings is above its limit",
            "for_days_only": "true where only a limit for three days lets it be so hot",
        },
        example={
            "limits": [["sea-water-immersion", "high_c", 50]],
            "met": [["sea-water-immersion", "high_c", 80], ["sea-water-immersion", "days", 30]],
        },
        source="comparison figure by figure (by definition)",
    ),
    "limits-in": Spec(
        inputs={
            "limits": Input("a list of [exposure, figure, most]: what a grade holds for", _figures),
            "exposures": Input("a list of exposures", _words),
        },
        results={"said": "the limits of these exposures in words; empty where they have none"},
        example={"limits": [["alkali", "concentration_pct", 10], ["steam", "high_c", 120]], "exposures": ["steam"]},
        source="selection by exposure (by definition)",
    ),
}


#: A limit that holds for three days at most, and the one for long that it stands in for.
_BRIEF: Final = ("three_days_c", "high_c")
_BRIEF_DAYS: Final = 3.0


def beyond_limits(limits: Sequence[Figure], met: Sequence[Figure]) -> Mapping[str, Any]:
    """Tell whether a job brings more of an exposure than a grade holds for; what it doesn't meet has no limit.

    Source: comparison figure by figure.

    >>> beyond_limits([("alkali", "concentration_pct", 10.0)], [("alkali", "concentration_pct", 10.0)])
    {'beyond': False, 'for_days_only': False}
    >>> hot = [("wash-down", "high_c", 80.0), ("wash-down", "three_days_c", 100.0)]
    >>> beyond_limits(hot, [("wash-down", "high_c", 95.0), ("wash-down", "days", 2.0)])
    {'beyond': False, 'for_days_only': True}
    >>> beyond_limits(hot, [("wash-down", "high_c", 95.0), ("wash-down", "days", 30.0)])
    {'beyond': True, 'for_days_only': False}
    """
    brief, long = _BRIEF
    brought = {(word, name): value for word, name, value in met}
    most_briefly = {word: most for word, name, most in limits if name == brief}
    passed = [(word, name) for word, name, most in limits if brought.get((word, name), most) > most]
    beyond = [
        (word, name)
        for word, name in passed
        if name != long
        or word not in most_briefly
        or brought[word, name] > most_briefly[word]
        or brought.get((word, "days"), _BRIEF_DAYS + 1) > _BRIEF_DAYS
    ]
    return {"beyond": bool(beyond), "for_days_only": bool(passed) and not beyond}


def limits_in(limits: Sequence[Figure], exposures: Sequence[str]) -> Mapping[str, Any]:
    """Say the limits that a grade has in some exposures.

    Source: selection by exposure.

    >>> limits_in([("alkali", "concentration_pct", 10.0), ("steam", "high_c", 120.0)], ["steam"])
    {'said': 'steam up to 120 degC'}
    """
    rows = (_SAID[name].format(word.replace("-", " "), most) for word, name, most in limits if word in exposures)
    return {"said": "; ".join(rows)}
