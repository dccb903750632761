"""Who is at the keyboard: a session in a cookie, and the token that proves that a write comes from its own page.

The token is derived from the session, so nothing is kept. It may be written only by a page that this program made:
another site neither sees it nor can set the cookie.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets

COOKIE = "tackroom_session"
ENTRY_COOKIE = "tackroom_entry"
HEADER = "X-Session-Token"
FIELD = "session_token"
ONCE = "once"


def new_session() -> str:
    return secrets.token_urlsafe(24)


def token_of(session: str, secret: bytes) -> str:
    """The token that a write of this session must carry."""
    return hmac.new(secret, b"session\0" + session.encode(), hashlib.sha256).hexdigest()


def entry_of(token: str, secret: bytes) -> str:
    """What the cookie of one who was let in holds: proof of the token, and not the token."""
    return hmac.new(secret, b"entry\0" + token.encode(), hashlib.sha256).hexdigest()


def same(given: str | None, right: str) -> bool:
    """Whether the two are equal, in a time that tells nothing."""
    return given is not None and hmac.compare_digest(given.encode("utf-8", "surrogatepass"), right.encode())
