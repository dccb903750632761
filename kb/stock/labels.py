"""Labels for lots, as one HTML page to print: the lot, what it is, its last day, and a code to scan.

The code (a QR code) holds the house's own name of the lot; scanned into `open` or `use` it stands for it. Where it is
known under which address the lab's server is reached, it is the lot's page, which a phone's camera opens. It isn't a
GS1 code, which would need the maker's number and GS1's own mark in the symbol.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Iterable, Mapping
from typing import Any

from kb.stock.flags import FactsOf, Judged
from kb.stock.scan import house_code


def labels_html(lots: Iterable[Judged], name_of: Callable[[str], str], facts_of: FactsOf, server: str = "") -> str:
    """Give the page with a label for each lot, in the order given; `server` is the address of the lab's own."""
    from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape

    loader = PackageLoader("kb.stock", "templates")
    environment = Environment(loader=loader, autoescape=select_autoescape(), undefined=StrictUndefined)
    rows = [_label(one, name_of(one.lot.item), facts_of(one.lot.item), server) for one in lots]
    return environment.get_template("labels.html").render(labels=rows)


def _label(one: Judged, name: str, facts: Mapping[str, Any], server: str) -> dict[str, str | None]:
    span = facts.get("storage_c")
    return {
        "code": code_svg(house_code(one.lot.lot, server)),
        "lot": one.lot.lot,
        "name": name,
        "usable_until": one.life.usable_until,
        "opened": one.lot.opened and one.lot.opened[:10],
        "storage": f"{span[0]:g} to {span[1]:g} °C" if span else None,
    }


def code_svg(words: str) -> str:
    """Give a QR code that says `words`, as inline SVG."""
    import segno

    out = io.BytesIO()
    segno.make_qr(words, error="m").save(out, kind="svg", xmldecl=False, svgns=True, scale=1, omitsize=True, nl=False)
    return out.getvalue().decode()
