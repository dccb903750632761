"""Write generated pages of docs/ anew: `python -m kb.reference [PAGE ...]`; left out, all of them."""

from __future__ import annotations

import sys
from pathlib import Path

from kb import knowledge
from kb.reference.pages import PAGES

if __name__ == "__main__":
    asked = sys.argv[1:] or [*PAGES]
    if unknown := [name for name in asked if name not in PAGES]:
        sys.exit(f"{', '.join(unknown)}: no such page; there are {', '.join(PAGES)}")
    known = knowledge.load()
    for name in asked:
        Path("docs", name).write_text(PAGES[name](known), encoding="utf-8")
