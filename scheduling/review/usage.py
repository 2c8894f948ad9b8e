"""Where a garden's water went: what flowed, what plants needed, what rain gave, by spans of dates."""

import datetime as dt
import functools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

from scheduling.balance.soil_water import LedgerRow
from scheduling.plan.final_plan import UNREPORTED, WaterRecord, counts_unreported

By = Literal["day", "week", "month", "season"]
BY: tuple[By, ...] = ("day", "week", "month", "season")

ONE_DAY = dt.timedelta(days=1)


class DateSpan(NamedTuple):
    """Dates from a first to a last, both included."""

    first: dt.date
    last: dt.date

    def within(self, other: "DateSpan") -> "DateSpan":
        """What it has in common with one that it meets."""
        return DateSpan(max(self.first, other.first), min(self.last, other.last))

    @property
    def dates(self) -> tuple[dt.date, ...]:
        """Each of them."""
        return _dates(self.first, self.last)


@functools.lru_cache(maxsize=1024)
def _dates(first: dt.date, last: dt.date) -> tuple[dt.date, ...]:
    """The same dates of a zone are requested many times."""
    return tuple(first + day * ONE_DAY for day in range((last - first).days + 1))


class Flowed(NamedTuple):
    """One opening of a valve, or water by hand."""

    zone: str
    date: dt.date
    """The plan's date that it counts for."""
    measured_l: float | None
    """What somebody read; None: nobody knows."""
    counted_l: float
    """What the ledger takes it for."""


def all_flowed(record: WaterRecord, now: dt.datetime) -> list[Flowed]:
    """Each opening of a valve that has been, or may have been."""
    openings = []
    told_since = record.told_since()
    for report in record.reports:
        counted_l = record.counted_l(report)
        measured_l = counted_l if report.litres_known else None
        openings.append(Flowed(report.zone, report.date, measured_l, counted_l))
    for zone, date, run in record.without_report():
        if run.state(None, now) == UNREPORTED:
            counts = counts_unreported(record.unreported, told_since, zone, date)
            openings.append(Flowed(zone, date, None, run.volume_l if counts else 0.0))
    return openings


def span_of(date: dt.date, by: By, is_southern: bool = False) -> DateSpan:
    """The day, week, month or season that a date lies in.

    A week begins on Monday, as allowances have it. A season is a year that no summer is cut by:
    from January in the north, from July in the south.
    """
    if by == "day":
        return DateSpan(date, date)
    if by == "week":
        monday = date - date.weekday() * ONE_DAY
        return DateSpan(monday, monday + 6 * ONE_DAY)
    if by == "month":
        first = date.replace(day=1)
        return DateSpan(first, (first + 31 * ONE_DAY).replace(day=1) - ONE_DAY)
    if not is_southern:
        return DateSpan(dt.date(date.year, 1, 1), dt.date(date.year, 12, 31))
    year = date.year if date.month >= 7 else date.year - 1
    return DateSpan(dt.date(year, 7, 1), dt.date(year + 1, 6, 30))


def spans_of(whole: DateSpan, by: By, is_southern: bool = False) -> list[DateSpan]:
    """The spans that dates lie in, in order, each cut to them."""
    spans = []
    date = whole.first
    while date <= whole.last:
        spans.append(span_of(date, by, is_southern).within(whole))
        date = spans[-1].last + ONE_DAY
    return spans


@dataclass(frozen=True, slots=True)
class Litres:
    """What flowed."""

    volume_l: float | None
    """What counts, measured or taken as planned; None: water may have flowed, and nothing is known of it."""
    measured_l: float | None
    """None: something may have flowed, and nobody measured any of it."""
    assumed_l: float
    """Of `volume_l`, planned litres of runs that nobody measured."""
    unmeasured_runs: int
    """Runs of which nobody knows the litres."""


def litres_of(flows: Iterable[Flowed]) -> Litres:
    """Add up what flowed, without taking what is not known for nothing."""
    measured_l = assumed_l = 0.0
    measured = unmeasured = 0
    for flow in flows:
        if flow.measured_l is None:
            unmeasured += 1
            assumed_l += flow.counted_l
        else:
            measured += 1
            measured_l += flow.counted_l
    is_known = measured > 0 or unmeasured == 0
    return Litres(
        volume_l=measured_l + assumed_l if is_known or assumed_l > 0.0 else None,
        measured_l=measured_l if is_known else None,
        assumed_l=assumed_l,
        unmeasured_runs=unmeasured,
    )


class Depths(NamedTuple):
    """What some days did with a zone's water, over its area. [mm]"""

    etc_mm: float
    """What the plants wanted in their season."""
    etc_adj_mm: float
    """What they got of it."""
    rain_mm: float
    """What fell on the zone."""
    infiltrated_rain_mm: float
    """What of it the roots got."""
    irrigation_mm: float
    """What of the watering the roots got."""
    drainage_mm: float


def depths_by_date(
    ledgers: Sequence[tuple[float, Sequence[LedgerRow]]], dormant: Sequence[Iterable[bool]]
) -> dict[dt.date, Depths]:
    """Each day of a zone's ledgers, the plantings by their shares of the ground.

    Parameters
    ----------
    ledgers
        The share and the rows of each planting, all over the same days.
    dormant
        For each planting, by day, whether it is out of its season: then it wants nothing.
    """
    days: dict[dt.date, Depths] = {}
    for (share, rows), sleeps in zip(ledgers, dormant, strict=True):
        for row, is_asleep in zip(rows, sleeps, strict=True):
            awake = 0.0 if is_asleep else share
            day = Depths(
                etc_mm=awake * row.etc_mm,
                etc_adj_mm=awake * row.etc_adj_mm,
                rain_mm=share * row.rain_mm,
                infiltrated_rain_mm=share * row.infiltrated_rain_mm,
                irrigation_mm=share * row.irrigation_mm,
                drainage_mm=share * row.drainage_mm,
            )
            before = days.get(row.date)
            days[row.date] = day if before is None else sum_of((before, day))
    return days


def sum_of(depths: Sequence[Depths]) -> Depths:
    """Depths added up."""
    return Depths(*map(sum, zip(*depths, strict=True)))


def within(span: DateSpan, by_date: Mapping[dt.date, float]) -> float:
    """What the dates of a span have together."""
    return sum(by_date[date] for date in span.dates if date in by_date)
