"""Write every generated page of docs/ anew: `python -m kb.reference [FOLDER]`."""

from __future__ import annotations

import sys
from pathlib import Path

from kb import knowledge
from kb.reference.pages import PAGES

if __name__ == "__main__":
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "docs")
    known = knowledge.load()
    for name, written in PAGES.items():
        (folder / name).write_text(written(known), encoding="utf-8")
