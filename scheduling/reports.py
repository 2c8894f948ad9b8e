"""What really happened: water that flowed through a valve."""

import datetime as dt
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Delivery:
    """Water that reached a zone, booked before the ETc of its date."""

    zone: str
    date: dt.date
    """The garden day it belongs to: its run's date, or that of the next 15:00 after it began."""
    volume_l: float
    """What the valve passed, so before losses on the way to the roots."""


@dataclass(frozen=True, slots=True)
class Opening:
    """Where a ledger begins: the depletion of each zone at the start of a date."""

    date: dt.date
    depletion_mm: dict[str, float]
    """By zone id, before any water that belongs to `date`."""
    turns_without: dict[str, int]
    """By zone id: how many plans in a row left it without water for want of hours."""
