"""What can go wrong with a request or with the store, named for the situation."""

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final, Literal

from scheduling.errors import Problem


class ApiError(Exception):
    """Base of every error that this package raises about a request."""


class NotJson(ApiError):
    """A body that is not JSON, or nested deeper than any document of ours."""


class WrongContentType(ApiError):
    """A body of another content type than the resource takes."""

    def __init__(self, given: str, allowed: Sequence[str]) -> None:
        named = f'is "{given[:80]}"' if given else "is not given"
        super().__init__(f"Content-Type {named}; it must be {' or '.join(allowed)}.")


class InvalidRequest(ApiError):
    """JSON, or a query, that cannot be."""

    def __init__(self, *problems: Problem) -> None:
        super().__init__("; ".join(problem.detail for problem in problems))
        self.problems = problems


class Unauthorised(ApiError):
    """A request without the token."""


class MissingScope(ApiError):
    """A request whose token is known, but does not allow it."""

    def __init__(self, name: str, scope: str, needed: str, garden_id: str | None = None) -> None:
        where = "" if garden_id is None else f" for the garden {garden_id!r} alone"
        super().__init__(
            f"The token {name!r} has the scope {scope!r}{where}; this needs the scope {needed!r}"
            f"{'' if garden_id is None else ' for what it asks about'}."
        )


class NameTaken(Exception):
    """A token of a name that there is already."""

    def __init__(self, name: str) -> None:
        super().__init__(f"There is a token {name!r} already; revoke it first, or take another name.")


class GardenNotFound(ApiError):
    """No garden is stored under an id."""

    def __init__(self, garden_id: str) -> None:
        super().__init__(f'No garden is stored as "{garden_id}".')


class ZoneNotFound(ApiError):
    """A garden, or its plan, has no such zone."""

    def __init__(self, zone_id: str, known: Sequence[str] = ()) -> None:
        """`known` are the zones that there are, where the sentence is to name them."""
        there_are = f" The zones are {', '.join(known)}." if known else ""
        super().__init__(f'There is no zone "{zone_id}" here.{there_are}')


class DeliveryNotFound(ApiError):
    """No report is kept under an id."""

    def __init__(self, zone_id: str, delivery_id: str) -> None:
        super().__init__(f'No delivery "{delivery_id}" is kept for zone "{zone_id}".')


class ObservationNotFound(ApiError):
    """No own weather is kept for a date."""

    def __init__(self, date: dt.date) -> None:
        super().__init__(f"No observation of {date} is kept.")


class ReadingNotFound(ApiError):
    """No probe's reading is kept under an id."""

    def __init__(self, zone_id: str, reading_id: str) -> None:
        super().__init__(f'No reading "{reading_id}" is kept for zone "{zone_id}".')


class ValveNotFound(ApiError):
    """Nothing was told of a zone's valve."""

    def __init__(self, zone_id: str) -> None:
        super().__init__(f'Nothing was told of a valve of zone "{zone_id}".')


class NoPlanWasMade(ApiError):
    """A date is over and nobody read its plan; it is not made up afterwards."""

    def __init__(self, date: dt.date) -> None:
        super().__init__(
            f"No plan was made for {date} while it could be followed; it is not made up afterwards."
        )


class DateBeyondPlans(ApiError):
    """A date that is too far ahead to plan."""

    def __init__(self, date: dt.date, last: dt.date) -> None:
        super().__init__(f"date is {date}; plans reach to {last}.")
        self.problems = (Problem("/date", str(self)),)


class AlreadyBegun(ApiError):
    """A run that somebody has announced before: the valve stays as it is."""

    def __init__(self, delivery_id: str) -> None:
        super().__init__(
            f'"{delivery_id}" has already been announced or reported; do not open the valve for it.'
        )


class DeliveryConflict(ApiError):
    """A completed report that is told again with other content."""

    def __init__(self, delivery_id: str) -> None:
        super().__init__(f'"{delivery_id}" is kept with other content; delete it first to replace it.')


