"""Commands by what people call them elsewhere: an unknown word leads to the command that does what it means."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from kb.base.errors import nearest

_TRACE, _FLAG, _DISPOSE = "tackroom trace LOT", "tackroom stock flag", "tackroom stock dispose LOT"
_ORDER = "tackroom estimate JOB --order"
#: What people type, and the command that they mean.
MEANT: Mapping[str, str] = {
    **dict.fromkeys(("recall", "callback", "call-back", "traceability", "where", "where-used"), _TRACE),
    **dict.fromkeys(("expired", "expires", "expiry", "expiring", "due", "alerts", "expire", "flag", "flags"), _FLAG),
    **dict.fromkeys(("order", "reorder", "buy", "purchase", "shopping", "shop", "procure"), _ORDER),
    **dict.fromkeys(
        ("amounts", "quantities", "consumables", "amount", "need", "bring", "kit"), "tackroom estimate JOB"
    ),
    **dict.fromkeys(("compatible", "compat", "compatibility", "pair", "test"), "tackroom check ITEM ITEM"),
    **dict.fromkeys(("why", "whynot", "why-not", "reason"), "tackroom explain JOB ITEM"),
    **dict.fromkeys(("suggest", "recommend", "select", "find-chain", "solve"), "tackroom plan JOB"),
    **dict.fromkeys(("search", "find", "lookup", "material"), 'tackroom identify "WORDS"'),
    **dict.fromkeys(("schedule", "gantt", "calendar", "ready", "when"), "tackroom timeline JOB"),
    **dict.fromkeys(("room", "weather", "humidity", "go"), "tackroom bench JOB"),
    **dict.fromkeys(("print", "pdf", "paper", "form", "procedure", "steps"), "tackroom sheet JOB"),
    **dict.fromkeys(("done", "installed", "made", "result"), "tackroom record JOB"),
    **dict.fromkeys(("help", "commands"), "tackroom --help"),
    **dict.fromkeys(("version",), "tackroom --version"),
    **dict.fromkeys(("web", "page", "server", "gui"), "tackroom serve"),
    **dict.fromkeys(("dispose", "discard", "throw", "throw-away", "trash", "bin", "waste", "scrap"), _DISPOSE),
    **dict.fromkeys(("undo", "revert", "cancel", "delete", "remove", "void"), "tackroom stock undo EVENT"),
    **dict.fromkeys(("hold", "quarantine", "block", "suspend"), "tackroom stock hold LOT --reason …"),
    **dict.fromkeys(("free", "unhold", "unblock"), "tackroom stock free LOT --reason …"),
    **dict.fromkeys(("add", "receive", "new", "incoming"), "tackroom stock receive ITEM LOT QUANTITY UNIT"),
    **dict.fromkeys(("use", "consume", "take", "withdraw"), "tackroom stock use LOT QUANTITY UNIT"),
    **dict.fromkeys(("inventory", "shelf", "lots"), "tackroom stock list"),
    **dict.fromkeys(("stocktake", "stock-take", "weigh", "count"), "tackroom stock count LOT QUANTITY UNIT"),
    **dict.fromkeys(("history", "log", "events", "audit"), "tackroom stock history LOT"),
    **dict.fromkeys(("backup", "save", "dump"), "tackroom stock backup FILE"),
    **dict.fromkeys(("restore", "load"), "tackroom stock restore FILE"),
    **dict.fromkeys(("verify", "repair", "fsck", "integrity"), "tackroom stock verify"),
    **dict.fromkeys(("rename", "relabel"), "tackroom stock rename LOT NEW"),
    **dict.fromkeys(("reject", "condemn"), "tackroom stock condemn LOT --reason …"),
    **dict.fromkeys(("open", "thaw", "mix", "move", "release", "requalify", "correct"), "tackroom stock --help"),
    **dict.fromkeys(("reserve", "allocate"), "tackroom pick JOB --reserve"),
    **dict.fromkeys(("alias", "teach", "word", "words", "call"), 'tackroom call "WORDS" ITEM'),
    **dict.fromkeys(("label", "labels"), "tackroom stock labels"),
    **dict.fromkeys(("import", "upload"), "tackroom stock import FILE"),
    **dict.fromkeys(("export", "download"), "tackroom stock export"),
    **dict.fromkeys(("gtin", "barcode", "qr"), "tackroom stock scan CODE"),
}


def option_meant(name: str, known: Iterable[str]) -> str:
    """Find the option that a misspelt one may be, as a mend; "" where none is near.

    >>> option_meant("--subtrate", ["--substrate", "--days"])
    'did you mean `--substrate`?'
    """
    return nearest(name, (option for option in known if option.startswith("--")), cutoff=60).replace("'", "`")


def meant_by(said: str) -> str:
    """Give the mend for what the command line says of an unknown command; "" where it isn't about one.

    >>> meant_by("No such command 'recall'. Did you mean 'calc'?")
    'did you mean `tackroom trace LOT`?'
    """
    lead, _, rest = said.partition("No such command ")
    word = rest[1:].partition(rest[:1])[0].lower() if rest and not lead else ""
    return f"did you mean `{MEANT[word]}`?" if word in MEANT else ""
