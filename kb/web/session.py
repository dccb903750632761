"""Who is at the keyboard: a session in a cookie, and the token that proves that a write comes from its own page.

The token is derived from the session, so nothing is kept. It may be written only by a page that this program made:
another site neither sees it nor can set the cookie.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from collections import OrderedDict
from threading import Lock

COOKIE = "tackroom_session"
ENTRY_COOKIE = "tackroom_entry"
HEADER = "X-Session-Token"
FIELD = "session_token"
ONCE = "once"
#: So many answered forms are remembered, and no more characters of what they led to.
_KEPT, _KEPT_TEXT = 2000, 20_000_000


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


class Answered:
    """Forms and calls that were carried out, by the word that each carries once, so that none is done twice.

    A second click on the same button is told where the first one led.
    """

    def __init__(self) -> None:
        self._led_to: OrderedDict[str, str | None] = OrderedDict()
        self._text = 0
        self._lock = Lock()

    def begin(self, once: str) -> bool:
        """Whether nobody else has begun it; if so it is the caller's to do."""
        with self._lock:
            if once in self._led_to:
                return False
            self._led_to[once] = None
            self._forget()
            return True

    def done(self, once: str, led_to: str) -> None:
        with self._lock:
            self._led_to[once] = led_to
            self._text += len(led_to)
            self._forget()

    def failed(self, once: str) -> None:
        """It may be tried again."""
        with self._lock:
            self._led_to.pop(once, None)

    def led_to(self, once: str) -> str | None:
        """What it led to; None while it is being done."""
        with self._lock:
            return self._led_to.get(once)

    def _forget(self) -> None:
        """Drops the oldest, as far as there are too many or they are too long."""
        while len(self._led_to) > _KEPT or (self._text > _KEPT_TEXT and len(self._led_to) > 1):
            _, led_to = self._led_to.popitem(last=False)
            self._text -= len(led_to or "")
