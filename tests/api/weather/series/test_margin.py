"""What an old forecast's demand is raised by."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from api.weather.series.persistence import margin_share, with_margin
from scheduling.balance.evapotranspiration import Location, daily_demand
from scheduling.balance.weather import Origin, WeatherDay

PARIS = ZoneInfo("Europe/Paris")
MADE = dt.datetime(2026, 7, 14, 18, 40, tzinfo=dt.UTC)


def july(day: int, origin: Origin = Origin.FORECAST, **values: object) -> WeatherDay:
    return WeatherDay(dt.date(2026, 7, day), 15.0, 28.0, origin=origin, source_eto_mm=5.0, **values)


@pytest.mark.parametrize(
    ("date", "share"), [(14, 0.0), (15, 0.0), (16, 0.1), (17, 0.2), (18, 0.3), (20, 0.3)]
)
def test_it_is_a_tenth_for_each_day_that_the_forecast_is_late(date, share):
    assert margin_share(MADE, True, dt.date(2026, 7, date), PARIS) == pytest.approx(share)
    assert margin_share(MADE, False, dt.date(2026, 7, date), PARIS) == 0.0


def test_it_counts_for_days_after_the_forecast_was_made_that_nobody_has_seen_or_measured():
    days = (
        july(13, Origin.ANALYSED),
        july(14),
        july(15, Origin.PAST_FORECAST),
        july(16),
        july(17, observed=("t_min_c", "t_max_c")),
    )
    raised = with_margin(days, 0.2, MADE, PARIS)
    assert [day.eto_margin_share for day in raised] == [0.0, 0.0, 0.2, 0.2, 0.0]
    assert [day.source_eto_mm for day in raised] == [5.0, 5.0, 6.0, 6.0, 5.0]
    assert with_margin(days, 0.0, MADE, PARIS) == days


def test_demand_grows_by_it():
    site = Location(43.61, 48.0)
    (raised,) = with_margin([july(16)], 0.2, MADE, PARIS)
    assert daily_demand(raised, site).eto_mm == pytest.approx(1.2 * daily_demand(july(16), site).eto_mm)
