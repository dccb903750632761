"""General solvers, each given the generated problem as its user would write it down.

Each module's `least` returns the k least costs (toulbar2: the least alone), or None where its time was up.
"""

from __future__ import annotations

from functools import partial
from importlib import import_module
from importlib.util import find_spec

#: Takes a problem, how many costs are wanted, and seconds.
Solver = partial[list[int] | None]
#: By name: the package, our module, and the settings that won on some size. For clingo ten other strategies and
#: configurations were tried: branch and bound takes as long at 30 items a slot, and fifty times as long at 300.
_ALL: dict[str, tuple[str, str, dict[str, dict[str, object]]]] = {
    "clingo": ("clingo", "by_clingo", {"cores": {"options": ("--opt-strategy=usc,oll,disjoint,stratify",)}}),
    "CP-SAT": ("ortools", "by_cp_sat", {"1 worker": {"workers": 1}, "4 workers": {"workers": 4}}),
    "toulbar2": ("pytoulbar2", "by_toulbar2", {"as it comes": {}}),
    "python-constraint": ("constraint", "by_constraint", {"as it comes": {}}),
    "brute force": ("itertools", "by_trial", {"as it comes": {}}),
}
#: These go through every chain.
ENUMERATE = ("python-constraint", "brute force")
NAMES = tuple(_ALL)


def installed() -> dict[str, dict[str, Solver]]:
    """By name of each peer whose package is there, its solver in each setting."""
    return {
        name: {setting: partial(import_module(f"{__name__}.{module}").least, **given) for setting, given in how.items()}
        for name, (package, module, how) in _ALL.items()
        if find_spec(package) is not None
    }
