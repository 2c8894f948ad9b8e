"""What flowed through a garden's valves, run by run, with what is not known of it."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

import orjson

from api.plans.answer_cache import Answer, Answers, usage_question
from api.plans.plans import Explained, PlanLife
from api.reviews.ledgers import plant_ledgers
from api.reviews.replay_request import timers_from
from api.schemas.usage import AllowanceUsed, PeriodUsed, TimerUsed, ZoneUsed, dump_usage
from api.watering_hours import GARDEN_DAY_BEGINS
from scheduling.balance.stand import rules_of
from scheduling.garden.description import Garden, Zone
from scheduling.plan.plan import ZonePlan
from scheduling.review.replay import Timer
from scheduling.review.tariff import costs_of_zones, tariffs_of
from scheduling.review.usage import (
    By,
    DateSpan,
    Depths,
    Flowed,
    Litres,
    all_flowed,
    depths_by_date,
    litres_of,
    span_of,
    spans_of,
    sum_of,
    within,
)
from scheduling.zone.from_catalogue import all_numbers
from scheduling.zone.metering import LearnedFlow, learned_flows
from scheduling.zone.numbers import ZoneNumbers
from scheduling.zone.rules import is_paused

ByDate = Mapping[dt.date, float]


@dataclass(frozen=True, slots=True)
class ZoneBooks:
    """What is known of one zone."""

    id: str
    zone: Zone | None
    """None where it is there no more, and its reports are."""
    flowed: Mapping[dt.date, Sequence[Flowed]]
    costs: ByDate | None
    """None without a price."""
    depths: Mapping[dt.date, Depths]
    timer_litres: ByDate | None
    """None without a timer."""
    timer_costs: ByDate | None

    def used(self, span: DateSpan) -> ZoneUsed:
        """The zone in some dates."""
        litres = self.litres(span)
        cost = _known(litres, None if self.costs is None else within(span, self.costs))
        depths = [self.depths[date] for date in span.dates if date in self.depths]
        return ZoneUsed(
            zone=self.id,
            name=self.id if self.zone is None else self.zone.name or self.id,
            litres=litres,
            cost=cost,
            area_m2=None if self.zone is None else self.zone.area_m2,
            depths=sum_of(depths) if depths else None,
            timer=_beside((self,), span),
        )

    def litres(self, span: DateSpan) -> Litres:
        """What flowed in some dates."""
        return litres_of(_in(span, self.flowed))


@dataclass(frozen=True, slots=True)
class Books:
    """What is known of a garden's zones, those included that are there no more and have reports."""

    zones: tuple[ZoneBooks, ...]

    def used(self, span: DateSpan, allowance_l: float | None) -> PeriodUsed:
        """The garden in some dates."""
        zones = tuple(zone.used(span) for zone in self.zones)
        litres = litres_of(flow for zone in self.zones for flow in _in(span, zone.flowed))
        costs = [within(span, zone.costs) for zone in self.zones if zone.costs is not None]
        calculated = [date for date in span.dates if any(date in zone.depths for zone in self.zones)]
        return PeriodUsed(
            span=span,
            days_reckoned=len(calculated),
            litres=litres,
            cost=_known(litres, sum(costs) if costs else None),
            allowance_l=allowance_l,
            timer=_beside(self.zones, span),
            zones=zones,
        )


