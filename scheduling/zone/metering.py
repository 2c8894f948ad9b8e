"""What a valve's meter tells about a zone's flow, learned from its latest runs.

A declared flow ages: emitters clog, pressure falls, a pipe cracks. The median over the latest runs
does not follow a single odd one, and follows a lasting change after half of them.
"""

import datetime as dt
from collections.abc import Iterable, Mapping
from statistics import median
from typing import Final, NamedTuple

from scheduling.garden.description import Garden, Valve
from scheduling.garden.reports import Metered
from scheduling.reasons.description_notes import FlowHasDrifted

METER_ERROR_SHARE: Final = 0.05
"""How far a water meter may be off: what OIML R 49-1:2013 permits in the lower range of flows (class 2;
2 % in the upper range). From memory."""

LATEST_RUNS: Final = 7
"""How many runs the flow is the median of. Our choice, no source."""
LEAST_RUNS: Final = 3
"""The least number of runs of which one may be odd."""
LATEST_DAYS: Final = 60
"""Older runs say nothing about the flow of today."""
LEAST_OPEN_S: Final = 120
"""In a shorter run, the valve's turning, the pipe's filling and a controller that looks once in a while
count for too much. Our choice, no source."""
LEAST_VOLUME_L: Final = 1.0
"""Of less, a meter's own step is too large a part. Common practice, no source."""
DRIFT_SHARE: Final = 0.2
"""Beyond so much, more is wrong than pressure that comes and goes."""
BY_HAND: Final = "by-hand"
"""A method without a valve."""


class LearnedFlow(NamedTuple):
    """A zone's flow as its meter tells it. [l/min]"""

    flow_l_min: float
    before_l_min: float | None = None
    """The same by the runs before the latest ones; None: there were too few."""


def learned_flow(runs: Iterable[Metered], valve: Valve, date: dt.date) -> LearnedFlow | None:
    """The flow of one zone for the plan of a date; None where too few runs tell it.

    Parameters
    ----------
    runs : iterable of Metered
        Runs of the zone, in the order in which they flowed. A run that its limit closed tells the
        flow as well as any other, and of a flow that has fallen by more than a limit allows for
        there are no others.
    valve : Valve
        Whose meter it is; what is below its smallest flow was not counted in full.
    """
    if not valve.meter:
        return None
    flows = []
    for run in runs:
        is_recent = 0 <= (date - run.date).days <= LATEST_DAYS
        if is_recent and run.open_s >= LEAST_OPEN_S and run.volume_l >= LEAST_VOLUME_L:
            flow_l_min = run.volume_l / run.open_s * 60.0
            if flow_l_min >= valve.min_flow_l_min:
                flows.append(flow_l_min)
    latest, before = flows[-LATEST_RUNS:], flows[:-LATEST_RUNS]
    if len(latest) < LEAST_RUNS:
        return None
    return LearnedFlow(median(latest), median(before) if len(before) >= LEAST_RUNS else None)


def learned_flows(garden: Garden, runs: Iterable[Metered], date: dt.date) -> Mapping[str, LearnedFlow]:
    """The flows of a garden's zones for the plan of a date, by zone id, where they are known.

    `runs` are in the order in which they flowed; those of zones that are watered by hand, or are
    no more, count for nothing.
    """
    by_zone: dict[str, list[Metered]] = {}
    for run in runs:
        by_zone.setdefault(run.zone, []).append(run)
    if not by_zone:
        return {}
    learned = {
        zone.id: learned_flow(by_zone[zone.id], zone.valve, date)
        for zone in garden.zones
        if zone.id in by_zone and zone.watering.method != BY_HAND
    }
    return {zone: flow for zone, flow in learned.items() if flow is not None}


def drift_note(learned: LearnedFlow, declared_l_min: float | None) -> FlowHasDrifted | None:
    """Tell of a flow that is another than it was, or than its owner says; None where all is well.

    `declared_l_min` is None where the owner gave no flow.
    """
    flow_l_min = learned.flow_l_min
    for was_l_min, is_declared in ((learned.before_l_min, False), (declared_l_min, True)):
        if was_l_min is not None and abs(flow_l_min / was_l_min - 1.0) > DRIFT_SHARE:
            return FlowHasDrifted(flow_l_min, was_l_min, is_declared)
    return None
