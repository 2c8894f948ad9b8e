"""The weather that has been fetched: every place's newest answer, and all its days."""

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import fields
from functools import lru_cache
from typing import Any, Final, TypeVar

import orjson
from sqlalchemy import Connection, case, delete, or_, select

from api.errors import StoredUnreadable, StoreUnavailable
from api.store import queries as selects
from api.store.changes import first_version
from api.store.outages import outage_log
from api.store.rows import JsonObject
from api.store.store import Store
from api.store.tables import GARDENS, HOLDS, PLACES, RAIN_PROMISES, WEATHER_DAYS
from api.store.upsert import insert_into
from api.weather.fetch.repository import FORBIDDEN, NO_LIMIT, AnswerUnreadable, KeptAnswer, NotKept, replaces
from api.weather.series.forecast_verification import Promise
from api.weather.series.hours import CLOCK_TOLERANCE, HourlyWeather, from_json, to_json
from scheduling.balance.weather import Borrowed, Origin, WeatherDay

STRANGERS_STAY: Final = dt.timedelta(days=14)
"""How long the weather of a place is kept that belongs to no stored garden: a question in passing."""

_OWN_COLUMNS: Final = frozenset({"date", "origin", "source", "retrieved_at"})
_REASONED_WHEN_READ: Final = frozenset(
    {"rain_left_out_mm", "rain_trust_share", "eto_margin_share", "observed"}
)
_IN_THE_BODY: Final = tuple(
    field.name for field in fields(WeatherDay) if field.name not in _OWN_COLUMNS | _REASONED_WHEN_READ
)


class WeatherRows:
    """Keeps weather in the store, so that all processes plan from the same; a `WeatherKeep`."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self._unreadable: set[tuple[str, int]] = set()
        """Places and versions of the kept answers that were found damaged: they count as never kept."""

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
        if version is None or (place_key, version) in self._unreadable:
            return None
        return KeptAnswer(version, lambda: self._answer(place_key, version))

    def days(self, place_key: str, since: dt.date) -> list[WeatherDay]:
        """The days kept from `since` on, in ascending order; dates may be missing."""
        rows = self._store.ask_each(
            selects.WEATHER_BETWEEN, place_key=place_key, first=since, last=dt.date.max
        )
        return [day for row in rows if (day := _readable(_day_of, *row)) is not None]

    def promises(self, place_key: str, since: dt.date) -> list[Promise]:
        """What was promised the day before each date from `since` on, in ascending order."""
        rows = self._store.ask_each(selects.PROMISES_SINCE, place_key=place_key, first=since)
        return [promise for row in rows if (promise := _readable(_promise_of, *row)) is not None]

    def keep(
        self,
        place_key: str,
        weather: HourlyWeather,
        days: Sequence[WeatherDay],
        promises: Sequence[Promise] = (),
        now: dt.datetime = NO_LIMIT,
    ) -> int:
        """Keep an answer and its days in one transaction; the place's new, higher version.

        A kept day gives way only where `replaces` says so, a kept answer and a promise not to an older one.
        What was kept by a clock ahead of `now` gives way in any case.
        """
        latest = now + CLOCK_TOLERANCE
        with self._keeping() as connection:
            # The first statement: it holds the place until the end, should two come at once.
            version = _keep_answer(connection, place_key, weather, latest)
            _keep_days(connection, place_key, days, latest)
            _keep_promises(connection, place_key, promises, latest)
        with self._keeping() as connection:
            _forget_strangers(connection, weather.retrieved_at - STRANGERS_STAY)
        return version

    def hold(self, key: str, holder: str, now: dt.datetime, until: dt.datetime) -> bool:
        """Take a key until an instant; False while somebody else has it."""
        with self._keeping() as connection:
            insert = insert_into(connection, HOLDS).values(key=key, holder=holder, until=until, made_at=now)
            taken = insert.on_conflict_do_update(
                index_elements=["key"],
                set_={"holder": holder, "until": until, "made_at": now},
                where=or_(
                    HOLDS.c.until <= now,
                    HOLDS.c.holder == holder,
                    HOLDS.c.made_at > now + CLOCK_TOLERANCE,
                ),
            ).returning(HOLDS.c.key)
            return connection.execute(taken).first() is not None

    def release(self, key: str, holder: str) -> None:
        """Give a key back, if it is the holder's."""
        with self._store.writing() as connection:
            connection.execute(delete(HOLDS).where(HOLDS.c.key == key, HOLDS.c.holder == holder))

    def forbid(self, key: str, now: dt.datetime, until: dt.datetime) -> None:
        """Let nobody take a key before an instant, or before a later one that stands."""
        with self._store.writing() as connection:
            insert = insert_into(connection, HOLDS).values(
                key=key, holder=FORBIDDEN, until=until, made_at=now
            )
            counts_more = or_(insert.excluded.until > HOLDS.c.until, HOLDS.c.made_at > now + CLOCK_TOLERANCE)
            later = case((counts_more, insert.excluded.until), else_=HOLDS.c.until)
            set_ = {"holder": FORBIDDEN, "until": later, "made_at": now}
            connection.execute(insert.on_conflict_do_update(index_elements=["key"], set_=set_))
            connection.execute(delete(HOLDS).where(HOLDS.c.until < now - STRANGERS_STAY))

    def held(self, now: dt.datetime) -> dict[str, dt.datetime]:
        """The keys that are taken or forbidden, and until when."""
        return dict(self._store.ask(selects.HELD, now=now, latest=now + CLOCK_TOLERANCE))

    @contextmanager
    def _keeping(self) -> Iterator[Connection]:
        """One transaction that writes. Raises NotKept where the database takes none."""
        try:
            with self._store.writing() as connection:
                yield connection
        except StoreUnavailable as error:
            outage_log.tell(f"Fetched weather is not kept. {error}")
            raise NotKept from error

    def _answer(self, place_key: str, version: int) -> HourlyWeather:
        try:
            rows = self._store.ask(selects.PLACE_ANSWER, place_key=place_key)
            weather = from_json(rows[0][0]) if rows else None
        except UNREADABLE_ANSWER as error:
            self._unreadable.add((place_key, version))
            outage_log.tell(f"The kept weather of {place_key} cannot be read, and is fetched again.")
            raise AnswerUnreadable(place_key) from error
        if weather is None:
            raise StoreUnavailable(f"The weather of {place_key} has just been forgotten; ask again.")
        return weather