def open_books(seen: Explained, flowed: Sequence[Flowed], by_timer: Mapping[str, ByDate]) -> Books:
    """Put together what is known of a garden.

    Parameters
    ----------
    seen
        The garden with its ledgers.
    flowed
        Everything that flowed since the first of a month; else prices that rise within it do so too late.
    by_timer
        What a fixed timer would have given, by zone and date, likewise.
    """
    counted: dict[str, dict[dt.date, float]] = {}
    flows: dict[str, dict[dt.date, list[Flowed]]] = {}
    for flow in flowed:
        flows.setdefault(flow.zone, {}).setdefault(flow.date, []).append(flow)
        by_date = counted.setdefault(flow.zone, {})
        by_date[flow.date] = by_date.get(flow.date, 0.0) + flow.counted_l
    tariffs = tariffs_of(seen.moment.garden.water_supply)
    costs = None if tariffs is None else costs_of_zones(tariffs, counted)
    timer_costs = None if tariffs is None else costs_of_zones(tariffs, by_timer)
    zones = {zone.id: zone for zone in seen.moment.garden.zones}
    depths = _depths_of_zones(seen)
    return Books(
        tuple(
            ZoneBooks(
                id=zone_id,
                zone=zones.get(zone_id),
                flowed=flows.get(zone_id, {}),
                costs=None if costs is None else costs.get(zone_id, {}),
                depths=depths.get(zone_id, {}),
                timer_litres=by_timer.get(zone_id),
                timer_costs=None if timer_costs is None else timer_costs.get(zone_id, {}),
            )
            for zone_id in dict.fromkeys((*zones, *counted))
        )
    )


def begins_on(seen: Explained) -> list[dt.date]:
    """Where the ledgers of a garden's zones begin, of those that have begun."""
    firsts = []
    for zone, plan in _zones_with_plans(seen):
        rows = plant_ledgers(zone, plan)[0].rows
        if rows:
            firsts.append(rows[0].date)
    return firsts


def watered_by(
    timers: Mapping[str, Timer], garden: Garden, learned: Mapping[str, LearnedFlow], dates: DateSpan
) -> dict[str, ByDate]:
    """What fixed timers would have given, by zone and date, at the flow that the zone's meter tells.

    They water the first of the dates. The days before it in its month are there too, for prices
    that rise within a month. Nothing is watered while all that grows in a zone is out of its season,
    nor while a pause keeps it dry: nobody leaves a timer on then.
    """
    numbers = {stands[0].zone.id: stands for stands in all_numbers(garden)}
    days = DateSpan(dates.first.replace(day=1), dates.last).dates
    given: dict[str, ByDate] = {}
    for zone_id, timer in timers.items():
        stands = numbers[zone_id]
        flow_l_min = learned[zone_id].flow_l_min if zone_id in learned else stands[0].flow_l_min
        litres = timer.litres(flow_l_min)
        rules = rules_of(stands, garden)
        fallow = [all(asleep) for asleep in zip(*(_dormant(stand, days) for stand in stands), strict=True)]
        given[zone_id] = {
            date: litres
            for date, is_fallow in zip(days, fallow, strict=True)
            if (date - dates.first).days % timer.every_days == 0
            and not is_fallow
            and not is_paused(rules, date)
        }
    return given


def _depths_of_zones(seen: Explained) -> dict[str, Mapping[dt.date, Depths]]:
    numbers = {stands[0].zone.id: stands for stands in all_numbers(seen.moment.garden)}
    depths: dict[str, Mapping[dt.date, Depths]] = {}
    for zone, plan in _zones_with_plans(seen):
        ledgers = plant_ledgers(zone, plan)
        dates = [row.date for row in ledgers[0].rows]
        dormant = [_dormant(stand, dates) for stand in numbers[zone.id]]
        depths[zone.id] = depths_by_date([(one.share, one.rows) for one in ledgers], dormant)
    return depths


def _zones_with_plans(seen: Explained) -> list[tuple[Zone, ZonePlan]]:
    return list(zip(seen.moment.garden.zones, seen.plan.zones, strict=True))


def _dormant(stand: ZoneNumbers, dates: Iterable[dt.date]) -> list[bool]:
    return [is_dormant for _, _, is_dormant in stand.growth.over(dates)]


def _in(span: DateSpan, flowed: Mapping[dt.date, Sequence[Flowed]]) -> list[Flowed]:
    return [flow for date in span.dates for flow in flowed.get(date, ())]


def _known(litres: Litres, cost: float | None) -> float | None:
    """A cost, where there are litres that cost it."""
    return None if litres.volume_l is None else cost


