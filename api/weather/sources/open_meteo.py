"""Open-Meteo, the source `open-meteo`: forecast, and beside it archive and ensemble.

One request in hours is all that is usually asked. Days further back than the forecast service has,
and holes in what it tells of the past, are taken from the archive, hour by hour and never both; an
ensemble gives rain as a mean over its members. What these two do not
answer is simply not there: the forecast stands without them. Free for non-commercial use; base
addresses and key are settings, so a paid or a self-hosted service works alike.
"""

import datetime as dt
import logging
import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from api.weather.errors import RateLimited, SourceFailed
from api.weather.place import Place
from api.weather.series.hours import HOUR, Hour, HourlyWeather
from api.weather.sources import decode as reading
from api.weather.sources.open_meteo_format import (
    ATTRIBUTION,
    NAME,
    SERIES,
    read,
    read_members,
    require_near,
)
from api.weather.sources.services import Installation, Service, Setting, address, address_or_none, key

if TYPE_CHECKING:
    from api.weather.sources.session import WeatherSession

__all__ = ["ARCHIVE_URL", "ATTRIBUTION", "FREE_URL", "NAME", "OpenMeteo", "read"]

log = logging.getLogger(__name__)

FREE_URL: Final = "https://api.open-meteo.com"
CUSTOMER_URL: Final = "https://customer-api.open-meteo.com"
"""Where a key is used; the free service would redirect there."""
ARCHIVE_URL: Final = "https://archive-api.open-meteo.com"
CUSTOMER_ARCHIVE_URL: Final = "https://customer-archive-api.open-meteo.com"
ENSEMBLE_URL: Final = "https://ensemble-api.open-meteo.com"
"""Used by default with the free forecast service; with a key, other terms hold."""
OWN_DOMAIN: Final = ".open-meteo.com"
PATH: Final = "/v1/forecast"
ARCHIVE_PATH: Final = "/v1/archive"
ENSEMBLE_PATH: Final = "/v1/ensemble"
MOST_PAST_DAYS: Final = 92
FORECAST_DAYS: Final = 10
"""Today and 9 more days of UTC: 8 whole local days ahead anywhere, so that a forecast 72 hours old
still holds 5. With 4 past days they are the 14 that the free service counts as one call."""
MOST_ARCHIVE_DAYS: Final = 430
ARCHIVE_LAGS: Final = dt.timedelta(days=2)
"""The archive has nothing newer, so no request is sent for a gap there."""
ARCHIVE_FRESH_S: Final = 86400.0
ENSEMBLE_MODELS: Final = "icon_seamless"
"""40 members, for any place; from memory."""
ENSEMBLE_FRESH_S: Final = 6 * 3600.0
"""Its models run as often, and 40 members count as four calls: 16 of the 10,000 that a day has."""
ENSEMBLE_TOTAL_S: Final = 3.0
"""A first forecast does not wait long for its ensemble."""
LEAST_MEMBERS: Final = 5
"""The mean of fewer is no expectation."""


def _made(here: Installation) -> "OpenMeteo":
    return OpenMeteo(
        here.session,
        base_url=here.settings.get("OPEN_METEO_URL"),
        key=here.settings.get("OPEN_METEO_KEY"),
        archive_url=here.settings.get("OPEN_METEO_ARCHIVE_URL"),
        ensemble_url=here.settings.get("OPEN_METEO_ENSEMBLE_URL"),
        clock=here.clock,
    )


SERVICE: Final = Service(
    NAME,
    ATTRIBUTION,
    knows_past=True,
    gives_radiation=True,
    knows="radiation, chance of rain, older days ([Open-Meteo](https://open-meteo.com), free for "
    "non-commercial use within its terms)",
    make=_made,
    settings=(
        Setting(
            "OPEN_METEO_URL",
            address,
            "the service's own",
            "another address of `open-meteo`, such as one you host",
        ),
        Setting("OPEN_METEO_KEY", key, "none", "its key, if you have one", is_secret=True),
        Setting(
            "OPEN_METEO_ARCHIVE_URL",
            address,
            "the service's own",
            "where older days are asked for; with an address of your own for the service, none unless set",
        ),
        Setting(
            "OPEN_METEO_ENSEMBLE_URL",
            address_or_none,
            "the free service's own",
            "where an ensemble of forecasts is asked for, every 6 hours at most: rain is then the mean "
            "over its members; `none`: nowhere; with a key, or an address of your own for the service, "
            "none unless set",
        ),
    ),
)


