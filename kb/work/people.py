"""Who works in the lab: names with a role and a password, kept among the workspace's own documents.

While nobody is named there, pages and API ask nobody who they are, and let everybody record. A password is kept only as
what argon2 makes of it. Whoever leaves is ended, not deleted: the ledger goes on naming them.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

from kb.base.documents import Documents
from kb.base.errors import BadInput, nearest, one_line

TABLE: Final = "people"
LONGEST_NAME, SHORTEST_PASSWORD, LONGEST_PASSWORD = 60, 10, 200

_BENCH = frozenset({"opened", "thawed", "mixed", "used", "moved", "installed", "reserved", "ran", "stated", "seen"})
_KEEPER = _BENCH | {"received", "counted", "disposed", "renamed", "held", "corrected", "temperature-logged"}
_DECIDED = frozenset({"held", "freed", "released", "requalified", "condemned", "signed", "undone", "reissued"})
_APPROVER = _BENCH | _DECIDED | {"corrected"}
#: What each role may record, by the type of the event.
MAY: Final[Mapping[str, frozenset[str]]] = {
    "reader": frozenset(),
    "bench": _BENCH,
    "store-keeper": _KEEPER,
    "approver": _APPROVER,
}


def who_may(kind: str) -> str:
    """Say which roles may record an event of that type.

    >>> who_may("condemned"), who_may("used")
    ('approver', 'bench, store-keeper or approver')
    """
    roles = [role for role, kinds in MAY.items() if kind in kinds]
    return " or ".join(filter(None, (", ".join(roles[:-1]), *roles[-1:])))


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who may come in. `ended`: the day from which they may not; `history`: what was done to the entry."""

    name: str
    role: str
    digest: str
    ended: str = ""
    history: tuple[str, ...] = ()


class People:
    """The people of one workspace."""

    def __init__(self, workspace: Path) -> None:
        self._documents = Documents(workspace)

    def all(self) -> list[Person]:
        """Give everybody, in the order in which they came; those who have left too."""
        return [Person(**row | {"history": tuple(row["history"])}) for row in self._documents.rows(TABLE)]

    def there(self) -> dict[str, Person]:
        """Give those who may come in, by name."""
        return {one.name: one for one in self.all() if not one.ended}

    def add(self, name: str, role: str, password: str, by: str, on: str) -> Person:
        """Let somebody in from now on. BadInput where the name is taken, or the password is short."""
        said, known = _name(name), {one.name.casefold(): one for one in self.all()}
        if (one := known.get(said.casefold())) is not None:
            mend = "take another name: the ledger names the one who left by it" if one.ended else "see `people list`"
            raise BadInput(name, "is somebody already", mend)
        return self._put(Person(said, _role(role), hashed(password)), f"added as {role}", by, on)

    def give_role(self, name: str, role: str, by: str, on: str) -> Person:
        """Give somebody another role."""
        one = self._one(name)
        return self._put(Person(one.name, _role(role), one.digest, "", one.history), f"made {role}", by, on)

    def give_password(self, name: str, password: str, by: str, on: str) -> Person:
        """Give somebody another password; where they came in with the old one, they must come in anew."""
        one = self._one(name)
        return self._put(Person(one.name, one.role, hashed(password), "", one.history), "given a password", by, on)

    def end(self, name: str, by: str, on: str) -> Person:
        """Let somebody in no more."""
        one = self._one(name)
        return self._put(Person(one.name, one.role, "", on, one.history), "ended", by, on)

    def known(self, name: str, password: str) -> Person | None:
        """Give the one who has that name and password; None, after as long a time, where nobody does."""
        one = self.there().get(one_line(unicodedata.normalize("NFC", name)))
        right = _fits(one.digest if one else _nobody(), password)
        return one if right else None

    def _one(self, name: str) -> Person:
        there = self.there()
        if name not in there:
            raise BadInput(name, "is nobody who may come in", nearest(name, there) or "see `people list`")
        return there[name]

    def _put(self, one: Person, done: str, by: str, on: str) -> Person:
        history = [*one.history, f"{on}: {done} by {by}"]
        row: dict[str, Any] = {"name": one.name, "role": one.role, "digest": one.digest, "ended": one.ended}
        self._documents.put(TABLE, "name", row | {"history": history})
        return Person(**row, history=tuple(history))


def hashed(password: str) -> str:
    """Give what is kept of a password; BadInput where it is too short to be one."""
    if not SHORTEST_PASSWORD <= len(password) <= LONGEST_PASSWORD:
        said = f"has {len(password)} characters"
        raise BadInput("password", said, f"from {SHORTEST_PASSWORD} to {LONGEST_PASSWORD}: a few words make a good one")
    found: str = _hasher()[0].hash(password)
    return found


def _fits(digest: str, password: str) -> bool:
    hasher, mismatch = _hasher()
    try:
        return bool(hasher.verify(digest, password[: LONGEST_PASSWORD + 1]))
    except mismatch:
        return False


@cache
def _nobody() -> str:
    """Give a password that nobody has: to be compared where the name is nobody's, so that both take as long."""
    import secrets

    return hashed(secrets.token_urlsafe(24))


@cache
def _hasher() -> tuple[Any, Any]:
    try:
        from argon2 import PasswordHasher
        from argon2.exceptions import VerificationError
    except ImportError:
        mend = "pip install 'tackroom[people]'"
        raise BadInput("people", "what makes passwords safe to keep is not installed", mend) from None
    return PasswordHasher(), VerificationError


def _name(name: str) -> str:
    said = one_line(unicodedata.normalize("NFC", name))
    if not said or said != name.strip() or len(said) > LONGEST_NAME:
        raise BadInput(name or "name", "can't be a name", f"one line of at most {LONGEST_NAME} characters")
    return said


def _role(role: str) -> str:
    if role not in MAY:
        raise BadInput("role", f"'{role}' is no role", f"one of: {', '.join(MAY)}")
    return role
