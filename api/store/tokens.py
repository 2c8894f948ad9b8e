"""The tokens that open a service: their hashes, what each may do, and when it was last used."""

import datetime as dt
import hashlib
import hmac
import secrets
import threading
import time
from dataclasses import dataclass
from typing import Final, Literal, TypeAlias

from sqlalchemy import delete, update

from api.errors import NameTaken, StoreUnavailable
from api.store import queries as selects
from api.store.store import Store
from api.store.tables import TOKENS
from api.store.upsert import insert_into

Scope: TypeAlias = Literal["read", "report", "manage"]
SCOPES: Final[tuple[Scope, ...]] = ("read", "report", "manage")
"""In ascending order: each includes the ones before it."""

READ_AGAIN_AFTER_S: Final = 60.0
"""How long a process takes the tokens that it has read for those of the store: so a poll with a token
costs no statement more, and a revoked one opens nothing after a minute."""
PREFIX: Final = "rl_"


@dataclass(frozen=True, slots=True)
class StoredToken:
    """A token as it is kept: without the token."""

    name: str
    hash: str
    scope: Scope
    garden_id: str | None
    """The only garden that it opens; None: every one."""
    created_at: dt.datetime
    last_used: dt.date | None

    def includes(self, scope: Scope) -> bool:
        """Whether it may do what needs a scope."""
        return SCOPES.index(self.scope) >= SCOPES.index(scope)


def hash_of(token: str) -> str:
    """What is kept of a token: SHA-256, enough for 256 random bits and fast enough for every poll."""
    return hashlib.sha256(token.encode()).hexdigest()


class Tokens:
    """The tokens of a store, remembered for a minute; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._lock = threading.Lock()
        self._known: tuple[StoredToken, ...] = ()
        self._read_s: float | None = None
        self._used: dict[str, dt.date] = {}

    def create(self, name: str, scope: Scope, garden_id: str | None, now: dt.datetime) -> str:
        """Make a token of 256 random bits; it is shown this once. Raises NameTaken."""
        token = PREFIX + secrets.token_urlsafe(32)
        row = {
            "name": name,
            "hash": hash_of(token),
            "scope": scope,
            "garden_id": garden_id,
            "created_at": now,
        }
        with self._store.writing() as connection:
            insert = insert_into(connection, TOKENS).values(row).on_conflict_do_nothing()
            if connection.execute(insert.returning(TOKENS.c.name)).first() is None:
                raise NameTaken(name)
        return token

    def revoke(self, name: str) -> bool:
        """Let a token open nothing any more; False where there is none of the name."""
        with self._store.writing() as connection:
            return connection.execute(delete(TOKENS).where(TOKENS.c.name == name)).rowcount > 0

    def all(self) -> tuple[StoredToken, ...]:
        """Every token, by name."""
        return tuple(StoredToken(*row) for row in self._store.ask(selects.TOKENS_BY_NAME))

    def there_is_one(self) -> bool:
        """Whether any token was created. Raises StoreUnavailable."""
        return bool(self._remembered(may_look_again=False))

    def of(self, token: str, today: dt.date) -> StoredToken | None:
        """The one that was given in a request, if it is known. Raises StoreUnavailable.

        One that is not known makes the store be looked at again, at most once a second.
        """
        hashed = hash_of(token)
        found = _among(self._remembered(may_look_again=False), hashed)
        if found is None:
            found = _among(self._remembered(may_look_again=True), hashed)
        if found is not None and self._used.get(found.name, found.last_used) != today:
            self._note_use(found.name, today)
        return found

    def _remembered(self, may_look_again: bool) -> tuple[StoredToken, ...]:
        with self._lock:
            age_s = None if self._read_s is None else time.monotonic() - self._read_s
            longest_s = 1.0 if may_look_again else READ_AGAIN_AFTER_S
            if age_s is None or age_s > longest_s:
                self._known = self.all()
                self._read_s = time.monotonic()
            return self._known

    def _note_use(self, name: str, today: dt.date) -> None:
        """Write the day of the last use, once a day and process; a request does not fail with it."""
        self._used[name] = today
        used = update(TOKENS).where(TOKENS.c.name == name).values(last_used=today)
        try:
            self._store.keep(used)
        except StoreUnavailable:
            self._used.pop(name, None)


def _among(tokens: tuple[StoredToken, ...], hashed: str) -> StoredToken | None:
    """Compares every one, each in constant time, so that the time tells nothing of a hash."""
    found = None
    for token in tokens:
        if hmac.compare_digest(token.hash, hashed):
            found = token
    return found
