"""Who is at the keyboard: a session in a cookie, and the token that proves that a write comes from its own page.

Both are derived from a secret, so no session is kept: a cookie that this program didn't make is none. The token may be
written only by a page that this program made: another site neither sees it nor can set the cookie. The secret stands in
the workspace, so that a form that was open when the server was started anew is still taken.
"""

from __future__ import annotations

import hashlib
import hmac
import os
import secrets
from contextlib import suppress
from pathlib import Path

COOKIE = "tackroom_session"
ENTRY_COOKIE = "tackroom_entry"
PERSON_COOKIE = "tackroom_person"
WHO_COOKIE = "tackroom_who"
HEADER = "X-Session-Token"
FIELD = "session_token"
ONCE = "once"
#: The secret's file in the workspace, and how many bytes it has.
SECRET_FILE, SECRET_BYTES = "session.key", 32


def new_word() -> str:
    """Give a word that nobody can guess, and that nobody had before."""
    return secrets.token_urlsafe(24)


def new_session(secret: bytes) -> str:
    word = new_word()
    return f"{word}.{_mark(word, secret)}"


def made_here(session: str | None, secret: bytes) -> bool:
    """Tell whether a session is one that `new_session` gave."""
    word, _, mark = (session or "").rpartition(".")
    return same(mark, _mark(word, secret))


def _mark(word: str, secret: bytes) -> str:
    return hmac.new(secret, b"made here\0" + word.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()[:32]


def secret_of(workspace: Path) -> bytes:
    """Give the workspace's secret, made where there is none.

    It is for this process alone where nothing can be kept there.

    A folder in which nothing was recorded yet stays as it is.
    """
    file = workspace / SECRET_FILE
    with suppress(OSError):
        if not file.exists() and any(workspace.iterdir()):
            with os.fdopen(os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as made:
                made.write(secrets.token_bytes(SECRET_BYTES))
        kept = file.read_bytes()
        if len(kept) == SECRET_BYTES:
            return kept
    return secrets.token_bytes(SECRET_BYTES)


def token_of(session: str, secret: bytes) -> str:
    """Give the token that a write of this session must carry."""
    return hmac.new(secret, b"session\0" + session.encode(), hashlib.sha256).hexdigest()


def entry_of(token: str, secret: bytes) -> str:
    """Tell what the cookie of one who was let in holds: proof of the token, and not the token."""
    return hmac.new(secret, b"entry\0" + token.encode(), hashlib.sha256).hexdigest()


def same(given: str | None, right: str) -> bool:
    """Tell whether the two are equal, in a time that tells nothing."""
    return given is not None and hmac.compare_digest(given.encode("utf-8", "surrogatepass"), right.encode())
