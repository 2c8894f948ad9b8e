"""Whether reported water can have flowed: what cannot be is refused, what is unlikely is kept and marked.

A report is compared with the flow that its run was planned with, or else with that of its zone. The
borders lie far apart, since a burst pipe or a wrong flow in the garden's description is just what a
report should be able to tell.
"""

import datetime as dt
from typing import Final
from zoneinfo import ZoneInfo

from api.errors import InvalidRequest
from api.schemas.fields import number
from scheduling.errors import Problem
from scheduling.garden.description import Zone
from scheduling.plan.final_plan import FinalRun, Report
from scheduling.zone.hydraulics import declared_flow_l_min

MOST_FLOW_L_MIN: Final = 225.0
"""No garden's tap gives more: 3 m/s through a pipe of 40 mm are 226 l/min (speed times cross-section)."""
TIMES_THAT_CANNOT_BE: Final = 5.0
"""Above so many times the expected flow, and above `MOST_FLOW_L_MIN`, no water flows; our choice."""
TIMES_THAT_ARE_UNLIKELY: Final = 2.0
"""Above so many times the expected flow a report is marked; our choice: alerts begin at a fifth."""
BY_HAND_L_MIN: Final = 20.0
"""What a hose gives; common practice, no source. Water without a run may not have come through the valve."""
SLACK: Final = dt.timedelta(minutes=1)
"""Controllers tell times by the minute, and meters count by the litre."""
CLOCK_TOLERANCE: Final = dt.timedelta(minutes=5)
"""How far a controller's clock may be from ours."""


def must_have_come(name: str, moment: dt.datetime | None, now: dt.datetime) -> None:
    """Refuse a report of the future. Raises InvalidRequest."""
    if moment is not None and moment > now + CLOCK_TOLERANCE:
        raise InvalidRequest(Problem(f"/{name}", f"{name} is {moment.isoformat()}, which has not come yet."))


def midnight(date: dt.date, zone: ZoneInfo) -> dt.datetime:
    """The instant at which a date begins, in UTC."""
    return dt.datetime.combine(date, dt.time(), zone).astimezone(dt.UTC)


def expected_flow_l_min(zone: Zone | None, run: FinalRun | None) -> float | None:
    """The flow of a run or of its zone, or without a run of a hose; None where it is not known. [l/min]"""
    if run is None:
        return None if zone is None else max(declared_flow_l_min(zone), BY_HAND_L_MIN)
    of_run = 60.0 * run.volume_l / run.run_time_s if run.run_time_s else 0.0
    of_zone = 0.0 if zone is None else declared_flow_l_min(zone)
    return max(of_run, of_zone) or None


def is_unlikely(report: Report, zone: Zone | None, run: FinalRun | None, now: dt.datetime) -> bool:
    """Whether so much water is hard to believe.

    Parameters
    ----------
    zone, run
        Where it flowed; None for a zone that the garden no longer has, and for water without a run.

    Raises
    ------
    InvalidRequest
        It cannot have flowed.
    """
    if not report.volume_l:
        return False
    flow_l_min = expected_flow_l_min(zone, run)
    own_limit = _own_limit(zone, run)
    if report.ended_at is None:
        # Some tell when they report in the place of when it began.
        since = max(now - report.started_at, dt.timedelta() if run is None else own_limit)
        longest, until = since + CLOCK_TOLERANCE, "without ended_at, by now"
    else:
        longest, until = report.ended_at - report.started_at + SLACK, "from started_at to ended_at"
    most_flow = max(MOST_FLOW_L_MIN, TIMES_THAT_CANNOT_BE * (flow_l_min or 0.0))
    most_l = most_flow * longest / dt.timedelta(minutes=1)
    if report.volume_l > most_l:
        raise InvalidRequest(
            Problem(
                "/volume_l",
                f"volume_l is {number(report.volume_l)}; {until}, at most {most_l:.0f} l can have flowed, "
                f"at {most_flow:.0f} l/min. Mend the litres or the times.",
            )
        )
    if flow_l_min is None:
        return False
    if report.ended_at is None:
        longest = min(longest, own_limit + SLACK)
    return report.volume_l > TIMES_THAT_ARE_UNLIKELY * flow_l_min * (longest / dt.timedelta(minutes=1))


def _own_limit(zone: Zone | None, run: FinalRun | None) -> dt.timedelta:
    """After how long the valve should have closed by itself; where nothing says so, a day."""
    if run is not None:
        return dt.timedelta(seconds=run.max_open_s)
    if zone is not None and zone.valve.max_open_s is not None:
        return dt.timedelta(seconds=zone.valve.max_open_s)
    return dt.timedelta(days=1)