class TurnIsOpen(ApiError):
    """The report of an open turn cannot be taken back: its water counts until it is closed."""

    def __init__(self, delivery_id: str) -> None:
        super().__init__(
            f'"{delivery_id}" has a turn that is open: its water counts until somebody says what flowed. '
            'Close it by PUT with an outcome, "no-water" where nothing flowed.'
        )


class KeyUsedOtherwise(ApiError):
    """An Idempotency-Key that was used with another body."""

    def __init__(self, key: str) -> None:
        super().__init__(
            f"Idempotency-Key is {key!r}, which was used with another body. Use a new key for each question."
        )


class RunNotOpen(ApiError):
    """A run that may not be announced: of a draft, withdrawn, or over."""

    def __init__(
        self, delivery_id: str, why: str = "its plan is not final, or the run was withdrawn"
    ) -> None:
        super().__init__(f'"{delivery_id}" may not begin: {why.removesuffix(".")}. The valve stays shut.')


class UnknownFormat(ApiError):
    """Something is stored for a garden in a format that this release does not know."""

    def __init__(self, garden_id: str, what: str, number: object) -> None:
        super().__init__(
            f'Of the garden "{garden_id}", {what} is stored in format {number}, which this release does '
            "not know: it was written by a newer one. Run that release again, or restore a backup."
        )


class PreconditionMissing(ApiError):
    """An edit that does not say which version it was made for."""

    def __init__(self) -> None:
        super().__init__(
            "Read the garden, then send its ETag as If-Match with the edit, so that no other edit is lost."
        )


class PreconditionWrong(ApiError):
    """An edit made for another version than the one that is stored."""


class TooManyPlaces(ApiError):
    """More places that belong to no stored garden than a weather service should be asked about."""

    def __init__(self, retry_after_s: int) -> None:
        super().__init__(
            "Too many places were asked about that belong to no stored garden; store a garden, or wait."
        )
        self.retry_after_s = retry_after_s


class ReplayUnderWay(ApiError):
    """Another replay is being reckoned by this process."""

    def __init__(self, retry_after_s: int) -> None:
        super().__init__("Another replay is under way; one is reckoned at a time. Ask again in a moment.")
        self.retry_after_s = retry_after_s


class StoredUnreadable(ApiError):
    """A stored row that is damaged: it is not what this service wrote."""

    def __init__(self, what: str) -> None:
        super().__init__(
            f"{what} cannot be read: the stored row is damaged. "
            "Run rootledger check-store, and restore a backup."
        )


Outage = Literal["away", "full", "read-only", "locked", "damaged"]

OUTAGES: Final[Mapping[Outage, str]] = {
    "away": "The database does not answer.",
    "full": "The database has no space left on its disk.",
    "read-only": "The database can be read, but not written.",
    "locked": "The database is held by another writer.",
    "damaged": "The database file is damaged; run rootledger check-store, and restore a backup.",
}
"""What a client is told: without the address of the database, which the log has."""


class StoreUnavailable(Exception):
    """The database cannot be opened, or does not answer; the text says which and why.

    The text names the address of the database and is for the log; `OUTAGES` has what a client may read.
    """

    def __init__(self, sentence: str, outage: Outage = "away") -> None:
        super().__init__(sentence)
        self.outage: Outage = outage


class NotReady(StoreUnavailable):
    """The service cannot do all of its work, since the database cannot be read or written."""

    def __init__(self, part: Literal["read", "write"], error: StoreUnavailable) -> None:
        super().__init__(f"Not ready to {part}. {error}", error.outage)
        self.part = part


class GardenGone(Exception):
    """Something was to be kept for a garden that is not, or no longer, stored."""

    def __init__(self, garden_id: str) -> None:
        super().__init__(f'No garden is stored as "{garden_id}".')
        self.garden_id = garden_id