def _beside(zones: Sequence[ZoneBooks], span: DateSpan) -> TimerUsed | None:
    """The timers of some zones together, and what flowed there beyond them; None: no zone has one."""
    timed = [zone for zone in zones if zone.timer_litres is not None]
    if not timed:
        return None
    volume_l = sum(within(span, zone.timer_litres or {}) for zone in timed)
    cost = paid = None
    if timed[0].costs is not None:
        cost = sum(within(span, zone.timer_costs or {}) for zone in timed)
        paid = sum(within(span, zone.costs or {}) for zone in timed)
    used_l = litres_of(flow for zone in timed for flow in _in(span, zone.flowed)).volume_l
    return TimerUsed(
        volume_l=volume_l,
        cost=cost,
        less_volume_l=None if used_l is None else used_l - volume_l,
        less_cost=None if used_l is None or paid is None or cost is None else paid - cost,
    )


ONE_DAY: Final = dt.timedelta(days=1)


class Usages:
    """Returns the water use of gardens; each answer is cached until something changes it."""

    def __init__(self, life: PlanLife, answers: Answers) -> None:
        self._life = life
        self._answers = answers

    def usage(
        self, garden_id: str, first: dt.date | None, last: dt.date | None, by: By, timer: str | None
    ) -> Answer:
        """What was used between two dates, both included, None for an open end.

        Parameters
        ----------
        timer
            Fixed timers to compare with, as `2d:20min,lawn=3d:60l`.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to reckon with.
        InvalidRequest
            A timer that cannot be.
        """
        moment = self._life.garden_now(garden_id)
        seen = self._life.explained(moment)
        garden, until = moment.garden, moment.date
        timers = timers_from(timer.split(","), garden, "/timer") if timer is not None else {}
        record = moment.record(until)
        flowed = all_flowed(record, moment.now)
        learned = learned_flows(garden, record.metered(), seen.hours.date)
        dates = _dates(seen, flowed, first, last, until)
        books = open_books(seen, flowed, {} if dates is None else watered_by(timers, garden, learned, dates))
        is_southern = garden.latitude < 0.0
        spans = [] if dates is None else spans_of(dates, by, is_southern)
        limits = garden.water_supply.allowance_l
        body = dump_usage(
            garden.id,
            by,
            garden.water_supply.currency,
            [books.used(span, None if by == "season" else getattr(limits, by)) for span in spans],
            None if dates is None else books.used(dates, None),
            allowances_used(garden, flowed, until),
        )
        by_reports = (standing.changes_at for standing in record.standings(moment.now))
        moments = (seen.fresh_until, _day_begins_after(moment.now, garden), *by_reports)
        return self._answers.keep(
            garden_id,
            usage_question(first, last, by, timer),
            moment.stored.version,
            seen.weather.version,
            min(at for at in moments if at is not None),
            orjson.dumps(body),
            moment.now,
        )


def allowances_used(garden: Garden, flowed: Sequence[Flowed], date: dt.date) -> list[AllowanceUsed]:
    """How much of the garden's allowances is used on a date."""
    allowance = garden.water_supply.allowance_l
    limits: tuple[tuple[By, float | None], ...] = (
        ("day", allowance.day),
        ("week", allowance.week),
        ("month", allowance.month),
    )
    used = []
    for by, allowed_l in limits:
        if allowed_l is not None:
            span = span_of(date, by)
            counted = sum(flow.counted_l for flow in flowed if span.first <= flow.date <= span.last)
            used.append(AllowanceUsed(by, span, allowed_l, counted))
    return used


def _dates(
    seen: Explained, flowed: Sequence[Flowed], first: dt.date | None, last: dt.date | None, until: dt.date
) -> DateSpan | None:
    """The dates to tell of: from the first of which anything is known; None where none is left."""
    earliest = min([seen.moment.begins, *begins_on(seen), *(flow.date for flow in flowed)])
    span = DateSpan(max(first or earliest, earliest), min(last or until, until))
    return span if span.first <= span.last else None


def _day_begins_after(now: dt.datetime, garden: Garden) -> dt.datetime:
    """When the next garden day begins."""
    local = now.astimezone(ZoneInfo(garden.timezone))
    begins = dt.datetime.combine(local.date(), GARDEN_DAY_BEGINS, local.tzinfo)
    return begins if begins.timestamp() > now.timestamp() else begins + ONE_DAY
