"""What somebody should know who is about to leave: what lasts without water, and what could run dry."""

import datetime as dt
from collections.abc import Iterator, Sequence

from scheduling.absence import absence_ahead
from scheduling.endurance import LONGEST_LOOKED_AT_D, days_unwatered
from scheduling.garden import Absence
from scheduling.plan import Note
from scheduling.season import GardenDays
from scheduling.zone_at_work import Stand, ZoneAtWork


def absence_notes(
    absence: Sequence[Absence], at_work: Sequence[ZoneAtWork], index: int, days: GardenDays
) -> Iterator[Note]:
    """The garden's note on a date: how long each zone lasts unwatered; none unless somebody leaves soon."""
    away = absence_ahead(absence, days.dates[index])
    if away is None:
        return
    lasting = [(_lasts_d(work, index), work.prepared.numbers.zone.id) for work in at_work]
    told = [f"{zone} {_so_long(lasts_d)}" for lasts_d, zone in sorted(lasting) if lasts_d is not None]
    if told:
        yield Note(
            "absence-ahead",
            f"Nobody is there from {away.leaves_on} to {away.returns_on}, {_so_long(_length_d(away))}. "
            f"Filled up and then without any water or rain, zones would last: {', '.join(told)}.",
        )


def could_run_dry(work: ZoneAtWork, index: int, days: GardenDays) -> Iterator[Note]:
    """A zone's note on a date, where it would not outlast somebody's absence by itself."""
    away = absence_ahead(work.prepared.rules.absence, days.dates[index])
    if away is None:
        return
    lasts_d = _lasts_d(work, index)
    if lasts_d is None or lasts_d >= _length_d(away):
        return
    dry_on = away.leaves_on + dt.timedelta(days=lasts_d)
    if work.prepared.numbers.zone.is_by_hand:
        fails = "It is watered by hand, and nobody is there"
    else:
        fails = f"Should its valve fail while nobody is there, from {away.leaves_on} to {away.returns_on}"
    yield Note("could-run-dry", f"{fails}: it could run dry on {dry_on}. Ask somebody to look after it.")


def _length_d(away: Absence) -> int:
    return (away.returns_on - away.leaves_on).days


def _so_long(days: int) -> str:
    if days >= LONGEST_LOOKED_AT_D:
        return f"{LONGEST_LOOKED_AT_D} days or more"
    return "less than a day" if days == 0 else f"{days} day{'s' if days > 1 else ''}"


def _lasts_d(work: ZoneAtWork, index: int) -> int | None:
    """How long a filled zone lasts in the most demanding of the days ahead; None: all of it sleeps."""
    return min(
        (
            _stand_lasts_d(stand, work.delivered_mm, index)
            for stand in work.stands
            if not stand.prepared.days.dormant[index]
        ),
        default=None,
    )


def _stand_lasts_d(stand: Stand, delivered_mm: float, index: int) -> int:
    zone = stand.prepared.days
    left_mm = (1.0 - stand.prepared.numbers.wetted_share) * stand.lacking_mm(delivered_mm)
    return days_unwatered(left_mm, max(zone.etc_mm[index:]), zone.taw_mm[index], zone.raw_mm[index])