def _keep_answer(connection: Connection, place_key: str, weather: HourlyWeather, latest: dt.datetime) -> int:
    insert = insert_into(connection, PLACES).values(
        key=place_key,
        version=first_version(),
        retrieved_at=weather.retrieved_at,
        source=weather.source,
        answer=to_json(weather),
    )
    given = insert.excluded
    is_newer = or_(given.retrieved_at >= PLACES.c.retrieved_at, PLACES.c.retrieved_at > latest)
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


def _keep_days(
    connection: Connection, place_key: str, days: Sequence[WeatherDay], latest: dt.datetime
) -> None:
    if not days:
        return
    dates = [day.date for day in days]
    span = {"place_key": place_key, "first": min(dates), "last": max(dates)}
    kept = {
        row.date: day
        for row in connection.execute(selects.WEATHER_BETWEEN, span)
        if (day := _readable(_day_of, *row)) is not None
        and (day.retrieved_at is None or day.retrieved_at <= latest)
    }
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


def _keep_promises(
    connection: Connection, place_key: str, promises: Sequence[Promise], latest: dt.datetime
) -> None:
    if not promises:
        return
    insert = insert_into(connection, RAIN_PROMISES)
    given = insert.excluded
    later = insert.on_conflict_do_update(
        index_elements=["place_key", "date"],
        set_={"made_at": given.made_at, "body": given.body},
        where=or_(given.made_at >= RAIN_PROMISES.c.made_at, RAIN_PROMISES.c.made_at > latest),
    )
    rows = [
        {
            "place_key": place_key,
            "date": promise.date,
            "made_at": promise.made_at,
            "body": {
                "source": promise.source,
                "expected_mm": promise.expected_mm,
                "most_mm": promise.most_mm,
            },
        }
        for promise in promises
    ]
    connection.execute(later, rows)


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
    body = {name: value for name, value in values if value is not None}
    borrowed = [list(other) for other in body.pop("borrowed")]
    return {**body, "borrowed": borrowed} if borrowed else body


def _borrowed(quantity: str, source: str, retrieved_at: str | None) -> Borrowed:
    moment = None if retrieved_at is None else dt.datetime.fromisoformat(retrieved_at)
    return Borrowed(quantity, source, moment)


Read = TypeVar("Read")

UNREADABLE_ANSWER: Final = (StoredUnreadable, KeyError, TypeError, ValueError)


def _readable(read: Callable[..., Read], *row: Any) -> Read | None:
    """A row as it is read; None for a damaged one, which counts as never kept."""
    try:
        return read(*row)
    except (KeyError, TypeError, ValueError, AttributeError):
        outage_log.tell(f"The weather kept for {row[0]} cannot be read, and is fetched again.")
        return None


def _promise_of(date: dt.date, made_at: dt.datetime, body: JsonObject) -> Promise:
    return Promise(date=date, made_at=made_at, **body)


@lru_cache(maxsize=4096)
def _day_of(
    date: dt.date, origin: str, source: str, retrieved_at: dt.datetime | None, body: str
) -> WeatherDay:
    """Read a row; the days of the last readings are at hand: of 60 days that saves 0.4 ms (measured)."""
    values = orjson.loads(body)
    known = {name: values[name] for name in _IN_THE_BODY if name in values}
    if "rain_members_mm" in known:
        known["rain_members_mm"] = tuple(known["rain_members_mm"])
    if "borrowed" in known:
        known["borrowed"] = tuple(_borrowed(*entry) for entry in known["borrowed"])
    return WeatherDay(date=date, origin=Origin(origin), source=source, retrieved_at=retrieved_at, **known)