class OpenMeteo:
    """Asks the services. `clock` gives the present instant, aware.

    Without `archive_url`, the service's own archive is asked where its own forecast is; without
    `ensemble_url`, its ensemble where that is the free one. Empty, none is.
    """

    name = NAME

    def __init__(
        self,
        session: "WeatherSession",
        *,
        base_url: str | None = None,
        key: str | None = None,
        archive_url: str | None = None,
        ensemble_url: str | None = None,
        clock: Callable[[], dt.datetime],
    ) -> None:
        if base_url is None or (key is not None and base_url.rstrip("/") == FREE_URL):
            base_url = FREE_URL if key is None else CUSTOMER_URL
        if ensemble_url is None and key is None and base_url.rstrip("/") == FREE_URL:
            ensemble_url = ENSEMBLE_URL
        if archive_url is None and (urlsplit(base_url).hostname or "").endswith(OWN_DOMAIN):
            archive_url = ARCHIVE_URL if key is None else CUSTOMER_ARCHIVE_URL
        self._session = session
        self._key = key
        self._clock = clock
        base_url = _base(base_url, PATH)
        self._url = base_url + PATH
        session.accept(self._url, NAME, self._check)
        session.accept(base_url, NAME, self._check)
        self._archive_url = None if archive_url is None else _base(archive_url, ARCHIVE_PATH) + ARCHIVE_PATH
        if self._archive_url is not None:
            session.accept(self._archive_url, NAME, _check_archive, fresh_s=ARCHIVE_FRESH_S)
        self._ensemble_url = None
        if ensemble_url:
            self._ensemble_url = _base(ensemble_url, ENSEMBLE_PATH) + ENSEMBLE_PATH
            session.accept(
                self._ensemble_url,
                NAME,
                _check_members,
                fresh_s=ENSEMBLE_FRESH_S,
                retries=0,
                total_s=ENSEMBLE_TOTAL_S,
            )
        self._left_alone_until: dict[str, dt.datetime] = {}

    def hours(self, place: Place, *, past_days: int) -> HourlyWeather:
        """Hours from at least `past_days` local days back (430 at most) to 8 ahead.

        Raises SourceFailed, with the last good answer where the HTTP cache still has it.
        """
        parameters = self._parameters(
            place,
            hourly=",".join(series.names[0] for series in SERIES),
            wind_speed_unit="ms",
            # One more, because the day of UTC may begin after the local one.
            past_days=str(min(past_days + 1, MOST_PAST_DAYS)),
            forecast_days=str(FORECAST_DAYS),
        )
        try:
            weather = self._session.hours(NAME, self._url, parameters, read, self._clock)
        except SourceFailed as failed:
            raise _with_told_pause(failed, self._clock()) from None
        return self._with_members(place, self._with_archive(place, weather, past_days))

    def _check(self, body: object, url: str) -> None:
        reading.require_reach(read(body, retrieved_at=self._clock()))
        require_near(body, url)

    def _with_archive(self, place: Place, weather: HourlyWeather, past_days: int) -> HourlyWeather:
        """Fill what the forecast service does not know of the past from the archive."""
        url = self._archive_url
        lacking = _lacking_since(weather, _first_hour(weather, place, past_days))
        if url is None or lacking is None or not self._may_ask(url):
            return weather
        first, last = lacking
        parameters = self._parameters(
            place,
            hourly=",".join(series.names[0] for series in SERIES if series.quantity != "rain_probability"),
            wind_speed_unit="ms",
            start_date=first.date().isoformat(),
            end_date=(last + HOUR).date().isoformat(),
        )
        try:
            answer = self._session.ask(NAME, url, parameters)
            archive = read(answer.body, retrieved_at=weather.retrieved_at)
        except SourceFailed as failed:
            self._leave_alone(url, failed)
            return weather
        return replace(weather, hours=_filled(weather.hours, archive.hours, weather.retrieved_at))

    def _with_members(self, place: Place, weather: HourlyWeather) -> HourlyWeather:
        """Put the ensemble's rain in the place of the forecast's, in hours that are still to come."""
        url = self._ensemble_url
        if url is None or not self._may_ask(url):
            return weather
        parameters = self._parameters(
            place, hourly="precipitation", models=ENSEMBLE_MODELS, forecast_days=str(FORECAST_DAYS)
        )
        try:
            members = read_members(self._session.ask(NAME, url, parameters).body)
        except SourceFailed as failed:
            self._leave_alone(url, failed)
            return weather
        return replace(
            weather,
            hours=tuple(_with_mean(hour, members, weather.retrieved_at) for hour in weather.hours),
        )

    def _parameters(self, place: Place, **more: str) -> Mapping[str, str]:
        latitude, longitude = place.coordinates
        fixed = {"latitude": latitude, "longitude": longitude, "timezone": "GMT", "timeformat": "unixtime"}
        return {**fixed, **more, **({} if self._key is None else {"apikey": self._key})}

    def _may_ask(self, url: str) -> bool:
        return self._clock() >= self._left_alone_until.get(url, dt.datetime.min.replace(tzinfo=dt.UTC))

    def _leave_alone(self, url: str, failed: SourceFailed) -> None:
        pause_s = _with_told_pause(failed, self._clock()).pause_s
        log.warning("The forecast goes without %s for %d s: %s", url.rpartition("/")[2], pause_s, failed)
        self._left_alone_until[url] = self._clock() + dt.timedelta(seconds=pause_s)


