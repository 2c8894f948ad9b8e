"""A weather day in JSON, as given in a request."""

import datetime as dt
from collections.abc import Sequence
from typing import Any, Final

from marshmallow import ValidationError, validates_schema

from api.schemas.base import Schema
from api.schemas.fields import Day, Number, number
from scheduling.balance.weather import WeatherDay

MOST_DAYS: Final = 400
"""Weather days in one request."""

PAIRS: Final = (("t_min_c", "t_max_c"), ("t_dew_c", "t_max_c"), ("rh_min_pct", "rh_max_pct"))
"""The first of each must not be above the second."""


class WeatherDaySchema(Schema):
    """One local calendar day; what is left out is estimated where FAO-56 has an estimate, and named."""

    makes = WeatherDay

    date = Day(required=True)
    t_min_c = Number(-60, 60)
    t_max_c = Number(-60, 60)
    t_dew_c = Number(-70, 40)
    rh_min_pct = Number(0, 100)
    rh_max_pct = Number(0, 100)
    rh_mean_pct = Number(0, 100)
    wind_m_s = Number(0, 60, about="Mean of the day, at wind_height_m.")
    wind_height_m = Number(0.5, 200, about="Above the ground; 2 by default.")
    wind_max_m_s = Number(0, 120)
    solar_mj_m2 = Number(0, 50, about="Solar radiation of the day.")
    sunshine_h = Number(0, 24)
    cloud_share = Number(0, 1)
    rain_mm = Number(0, 1000)
    rain_probability = Number(0, 1, about="Of the rain that is forecast.")

    @validates_schema
    def _numbers_agree(self, data: dict[str, Any], **kwargs: Any) -> None:
        wrong = {
            lower: [f"{lower} is {number(data[lower])}; it must not be above {upper}, {number(data[upper])}."]
            for lower, upper in PAIRS
            if lower in data and upper in data and data[lower] > data[upper]
        }
        if wrong:
            raise ValidationError(wrong)


def twice_given(days: Sequence[object]) -> dict[int, Any]:
    """What is wrong with a list of weather days that has a date twice, by place in the list."""
    seen: set[dt.date] = set()
    wrong: dict[int, Any] = {}
    for place, day in enumerate(days):
        if isinstance(day, WeatherDay):
            if day.date in seen:
                wrong[place] = {"date": [f"date is {day.date}, which an earlier entry of the list has too."]}
            seen.add(day.date)
    return wrong
