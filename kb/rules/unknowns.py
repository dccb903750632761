"""What nobody has given, as a question that people ask: "how thick the part is", "whether acid attacks it".

>>> unknown_words(["part.thickness_mm", "coating.cte_ppm_per_c"], {"coating": "acrylic lacquer"})
'how thick the part is, and how much acrylic lacquer expands with heat'
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.rules.roles import role_words
from kb.rules.unknown_facts import ASKED_OF_ITEM
from kb.rules.unknown_job_facts import ASKED_OF_JOB


def unknown_words(paths: Iterable[str], names: Mapping[str, str]) -> str:
    """Ask for what is not known; `names` are those of what stands in the roles.

    >>> unknown_words(["substrate.family", "substrate.metallic", "substrate.porous"], {"substrate": "a sheet"})
    'what a sheet is made of, whether a sheet is a metal, and whether a sheet is porous'
    """
    asked = list(dict.fromkeys(asked_words(path, names) for path in paths))
    return ", and ".join(filter(None, (", ".join(asked[:-1]), asked[-1]))) if asked else ""


def asked_words(path: str, names: Mapping[str, str]) -> str:
    """Say which fact is asked for.

    >>> asked_words("coating.resists.mineral-oil", {"coating": "acrylic lacquer"})
    'how well acrylic lacquer stands mineral oil'
    """
    role, _, name = path.partition(".")
    of = names.get(role) or role_words(role)
    if name.startswith("resists."):
        return f"how well {of} stands {name.removeprefix('resists.').replace('-', ' ')}"
    asked = ASKED_OF_JOB.get(path) or ASKED_OF_ITEM.get(path) or ASKED_OF_ITEM.get(name)
    clause = asked or f"what the {name.replace('_', ' ')} of {{0}} is"
    return clause.format(of)
