"""What the tests of pairs share: things by name, and the verdict on them."""

from __future__ import annotations

from kb.base.vocabulary import EXPOSURES
from kb.engine.check import Checked, Thing, check
from kb.engine.plan import Engine


def thing(name: str, engine: Engine) -> Thing:
    """The item of that id, or the exposure."""
    return Thing(name) if name in EXPOSURES else Thing(name, engine.knowledge.entry(name))


def together(engine: Engine, *names: str) -> Checked:
    """The verdict on things by id; coats innermost first."""
    return check(engine, [thing(name, engine) for name in names])


def spoken(checked: Checked) -> set[str]:
    """The rules that bear on the verdict, in any use of the things."""
    used = (finding for use in checked.uses for finding in use.findings)
    return {finding.rule.id for finding in (*checked.findings, *used)}
