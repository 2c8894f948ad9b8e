"""What `GET /v1/gardens/{garden}/usage` answers."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from api.schemas.base import Schema
from api.schemas.fields import Day, Id, Items, Number, Part, Text, Whole, Word
from api.schemas.replay import DifferenceSchema
from scheduling.review.usage import BY, DateSpan, Depths, Litres

MOST_PERIODS = 100_000


@dataclass(frozen=True, slots=True)
class TimerUsed:
    """What a fixed timer would have taken, and what the plans took beyond it."""

    volume_l: float
    cost: float | None
    less_volume_l: float | None
    """The zones' own litres less the timer's; None: they are not known."""
    less_cost: float | None


@dataclass(frozen=True, slots=True)
class ZoneUsed:
    """One zone in a period."""

    zone: str
    name: str
    litres: Litres
    cost: float | None
    area_m2: float | None
    """None of a zone that is there no more."""
    depths: Depths | None
    """None where the zone's ledger has no day in the period."""
    timer: TimerUsed | None


@dataclass(frozen=True, slots=True)
class PeriodUsed:
    """A garden in a period."""

    span: DateSpan
    days_reckoned: int
    """Days of it that ledgers have."""
    litres: Litres
    cost: float | None
    allowance_l: float | None
    timer: TimerUsed | None
    zones: tuple[ZoneUsed, ...]


@dataclass(frozen=True, slots=True)
class AllowanceUsed:
    """A limit of litres, and what is left of it now."""

    period: str
    span: DateSpan
    allowed_l: float
    used_l: float


# For the contract


class LitresSchema(Schema):
    """What flowed; what nobody measured is never taken for nothing."""

    volume_l = Number(
        0,
        required=True,
        allow_none=True,
        about="What counts: measured, or as planned. null where water may have flowed and nothing is known.",
    )
    measured_l = Number(
        0,
        required=True,
        allow_none=True,
        about="As reported; null where runs took place and none was measured.",
    )
    assumed_l = Number(0, required=True, about="Of volume_l, planned litres of runs that nobody measured.")
    unmeasured_runs = Whole(
        0, 10_000_000, required=True, about="Runs of which nobody knows the litres, still running ones too."
    )
    cost = Number(
        0, required=True, allow_none=True, about="Of volume_l; null where that or price_per_m3 is missing."
    )


class TimerUsedSchema(Schema):
    """What the fixed timer would have taken."""

    volume_l = Number(0, required=True)
    cost = Number(0, required=True, allow_none=True)
    difference = Part(
        DifferenceSchema, required=True, allow_none=True, about="null where the litres are not known."
    )


class ZoneUsedSchema(LitresSchema):
    """One zone; depths over its area, of the days that its ledger has, null where it has none."""

    zone = Id(required=True)
    name = Text(required=True)
    etc_mm = Number(0, required=True, allow_none=True, about="What the plants wanted in their season.")
    etc_adj_mm = Number(0, required=True, allow_none=True, about="What they got of it.")
    rain_mm = Number(0, required=True, allow_none=True, about="What fell on the zone.")
    infiltrated_rain_mm = Number(0, required=True, allow_none=True, about="What rain gave to the roots.")
    irrigation_mm = Number(0, required=True, allow_none=True, about="What watering gave to the roots.")
    drainage_mm = Number(0, required=True, allow_none=True, about="What went below the roots.")
    timer = Part(TimerUsedSchema, required=True, allow_none=True)


class UsedSchema(LitresSchema):
    """A garden in a period. Zones that are there no more count in the litres."""

    first = Day(data_key="from", required=True)
    last = Day(data_key="to", required=True)
    days_reckoned = Whole(0, 1_000_000, required=True, about="Days of it that the ledgers have.")
    etc_l = Number(0, required=True, allow_none=True, about="What the plants wanted, over all zones.")
    rain_l = Number(0, required=True, allow_none=True, about="What rain gave to the roots.")
    drainage_l = Number(0, required=True, allow_none=True, about="What went below the roots.")
    allowance_l = Number(
        0, required=True, allow_none=True, about="What the garden's allowance lets such a period have, uncut."
    )
    timer = Part(TimerUsedSchema, required=True, allow_none=True, about="Over the zones that have one.")
    zones = Items(Part(ZoneUsedSchema), 0, 1000, required=True)


