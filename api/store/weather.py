"""The weather that has been fetched: every place's newest answer, and all its days."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import fields
from functools import lru_cache
from typing import Final

import orjson
from sqlalchemy import Connection, case, delete, select

from api.store import selects
from api.store.changes import first_version
from api.store.errors import StoreUnavailable
from api.store.rows import JsonObject
from api.store.store import Store
from api.store.tables import GARDENS, PLACES, WEATHER_DAYS
from api.store.upsert import insert_into
from api.weather.hours import HourlyWeather, from_json, to_json
from api.weather.keeping import KeptAnswer, replaces
from scheduling.weather import Origin, WeatherDay

STRANGERS_STAY: Final = dt.timedelta(days=14)
"""How long the weather of a place is kept that belongs to no stored garden: a question in passing."""

_OWN_COLUMNS: Final = frozenset({"date", "origin", "source", "retrieved_at"})
_IN_THE_BODY: Final = tuple(field.name for field in fields(WeatherDay) if field.name not in _OWN_COLUMNS)


class WeatherRows:
    """Keeps weather in the store, so that all processes plan from the same; a `WeatherKeep`."""

    def __init__(self, store: Store) -> None:
        self._store = store

    def place_version(self, place_key: str) -> int | None:
        """The version of a place, which rises with every answer; None where there never was one."""
        rows = self._store.ask(selects.PLACE_VERSION, place_key=place_key)
        return rows[0][0] if rows else None

    def latest(self, place_key: str) -> KeptAnswer | None:
        """The newest answer; None where there never was one.

        Its hours are fetched when they are first looked at. Should a newer answer have come by
        then, they are the newer ones.
        """
        version = self.place_version(place_key)
        return None if version is None else KeptAnswer(version, lambda: self._answer(place_key))

    def days(self, place_key: str, since: dt.date) -> list[WeatherDay]:
        """The days kept from `since` on, in ascending order; dates may be missing."""
        rows = self._store.ask(selects.WEATHER_BETWEEN, place_key=place_key, first=since, last=dt.date.max)
        return [_day_of(*row) for row in rows]

    def keep(self, place_key: str, weather: HourlyWeather, days: Sequence[WeatherDay]) -> int:
        """Keep an answer and its days in one transaction; the place's new, higher version.

        A kept day gives way only where `replaces` says so, and a kept answer not to an older one.
        """
        with self._store.writing() as connection:
            # The first statement: it holds the place until the end, should two come at once.
            version = _keep_answer(connection, place_key, weather)
            _keep_days(connection, place_key, days)
        with self._store.writing() as connection:
            _forget_strangers(connection, weather.retrieved_at - STRANGERS_STAY)
        return version

    def _answer(self, place_key: str) -> HourlyWeather:
        rows = self._store.ask(selects.PLACE_ANSWER, place_key=place_key)
        if not rows:
            raise StoreUnavailable(f"The weather of {place_key} has just been forgotten; ask again.")
        return from_json(rows[0][0])


def _keep_answer(connection: Connection, place_key: str, weather: HourlyWeather) -> int:
    insert = insert_into(connection, PLACES).values(
        key=place_key,
        version=first_version(),
        retrieved_at=weather.retrieved_at,
        source=weather.source,
        answer=to_json(weather),
    )
    given = insert.excluded
    is_newer = given.retrieved_at >= PLACES.c.retrieved_at
    upsert = insert.on_conflict_do_update(
        index_elements=["key"],
        set_={
            "version": PLACES.c.version + 1,
            **{
                name: case((is_newer, given[name]), else_=PLACES.c[name])
                for name in ("retrieved_at", "source", "answer")
            },
        },
    ).returning(PLACES.c.version)
    version: int = connection.execute(upsert).scalar_one()
    return version


def _keep_days(connection: Connection, place_key: str, days: Sequence[WeatherDay]) -> None:
    if not days:
        return
    dates = [day.date for day in days]
    span = {"place_key": place_key, "first": min(dates), "last": max(dates)}
    kept = {row.date: _day_of(*row) for row in connection.execute(selects.WEATHER_BETWEEN, span)}
    rows = [
        {
            "place_key": place_key,
            "date": day.date,
            "origin": day.origin.value,
            "source": day.source,
            "retrieved_at": day.retrieved_at,
            "body": _body_of(day),
        }
        for day in days
        if day.date not in kept or (day != kept[day.date] and replaces(day, kept[day.date]))
    ]
    if not rows:
        return
    insert = insert_into(connection, WEATHER_DAYS)
    changed = {name: insert.excluded[name] for name in ("origin", "source", "retrieved_at", "body")}
    connection.execute(insert.on_conflict_do_update(index_elements=["place_key", "date"], set_=changed), rows)


def _forget_strangers(connection: Connection, before: dt.datetime) -> None:
    """Delete places of no garden that were last asked for before a moment, with their days."""
    strangers = (
        select(PLACES.c.key)
        .where(PLACES.c.retrieved_at < before, PLACES.c.key.not_in(select(GARDENS.c.place_key)))
        .with_for_update(skip_locked=True)  # who holds one is about to renew it, or to delete it too
    )
    connection.execute(delete(PLACES).where(PLACES.c.key.in_(strangers)))


def _body_of(day: WeatherDay) -> JsonObject:
    values = ((name, getattr(day, name)) for name in _IN_THE_BODY)
    return {name: value for name, value in values if value is not None}


@lru_cache(maxsize=4096)
def _day_of(
    date: dt.date, origin: str, source: str, retrieved_at: dt.datetime | None, body: str
) -> WeatherDay:
    """Read a row; the days of the last readings are at hand, for making them takes most of the time."""
    values = orjson.loads(body)
    known = {name: values[name] for name in _IN_THE_BODY if name in values}
    return WeatherDay(date=date, origin=Origin(origin), source=source, retrieved_at=retrieved_at, **known)
