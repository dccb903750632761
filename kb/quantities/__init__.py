"""What a day's work takes: amounts and spares, mixes, the room's air, waste, and whether the bench is fit.

Each module takes a plan and one of its chains. Amounts and figures are data (generic_catalog/usage/); what is
said beyond the rules' own findings is a `Remark`.
"""

from __future__ import annotations

from typing import Any, NamedTuple


class Remark(NamedTuple):
    """A sentence that follows from a calculation, in the form of a rule's finding.

    `rule` is the remark's own id; verdict `need` is to be acted on, `caution` to be read.
    """

    rule: str
    verdict: str
    about: tuple[str, ...]
    message: str
    because: str
    instead: str = ""
    basis: str = "computed"
    sources: tuple[str, ...] = ()

    def json(self) -> dict[str, Any]:
        """Give the remark as the JSON answers hold it, with the keys of a finding."""
        return {
            **self._asdict(),
            "about": list(self.about),
            "instead": self.instead or None,
            "sources": list(self.sources),
        }
