"""How much fibre or mineral is in a filled plastic: a name that doesn't say it leaves stiffness and expansion open."""

from __future__ import annotations

import re

from kb.knowledge import Entry

_NUMBER = re.compile(r"\d+(?:\.\d+)?")


def content_open(words: str, entry: Entry) -> tuple[str, ...]:
    """List facts that go with the content of `entry`, where `words` don't say it; none if unfilled or named by id.

    A number within the usual contents says it ("GF30"); one outside is of the plastic's own name ("PA66").

    >>> ranges = {"filler_pct": (10.0, 40.0), "modulus_gpa": (4.5, 11.7)}
    >>> pei = Entry("pei", "substrate", "pei", "PEI, filled", {"filler_pct": 30.0, "ranges": ranges})
    >>> content_open("PEI-GF", pei), content_open("PEI-GF30", pei)
    (('filler_pct', 'modulus_gpa'), ())
    """
    ranges = entry.facts.get("ranges", {})
    if "filler_pct" not in ranges or words == entry.id:
        return ()
    low, high = ranges["filler_pct"]
    if any(low <= float(number) <= high for number in _NUMBER.findall(words)):
        return ()
    return tuple(name for name in ("filler_pct", "modulus_gpa", "cte_ppm_per_c") if name in ranges)
