"""What `GET /v1/gardens/{garden}/weather` answers: the days in use, and where each value is from."""

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from api.schemas.base import Schema
from api.schemas.fields import Day, Id, Instant, Items, Number, Part, Text, Truth, Whole, Word
from api.schemas.plan import WeatherOrigin
from api.weather.series.forecast_verification import Trust
from api.weather.series.own_weather import QUANTITY_OF
from scheduling.balance.evapotranspiration import Demand
from scheduling.balance.weather import Origin, WeatherDay

VALUES: Final = (
    "t_min_c", "t_max_c", "t_dew_c", "rh_min_pct", "rh_max_pct", "rh_mean_pct", "wind_m_s", "wind_height_m",
    "wind_max_m_s", "solar_mj_m2", "sunshine_h", "cloud_share", "rain_mm", "rain_fallen_mm",
    "rain_probability",
)  # fmt: skip
"""As the source gave them, in the order in which they are told."""
OBSERVED: Final = (*QUANTITY_OF, "rain_fallen_mm")


class BorrowedSchema(Schema):
    """What a day has from another source than its own, which did not know it, or from the owner."""

    quantity = Word(("temperature", "humidity", "wind", "solar_radiation", "rain"), required=True)
    source = Text(required=True, about="own-weather: the garden's observations.")
    retrieved_at = Instant(required=True, allow_none=True)


class WeatherInUseSchema(Schema):
    """One local day; null is not known."""

    date = Day(required=True)
    origin = Word(
        tuple(origin.value for origin in Origin),
        required=True,
        about="past-forecast: a forecast of a day that is over, of a source that tells nothing of the past; "
        "assumed: no source has answered, so the mean of the last known days stands for it.",
    )
    source = Text(required=True, about="Where all values are from, but for what is borrowed or estimated.")
    retrieved_at = Instant(required=True, allow_none=True)
    t_min_c = Number(required=True, allow_none=True)
    t_max_c = Number(required=True, allow_none=True)
    t_dew_c = Number(required=True, allow_none=True)
    rh_min_pct = Number(0, 100, required=True, allow_none=True)
    rh_max_pct = Number(0, 100, required=True, allow_none=True)
    rh_mean_pct = Number(0, 100, required=True, allow_none=True)
    wind_m_s = Number(0, required=True, allow_none=True)
    wind_height_m = Number(0, required=True)
    wind_max_m_s = Number(0, required=True, allow_none=True)
    solar_mj_m2 = Number(0, required=True, allow_none=True)
    sunshine_h = Number(0, required=True, allow_none=True)
    cloud_share = Number(0, 1, required=True, allow_none=True)
    rain_mm = Number(0, required=True, allow_none=True)
    rain_fallen_mm = Number(0, required=True, allow_none=True, about="Of it, when the source was asked.")
    rain_probability = Number(0, 1, required=True, allow_none=True)
    rain_members = Whole(
        0, 1000, required=True, about="Members of an ensemble whose mean rain_mm is; else 0."
    )
    rain_left_out_mm = Number(
        0, required=True, about="Taken off rain_mm: the day before has it already from another source."
    )
    rain_trust_share = Number(0.1, 1, required=True, about="Part of promised rain to rely on, see trust.")
    eto_mm = Number(
        0,
        required=True,
        allow_none=True,
        about="Reference evapotranspiration, with the margin that tomorrow's plan adds to an old forecast.",
    )
    source_eto_mm = Number(required=True, allow_none=True, about="As the source reckons it itself.")
    estimated = Items(Text(), 0, 20, required=True, about="What eto_mm was estimated without.")
    hours_assumed = Whole(
        0,
        24,
        required=True,
        about="Hours that had passed before the source was first asked: like those of the day after, and "
        "without rain.",
    )
    borrowed = Items(Part(BorrowedSchema), 0, 5, required=True)
    observed = Items(
        Word(OBSERVED),
        0,
        len(OBSERVED),
        required=True,
        about="Values that the owner measured. rain_fallen_mm: of a day that was not over, so the least.",
    )


class TrustSchema(Schema):
    """How far a source's promises of rain are relied on, by what they came to."""

    source = Text(required=True)
    share = Number(0.1, 1, required=True, about="What of its counted rain counts.")
    promised_mm = Number(0, required=True, about="What its forecasts of the day before let expect.")
    came_mm = Number(0, required=True, about="Of each day at most what was promised at most.")
    promises = Whole(
        1, 1_000_000, required=True, about="Days with rain promised; below 5, nothing is judged."
    )
    since = Day(required=True)


class GardenWeatherSchema(Schema):
    """The weather days that a garden's plans stand on."""

    garden = Id(required=True)
    sources = Items(Text(), 1, 20, required=True, about="In the order in which they are asked.")
    source = Text(required=True, about="Which gave the newest answer.")
    retrieved_at = Instant(required=True)
    stale = Truth(required=True)
    basis = Word(("forecast", "kept-days"), required=True)
    elevation_m = Number(required=True, allow_none=True, about="For which evapotranspiration is reckoned.")
    trust = Items(Part(TrustSchema), 0, 20, required=True)
    days = Items(Part(WeatherInUseSchema), 0, 1000, required=True)
    attribution = Items(Text(500), 0, 20, required=True)


def dump_weather(
    garden_id: str,
    sources: Sequence[str],
    origin: WeatherOrigin,
    elevation_m: float | None,
    trust: Iterable[Trust],
    days: Iterable[WeatherDay],
    demands: Mapping[dt.date, Demand],
    timezone: dt.tzinfo,
) -> dict[str, Any]:
    """Write days in use as JSON has them; `demands` are those of the days of which one is known."""
    return {
        "garden": garden_id,
        "sources": list(sources),
        "source": origin.source,
        "retrieved_at": _instant(origin.retrieved_at, timezone),
        "stale": origin.stale,
        "basis": origin.basis,
        "elevation_m": elevation_m,
        "trust": [_trust(told) for told in trust],
        "days": [_day(day, demands.get(day.date), timezone) for day in days],
        "attribution": list(origin.attribution),
    }


def _trust(told: Trust) -> dict[str, Any]:
    return {
        "source": told.source,
        "share": round(told.share, 2),
        "promised_mm": round(told.promised_mm, 1),
        "came_mm": round(told.came_mm, 1),
        "promises": told.promises,
        "since": told.since.isoformat(),
    }


def _day(day: WeatherDay, demand: Demand | None, timezone: dt.tzinfo) -> dict[str, Any]:
    return {
        "date": day.date.isoformat(),
        "origin": day.origin.value,
        "source": day.source,
        "retrieved_at": _instant(day.retrieved_at, timezone),
        **{name: _rounded(getattr(day, name)) for name in VALUES},
        "rain_members": len(day.rain_members_mm or ()),
        "rain_left_out_mm": round(day.rain_left_out_mm, 2),
        "rain_trust_share": round(day.rain_trust_share, 2),
        "eto_mm": None if demand is None else round(demand.eto_mm, 2),
        "source_eto_mm": _rounded(day.source_eto_mm),
        "estimated": [] if demand is None else list(demand.estimated),
        "hours_assumed": day.hours_assumed,
        "borrowed": [
            {
                "quantity": other.quantity,
                "source": other.source,
                "retrieved_at": _instant(other.retrieved_at, timezone),
            }
            for other in day.borrowed
        ],
        "observed": list(day.observed),
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)


def _instant(instant: dt.datetime | None, timezone: dt.tzinfo) -> str | None:
    return None if instant is None else instant.astimezone(timezone).isoformat(timespec="seconds")
