"""Where things lie: the shipped knowledge, and a workspace's ledger."""

import os
from pathlib import Path

#: The ledger's file in a workspace.
LEDGER = "ledger.sqlite3"
#: The variable that names a ledger which several machines share, in place of the workspace's own.
SHARED = "TACKROOM_STORE"


def shipped() -> tuple[Path, Path]:
    """Give the folders rules/ and generic_catalog/: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parents[1]
    home = package / "data" if (package / "data" / "rules").is_dir() else package.parent
    return home / "rules", home / "generic_catalog"


def keeps_ledger(workspace: Path | None) -> bool:
    """Tell whether anything may have been recorded: most who plan keep no ledger, and need no module of the stock."""
    return bool(os.environ.get(SHARED)) or (workspace is not None and (workspace / LEDGER).exists())
