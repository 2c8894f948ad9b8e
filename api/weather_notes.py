"""What a plan says about its weather, where that is not simply a forecast."""

import datetime as dt
from collections.abc import Iterator, Mapping

from api.weather.forecasts import Forecast
from api.weather.hindsight import Trust
from api.weather.keeping import is_complete
from api.weather.own_weather import NAME as OWN_WEATHER
from scheduling.plan import Note
from scheduling.weather import IS_PROMISE, Origin, WeatherDay


def weather_notes(forecast: Forecast | None, trust: Mapping[str, Trust], date: dt.date) -> tuple[Note, ...]:
    """Notes on the weather of a plan's date; none where the days came with the request."""
    if forecast is None:
        return ()
    return (
        *_kept_days(forecast),
        *_old_forecast(forecast, date),
        *_begun_days(forecast, date),
        *_past_forecasts(forecast),
        *_distrust(forecast, trust, date),
    )


def _kept_days(forecast: Forecast) -> Iterator[Note]:
    if forecast.basis != "kept-days":
        return
    newest = max(day.date for day in forecast.days if day.origin is not Origin.ASSUMED)
    if forecast.source == OWN_WEATHER:
        why, days = "There is no forecast", f"the last days that were measured, up to {newest},"
    else:
        why = f"No source has answered since {forecast.retrieved_at:%Y-%m-%d %H:%M} UTC"
        days = f"the last known days, up to {newest},"
    yield Note(
        "kept-days",
        f"{why}: the plan goes by the mean of {days} and counts on no rain. Frost is feared as in the last "
        f"fortnight of them, at {forecast.coldest_c:.1f} °C.",
    )


def _old_forecast(forecast: Forecast, date: dt.date) -> Iterator[Note]:
    share = forecast.margin_share(date)
    if share:
        yield Note(
            "old-forecast",
            f"No source has answered since {forecast.retrieved_at:%Y-%m-%d %H:%M} UTC: what plants use "
            f"from the day after on counts by {share:.0%} more, for heat that could not be seen then.",
        )


def _begun_days(forecast: Forecast, date: dt.date) -> Iterator[Note]:
    for day in forecast.days:
        if day.hours_assumed and day.date == date:
            hours = "The first hour" if day.hours_assumed == 1 else f"The first {day.hours_assumed} hours"
            yield Note(
                "hours-assumed",
                f"{hours} of {date} had passed before {day.source} was asked: they are taken to be like "
                "those of the day after, without rain.",
            )


def _past_forecasts(forecast: Forecast) -> Iterator[Note]:
    answered = forecast.retrieved_at.astimezone(forecast.place.zone).date()
    whole = [day for day in forecast.days if is_complete(day)]
    passed = [
        day
        for day in whole
        if day.origin is Origin.PAST_FORECAST and day.date < answered and "rain_mm" not in day.observed
    ]
    if passed:
        over = [day for day in whole if day.date <= passed[-1].date]
        days = "1 day" if len(passed) == 1 else f"{len(passed)} days"
        yield Note(
            "past-from-forecasts",
            f"{days} of the last {len(over)} are known by their forecast only, from "
            f"{_listed(day.source for day in passed)}: their rain counts by its chance.",
        )


def _distrust(forecast: Forecast, trust: Mapping[str, Trust], date: dt.date) -> Iterator[Note]:
    days = [day for day in forecast.days if day.date >= date and day.origin in IS_PROMISE]
    for source in dict.fromkeys(day.source_of("rain") for day in days if _promises_rain(day)):
        told = trust.get(source)
        if told is not None and told.share < 1.0:
            yield Note(
                "rain-distrusted",
                f"Of {told.promised_mm:.0f} mm of rain that {source} let expect on {told.promises} days "
                f"since {told.since}, {told.came_mm:.0f} mm came: its rain counts by {told.share:.0%}.",
            )


def _promises_rain(day: WeatherDay) -> bool:
    return bool(day.rain_mm)


def _listed(names: Iterator[str]) -> str:
    return ", ".join(dict.fromkeys(names))