def _base(url: str, path: str) -> str:
    return url.rstrip("/").removesuffix(path)


def _check_archive(body: object, url: str) -> None:
    read(body, retrieved_at=dt.datetime.now(dt.UTC))
    require_near(body, url)


def _check_members(body: object, url: str) -> None:
    read_members(body)
    require_near(body, url)


def _first_hour(weather: HourlyWeather, place: Place, past_days: int) -> dt.datetime:
    """The hour of UTC in which the local day begins that lies `past_days` back."""
    today = weather.retrieved_at.astimezone(place.zone).date()
    date = today - dt.timedelta(days=min(past_days, MOST_ARCHIVE_DAYS))
    midnight = dt.datetime.combine(date, dt.time(), place.zone).astimezone(dt.UTC)
    return midnight.replace(minute=0)


def _lacking_since(weather: HourlyWeather, first: dt.datetime) -> tuple[dt.datetime, dt.datetime] | None:
    """The first and the last hour from `first` on of which the archive may know more."""
    known = {
        hour.start for hour in weather.hours if hour.temperature_c is not None and hour.rain_mm is not None
    }
    count = math.floor((weather.retrieved_at - ARCHIVE_LAGS - first) / HOUR)
    lacking = [hour for hour in (first + number * HOUR for number in range(count)) if hour not in known]
    return (lacking[0], lacking[-1]) if lacking else None


def _filled(hours: tuple[Hour, ...], archive: tuple[Hour, ...], until: dt.datetime) -> tuple[Hour, ...]:
    """Hours with what is unknown of them taken from the archive's, up to an instant."""
    by_start = {hour.start: hour for hour in archive if hour.start + HOUR <= until}
    for hour in hours:
        other = by_start.get(hour.start)
        by_start[hour.start] = hour if other is None else _completed(hour, other)
    return tuple(by_start[start] for start in sorted(by_start))


def _completed(hour: Hour, other: Hour) -> Hour:
    names = [series.quantity for series in SERIES]
    lacking: dict[str, Any] = {name: getattr(other, name) for name in names if getattr(hour, name) is None}
    return replace(hour, **lacking)


def _with_mean(hour: Hour, members: Mapping[dt.datetime, tuple[float, ...]], asked: dt.datetime) -> Hour:
    depths_mm = members.get(hour.start, ())
    if hour.start + HOUR <= asked or len(depths_mm) < LEAST_MEMBERS:
        return hour
    return replace(hour, rain_mm=math.fsum(depths_mm) / len(depths_mm), rain_members_mm=depths_mm)


def _with_told_pause(failed: SourceFailed, now: dt.datetime) -> SourceFailed:
    """The service tells in words, not in a header, which of its limits was reached."""
    if not isinstance(failed, RateLimited):
        return failed
    said, now = failed.detail.lower(), now.astimezone(ZoneInfo("UTC"))
    if "daily" in said:
        reset = now.replace(hour=0, minute=0, second=0, microsecond=0) + dt.timedelta(days=1)
    elif "hourly" in said:
        reset = now.replace(minute=0, second=0, microsecond=0) + HOUR
    else:
        return failed
    pause_s = max(failed.pause_s, (reset - now).total_seconds() + 60.0)
    told = RateLimited(NAME, failed.detail, retry_after_s=pause_s)
    told.older = failed.older
    return told
