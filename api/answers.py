"""Answers: bytes made once and given until something changes them.

Making a plan takes milliseconds, asking for it again should not. An answer holds until its garden or
its place changes, until another release runs, or until the clock alone would change it.
"""

import datetime as dt

from api.store.etags import strong_etag
from api.store.rows import Answer
from api.store.store import Store

__all__ = ["Answer", "Answers"]


class Answers:
    """The answers that a store keeps; for any number of threads."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def read(self, garden_id: str, what: str, now: dt.datetime) -> Answer | None:
        """The answer to a question about a garden, while it holds; one statement, body included.

        Parameters
        ----------
        what
            The question, as its asker names it: `plan`, `plan/fescue-lawn`.
        """
        return self._store.answer(garden_id, what, now)

    def keep(
        self,
        garden_id: str,
        what: str,
        version: int,
        place_version: int | None,
        fresh_until: dt.datetime,
        body: bytes,
    ) -> Answer:
        """Keep an answer for those who ask next.

        Parameters
        ----------
        version
            The garden's version that was read before anything else the answer is made of.
        place_version
            Likewise of its place; None where the weather has no part in the answer.
        fresh_until
            The first moment at which the clock alone would change the answer.
        """
        answer = Answer(etag=strong_etag(body), body=body, fresh_until=fresh_until)
        self._store.keep_answer(garden_id, what, version, place_version, answer)
        return answer
