"""Commands by what people call them elsewhere: an unknown word leads to the command that does what it means."""

from __future__ import annotations

from collections.abc import Mapping

_TRACE, _FLAG, _DISPOSE = "tackroom trace LOT", "tackroom stock flag", "tackroom stock dispose LOT"
#: What people type, and the command that they mean.
MEANT: Mapping[str, str] = {
    **dict.fromkeys(("recall", "callback", "call-back", "traceability", "where", "where-used"), _TRACE),
    **dict.fromkeys(("expired", "expires", "expiry", "expiring", "due", "alerts", "order", "reorder"), _FLAG),
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
    **dict.fromkeys(("gtin", "barcode", "qr"), "tackroom stock scan CODE"),
}


def meant_by(said: str) -> str:
    """The mend for what the command line says of an unknown command; "" where it isn't about one.

    >>> meant_by("No such command 'recall'. Did you mean 'calc'?")
    'did you mean `tackroom trace LOT`?'
    """
    lead, _, rest = said.partition("No such command ")
    word = rest[1:].partition(rest[:1])[0].lower() if rest and not lead else ""
    return f"did you mean `{MEANT[word]}`?" if word in MEANT else ""