class AllowanceUsedSchema(Schema):
    """One limit of litres, and how it stands."""

    period = Word(("day", "week", "month"), required=True)
    first = Day(data_key="from", required=True)
    last = Day(data_key="to", required=True)
    allowed_l = Number(0, required=True)
    used_l = Number(0, required=True, about="What counts of what has flowed.")
    left_l = Number(0, required=True)


class UsageSchema(Schema):
    """Litres, money, what plants needed and what rain gave, period by period."""

    garden = Id(required=True)
    by = Word(BY, required=True)
    currency = Text(3, required=True, allow_none=True)
    periods = Items(Part(UsedSchema), 0, MOST_PERIODS, required=True)
    total = Part(UsedSchema, required=True, allow_none=True, about="null where no date is left.")
    allowances = Items(Part(AllowanceUsedSchema), 0, 3, required=True, about="As they stand now.")


# Writing


def dump_usage(
    garden_id: str,
    by: str,
    currency: str | None,
    periods: Sequence[PeriodUsed],
    total: PeriodUsed | None,
    allowances: Sequence[AllowanceUsed],
) -> dict[str, Any]:
    """Write what was used as JSON has it: litres, depths and money to 0.01."""
    return {
        "garden": garden_id,
        "by": by,
        "currency": currency,
        "periods": [_period(period) for period in periods],
        "total": None if total is None else _period(total),
        "allowances": [_allowance(allowance) for allowance in allowances],
    }


def _period(period: PeriodUsed) -> dict[str, Any]:
    return {
        **_span(period.span),
        "days_reckoned": period.days_reckoned,
        **_litres(period.litres, period.cost),
        "etc_l": _over_area(period.zones, "etc_mm"),
        "rain_l": _over_area(period.zones, "infiltrated_rain_mm"),
        "drainage_l": _over_area(period.zones, "drainage_mm"),
        "allowance_l": period.allowance_l,
        "timer": _timer(period.timer),
        "zones": [_zone(zone) for zone in period.zones],
    }


def _zone(zone: ZoneUsed) -> dict[str, Any]:
    depths = zone.depths
    return {
        "zone": zone.zone,
        "name": zone.name,
        **_litres(zone.litres, zone.cost),
        **{
            name: None if depths is None else _hundredths(getattr(depths, name))
            for name in (
                "etc_mm",
                "etc_adj_mm",
                "rain_mm",
                "infiltrated_rain_mm",
                "irrigation_mm",
                "drainage_mm",
            )
        },
        "timer": _timer(zone.timer),
    }


def _over_area(zones: Sequence[ZoneUsed], name: str) -> float | None:
    """A depth of all zones as litres; None where no ledger has a day: 1 mm on 1 m2 is a litre."""
    litres = [
        getattr(zone.depths, name) * zone.area_m2
        for zone in zones
        if zone.depths is not None and zone.area_m2 is not None
    ]
    return _hundredths(sum(litres)) if litres else None


def _litres(litres: Litres, cost: float | None) -> dict[str, Any]:
    return {
        "volume_l": _hundredths(litres.volume_l),
        "measured_l": _hundredths(litres.measured_l),
        "assumed_l": _hundredths(litres.assumed_l),
        "unmeasured_runs": litres.unmeasured_runs,
        "cost": _hundredths(cost),
    }


def _timer(timer: TimerUsed | None) -> dict[str, Any] | None:
    if timer is None:
        return None
    less: Mapping[str, Any] | None = None
    if timer.less_volume_l is not None:
        less = {"volume_l": _hundredths(timer.less_volume_l), "cost": _hundredths(timer.less_cost)}
    return {"volume_l": _hundredths(timer.volume_l), "cost": _hundredths(timer.cost), "difference": less}


def _allowance(allowance: AllowanceUsed) -> dict[str, Any]:
    return {
        "period": allowance.period,
        **_span(allowance.span),
        "allowed_l": allowance.allowed_l,
        "used_l": _hundredths(allowance.used_l),
        "left_l": _hundredths(max(0.0, allowance.allowed_l - allowance.used_l)),
    }


def _span(span: DateSpan) -> dict[str, str]:
    return {"from": span.first.isoformat(), "to": span.last.isoformat()}


def _hundredths(value: float | None) -> float | None:
    return None if value is None else round(value, 2) + 0.0  # + 0.0 makes 0.0 of -0.0
