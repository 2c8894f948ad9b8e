"""A replay as requested on a command line: files, dates, and timers such as `lawn=2d:20min`."""

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from typing import Final

from api.errors import InvalidRequest
from api.schemas.fields import day_from, nearest, shown
from api.schemas.garden import load_garden
from api.schemas.replay import FORECASTS, MOST_EVERY_DAYS, ReplayRequest, timers_for
from api.schemas.weather_csv import read_weather_csv
from scheduling.errors import Problem
from scheduling.garden.description import Garden
from scheduling.review.replay import Timer

TIMER: Final = re.compile(
    r"(?:(?P<zone>[a-z0-9-]+)=)?(?P<days>\d{1,3})d:(?P<amount>\d{1,7}(?:\.\d{1,3})?)(?P<unit>min|s|l)",
    re.ASCII,
)
TIMER_ALLOWED: Final = "days and an amount, as 2d:20min, 3d:900s or 1d:15l; of one zone, lawn=2d:20min"
LONGEST_RUN_S: Final = 86_400


def request_from_words(
    garden: object, weather: tuple[str, bytes] | None, said: Mapping[str, str | None], timers: Sequence[str]
) -> ReplayRequest:
    """Put a request together.

    Parameters
    ----------
    garden
        The document.
    weather
        A table of days, with its name.
    said
        `from`, `to` and `forecast`, where they were said.
    timers
        As they were written.

    Raises
    ------
    InvalidGarden, InvalidRequest, WeatherTableWrong
        What cannot be; the table's problems begin with its name.
    """
    read = load_garden(garden)
    dates = {name: _date(name, said.get(name)) for name in ("from", "to")}
    if weather is None and dates["from"] is None:
        raise _refused("--from", "Which days? Give --weather, or --from and --to.")
    forecast = next(word for word in FORECASTS if word == said["forecast"])
    return ReplayRequest(
        garden=read,
        weather=None if weather is None else read_weather_csv(*weather),
        first=dates["from"],
        last=dates["to"],
        forecast=forecast,
        timers=timers_from(timers, read) if timers else None,
    )


def timers_from(written: Sequence[str], garden: Garden, pointer: str = "--timer") -> dict[str, Timer]:
    """Each zone's timer by zone id.

    Parameters
    ----------
    pointer
        Where they were written, for those that cannot be.

    Raises
    ------
    InvalidRequest
        For each that cannot be.
    """
    known = [zone.id for zone in garden.zones]
    chosen: dict[str | None, Timer] = {}
    problems = []
    for text in written:
        found = TIMER.fullmatch(text.strip())
        if found is None:
            problems.append(f"{shown(text)} is no timer; it must be {TIMER_ALLOWED}.")
            continue
        zone, days, amount = found["zone"], int(found["days"]), float(found["amount"])
        seconds = amount * 60.0 if found["unit"] == "min" else amount
        if zone is not None and zone not in known:
            problems.append(f"{shown(text)}: {zone} is no zone of the garden.{nearest(zone, known)}")
        elif zone in chosen:
            problems.append(f"{shown(text)} is a second timer for {zone or 'every zone'}; give one.")
        elif not 1 <= days <= MOST_EVERY_DAYS:
            problems.append(f"{shown(text)} waters every {days} days; it must be 1 to {MOST_EVERY_DAYS}.")
        elif amount <= 0.0:
            problems.append(f"{shown(text)} gives no water; its amount must be above 0.")
        elif found["unit"] == "l":
            chosen[zone] = Timer(days, volume_l=amount)
        elif seconds <= LONGEST_RUN_S:
            chosen[zone] = Timer(days, run_time_s=seconds)
        else:
            problems.append(f"{shown(text)} runs for more than a day; at most {LONGEST_RUN_S // 60} min.")
    if problems:
        raise InvalidRequest(*(Problem(pointer, sentence) for sentence in problems))
    by_zone = {zone: timer for zone, timer in chosen.items() if zone is not None}
    return timers_for(garden, chosen.get(None), by_zone)


def _date(name: str, said: str | None) -> dt.date | None:
    if said is None:
        return None
    try:
        return day_from(said)
    except ValueError as allowed:
        raise _refused(f"--{name}", f"{name} is {shown(said)}; it must be {allowed}.") from None


def _refused(option: str, sentence: str) -> InvalidRequest:
    return InvalidRequest(Problem(option, sentence))
