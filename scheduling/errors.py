"""What can go wrong in the domain, named for the situation."""

import datetime as dt
import json
from typing import NamedTuple


class SchedulingError(Exception):
    """Base of every error that the domain raises on purpose."""


class Problem(NamedTuple):
    """One thing that is wrong with a document: where it stands, and what would be right."""

    pointer: str
    """JSON pointer within the document, `/zones/fescue-lawn/area_m2`."""
    detail: str
    """A sentence that names the value and the allowed range."""


class InvalidGarden(SchedulingError):
    """A garden whose numbers cannot be."""

    def __init__(self, problems: tuple[Problem, ...]) -> None:
        super().__init__("; ".join(f"{problem.pointer}: {problem.detail}" for problem in problems))
        self.problems = problems


class UnknownName(SchedulingError):
    """A name that the catalogue does not hold."""

    def __init__(self, kind: str, name: str, nearest: tuple[str, ...]) -> None:
        hint = f" Nearest known: {', '.join(nearest)}." if nearest else ""
        super().__init__(f"No {kind} is called {json.dumps(name, ensure_ascii=False)}.{hint}")
        self.kind = kind
        self.name = name
        self.nearest = nearest


class WeatherIncomplete(SchedulingError):
    """A day of weather that lacks what no estimate can stand in for."""

    def __init__(self, date: dt.date, missing: tuple[str, ...]) -> None:
        super().__init__(f"The weather of {date} lacks {', '.join(missing)}.")
        self.date = date
        self.missing = missing


class WeatherGap(SchedulingError):
    """Days that a ledger has to cross without any weather."""

    def __init__(self, first: dt.date, last: dt.date) -> None:
        days = f"{first}" if first == last else f"{first} to {last}"
        super().__init__(f"There is no weather for {days}, so the ledger cannot be carried across.")
        self.first = first
        self.last = last


class OpeningAfterPlan(SchedulingError):
    """A ledger that would begin after the date it is wanted for."""

    def __init__(self, opening: dt.date, planned: dt.date) -> None:
        super().__init__(
            f"carry_over is of {opening}; it has to be of the plan's date, {planned}, or earlier."
        )
        self.problems = (Problem("/carry_over/date", str(self)),)


def zone_cannot_be(zone_id: str, part: str, detail: str) -> InvalidGarden:
    """The error for one part of a zone; `detail` goes on from the part's name."""
    return InvalidGarden((Problem(f"/zones/{zone_id}/{part}", detail),))
