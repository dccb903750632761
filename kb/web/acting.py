"""Who acts in a request, and what of the ledger they may write: asked in one place, for pages and API alike.

The guard says who it is (`acting`); the ledger that requests are given writes nothing that the role doesn't allow, and
names who came in as the one who recorded, whatever a form says. Without people, whoever comes may do everything.
"""

from __future__ import annotations

import hashlib
import hmac
from collections.abc import Callable, Mapping, Sequence
from contextvars import ContextVar
from typing import Any, Final, NamedTuple

from kb.stock.ledger import Ledger, Look
from kb.stock.stores import Document, Draft, Entry, Once
from kb.web.ended import Ended
from kb.web.problems import Problem
from kb.work.people import MAY, People, Person, who_may

#: Seconds after which whoever came in must come in anew.
ENDS_S: Final = 12 * 3600
#: Seconds for which a change of the people may go unseen.
LOOK_EVERY_S: Final = 1.0


class Actor(NamedTuple):
    """Who acts: by what name, if any is known, and in which role; None: nobody is asked for one."""

    name: str = ""
    role: str | None = None

    def may(self, kind: str) -> bool:
        """Tell whether the role may record events of a type."""
        return self.role is None or kind in MAY[self.role]

    def must(self, kind: str) -> None:
        """Raise Problem 403 where it may not."""
        if not self.may(kind):
            who = f"{self.name}, {self.role}" if self.name else "who came with the server's token alone"
            raise Problem(403, "role", who, f"may not record '{kind}'", f"ask {who_may(kind)}")

    @property
    def signed_in(self) -> bool:
        return self.role is not None and bool(self.name)


ANYBODY: Final = Actor()
#: Whoever has the server's token and is none of its people.
LOOKER: Final = Actor("", "reader")
acting: ContextVar[Actor] = ContextVar("acting", default=ANYBODY)


class Watched(Ledger):
    """The ledger as requests write it."""

    def append(self, decide: Callable[[Look], Sequence[Draft]], once: Once | None = None) -> list[Entry]:
        """See `Ledger.append`."""
        actor = acting.get()
        if actor.role is None:
            return super().append(decide, once)
        return super().append(lambda look: [_vouched(draft, actor) for draft in decide(look)], once)

    def rehearse(self, drafts: Sequence[Mapping[str, Any]], today: str, ahead: bool = False) -> list[Document]:
        """See `Ledger.rehearse`."""
        for draft in drafts:
            acting.get().must(draft["type"])
        return super().rehearse(drafts, today, ahead)


def watched(ledger: Ledger) -> Watched:
    """Give the ledger as requests write it."""
    return Watched(ledger.store, ledger.where)


def _vouched(draft: Draft, actor: Actor) -> Draft:
    actor.must(draft.body["type"])
    return Draft(draft.stream, draft.body | ({"who": actor.name} if "who" in draft.body else {}))


class Entrance:
    """The people as the guard sees them: read at most once a second, and the proofs of those who came in."""

    def __init__(self, people: People, ended: Ended, secret: bytes, clock: Callable[[], float]) -> None:
        self._people, self._ended, self._secret, self._clock = people, ended, secret, clock
        self._there: dict[str, Person] = {}
        self._looked = -LOOK_EVERY_S

    def there(self) -> dict[str, Person]:
        """Give those who may come in. StoreError where they can't be read: then nobody may."""
        now = self._clock()
        if not 0 <= now - self._looked < LOOK_EVERY_S:
            self._there, self._looked = self._people.there(), now
        return self._there

    def entered(self, name: str, password: str) -> str | None:
        """Give the proof that somebody came in; None where name and password are nobody's. Takes its time."""
        one = self._people.known(name, password)
        self._looked = -LOOK_EVERY_S
        return None if one is None else self._proof(one, int(self._clock()) + ENDS_S)

    def actor(self, proof: str | None) -> Actor | None:
        """Give who came in with a proof; None where it is none, or has ended."""
        name, ends = _read(proof or "")
        one = self.there().get(name)
        if one is None or ends <= self._clock() or not hmac.compare_digest(self._proof(one, ends), proof or ""):
            return None
        return None if proof and proof in self._ended else Actor(one.name, one.role)

    def leave(self, proof: str) -> None:
        """Take a proof for none from now on, through a start of the server anew too."""
        if self.actor(proof) is not None:
            self._ended.add(proof, _read(proof)[1], self._clock())

    def _proof(self, one: Person, ends: int) -> str:
        words = f"person\0{one.name}\0{ends}\0{one.digest}".encode()
        return f"{one.name.encode().hex()}.{ends}.{hmac.new(self._secret, words, hashlib.sha256).hexdigest()}"


def _read(proof: str) -> tuple[str, int]:
    """Give the name and the end that a proof states, true or not."""
    name, _, rest = proof.partition(".")
    ends = rest.partition(".")[0]
    try:
        return bytes.fromhex(name).decode(), int(ends) if ends.isascii() and ends.isdecimal() else 0
    except ValueError:
        return "", 0
