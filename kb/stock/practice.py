"""The figures in practice.toml, read once.

>>> figure("logger", "tolerance_c")
0.5
"""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any


@cache
def _tables() -> dict[str, dict[str, Any]]:
    return tomllib.loads(Path(__file__).with_name("practice.toml").read_text(encoding="utf-8"))


def figure(table: str, name: str) -> Any:
    """Give one figure, in the unit that its name ends in."""
    return _tables()[table][name]
