"""Reports of a garden: water that flowed, own weather, soil probes' readings, the state of valves.

One factory makes the routes of every kind from a description of it.
"""

import datetime as dt
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, Generic

from flask import Response, request

from api.http.problems import problem_body
from api.http.request_params import (
    FROM,
    LIMIT,
    MOST_LISTED,
    TO,
    json_body,
    must_be_new,
    query,
    query_dates,
    query_limit,
    refused_parameter,
)
from api.http.responses import MUST_BE_NEW, ONLY_NEW, Routes, describes, json_answer
from api.ids import ID_PATTERN, REPORT_ID_PATTERN, is_id, is_report_id
from api.reports.records import KeyT, Outcome, Page, PlaceT, Records, RecordT, ReportName, RowT, ToldT
from api.reports.soil_moisture import ReadingPlace
from api.schemas.base import Schema, load, pointer_to
from api.schemas.batch import Named, Unread, entries_of
from api.schemas.deliveries import (
    BatchAnswersSchema,
    DeliveryBatchSchema,
    DeliveryListSchema,
    DeliveryReport,
    DeliverySchema,
    NamedDeliverySchema,
    StoredDeliverySchema,
)
from api.schemas.fields import day_from
from api.schemas.moisture import (
    NamedReadingSchema,
    Reading,
    ReadingAnswersSchema,
    ReadingBatchSchema,
    ReadingListSchema,
    ReadingSchema,
    StoredReadingSchema,
)
from api.schemas.observations import (
    DatedObservationSchema,
    ObservationAnswersSchema,
    ObservationBatchSchema,
    ObservationListSchema,
    ObservationReport,
    ObservationSchema,
    StoredObservationSchema,
)
from api.schemas.valves import StoredValveSchema, ValveListSchema, ValveState, ValveStateSchema
from api.store.rows import DeliveryKey

ZONE_AND_ID: Final[Mapping[str, Callable[[Any], bool]]] = {"zone": is_id, "id": is_report_id}

EACH_ALONE: Final = """

Each is kept as a PUT without precondition would keep it, and none spoils another. A batch that was
sent may be sent again: what was kept is then known.
"""
"""What the contract says about every batch."""


@dataclass(frozen=True, slots=True)
class Documented:
    """What the contract says about the routes of a kind; each text begins with a title on a line."""

    about: str
    put: str
    get: str
    list: str
    delete: str = ""
    post: str = ""


@dataclass(frozen=True, slots=True)
class Batches:
    """How many reports of a kind are sent in one request."""

    schema: type[Schema]
    entry: type[Schema]
    """One report with its name."""
    answers: type[Schema]
    body_name: str
    """Under which an answer has a report as it is kept."""


@dataclass(frozen=True, slots=True)
class Pages(Generic[PlaceT]):
    """How reports of a kind are listed page by page."""

    after: Mapping[str, Any]
    """The query parameter that says after which to read on."""
    allowed: str
    """What it must be, for who gave something else."""
    read: Callable[[str], PlaceT]
    """Raises ValueError, OverflowError."""
    write: Callable[[PlaceT], str]


@dataclass(frozen=True, slots=True)
class ReportRoutes(Generic[KeyT, ToldT, PlaceT]):
    """Describes the routes of a kind of reports. What is None is not offered."""

    name: str
    """Of the resource in addresses, lists and batches."""
    rule: str
    """Address of one report within its resource."""
    name_parts: Mapping[str, Callable[[Any], bool]]
    """The parts of a report's name, in answers and batches, each with whether a value can be one."""
    key: Callable[..., KeyT]
    """Makes a key of the parts that the address has."""
    key_of_entry: Callable[..., KeyT]
    """Makes a key of the parts that an entry of a batch has."""
    schema: type[Schema]
    told: Callable[..., ToldT]
    """Makes a report of what the schema loads."""
    stored: type[Schema]
    listed: type[Schema]
    says: Documented
    put_problems: Sequence[int] = (404, 412, 503)
    delete_problems: Sequence[int] = (404, 503)
    precondition: Mapping[str, Any] | None = None
    batches: Batches | None = None
    pages: Pages[PlaceT] | None = None
    can_delete: bool = True

    def read_batch(self, document: object) -> list[Named[KeyT, ToldT] | Unread]:
        """Read many reports, of which some may be none. Raises InvalidRequest."""
        if self.batches is None:
            raise ValueError(f"{self.name} are not sent in batches")
        entry = self.batches.entry()
        return entries_of(document, self.name, entry, self.name_parts, self.key_of_entry, self.told)


def report_routes(
    kind: ReportRoutes[KeyT, ToldT, PlaceT], records: Records[KeyT, ToldT, RecordT, PlaceT, RowT]
) -> Routes:
    """Build the routes of a kind of reports."""
    routes = Routes(
        kind.name,
        __name__,
        url_prefix=f"/v1/gardens/<id:garden>/{kind.name}",
        description=kind.says.about,
    )
    schema = kind.schema()

    def put(garden: str, **name: str) -> Response:
        query()
        only_new = kind.precondition is not None and must_be_new()
        key = kind.key(**name)
        told = kind.told(**load(schema, json_body()))
        is_new, body = records.put(garden, key, told, only_new)
        return json_answer(body, 201, {"Location": request.path}) if is_new else json_answer(body)

    def get(garden: str, **name: str) -> Response:
        query()
        return json_answer(records.get(garden, kind.key(**name)))

    def delete(garden: str, **name: str) -> Response:
        query()
        records.delete(garden, kind.key(**name))
        return Response(status=204)

    def post(garden: str) -> Response:
        query()
        outcomes = records.put_all(garden, kind.read_batch(json_body()))
        return json_answer({kind.name: [_answered(*numbered) for numbered in enumerate(outcomes)]})

    def _answered(number: int, outcome: Outcome) -> Mapping[str, Any]:
        error = outcome.error
        return {
            **outcome.name,
            "result": outcome.result,
            body_name: outcome.body,
            "problem": None if error is None else problem_body(error, pointer_to(kind.name, number)),
        }

    def list_all(garden: str) -> Response:
        query()
        page: Page[PlaceT] = Page(None, None, None, MOST_LISTED)
        return json_answer({kind.name: records.listed(garden, page)[0]})

    def list_page(garden: str) -> Response:
        given = query("from", "to", "after", "limit")
        first, last = query_dates(given)
        page = Page(first, last, _after(pages, given), query_limit(given))
        found, further = records.listed(garden, page)
        return json_answer({kind.name: found, "next": None if further is None else pages.write(further)})

    def offer(
        method: str,
        rule: str,
        view: Callable[..., Response],
        says: str,
        answers: Mapping[int, type[Schema] | None],
        problems: Sequence[int] = (404, 503),
        **more: Any,
    ) -> None:
        view.__doc__ = says
        routes.route(rule, methods=[method])(describes(answers, problems, **more)(view))

    given = [] if kind.precondition is None else [kind.precondition]
    stored = {200: kind.stored, 201: kind.stored}
    offer("PUT", kind.rule, put, kind.says.put, stored, kind.put_problems, parameters=given, body=kind.schema)
    offer("GET", kind.rule, get, kind.says.get, {200: kind.stored})
    if kind.can_delete:
        offer("DELETE", kind.rule, delete, kind.says.delete, {204: None}, kind.delete_problems)
    if kind.batches is not None:
        body_name = kind.batches.body_name
        offer("POST", "", post, kind.says.post, {200: kind.batches.answers}, body=kind.batches.schema)
    if kind.pages is None:
        offer("GET", "", list_all, kind.says.list, {200: kind.listed})
    else:
        pages = kind.pages
        parameters = [FROM, TO, pages.after, LIMIT]
        offer("GET", "", list_page, kind.says.list, {200: kind.listed}, parameters=parameters)
    return routes


def _after(pages: Pages[PlaceT], given: Mapping[str, str]) -> PlaceT | None:
    if "after" not in given:
        return None
    try:
        return pages.read(given["after"])
    except (ValueError, OverflowError) as error:
        raise refused_parameter("after", given["after"], pages.allowed or str(error)) from None


def _is_day(value: Any) -> bool:
    try:
        day_from(value)
    except ValueError:
        return False
    return True


def _day(date: str) -> dt.date:
    try:
        return day_from(date)
    except ValueError as allowed:
        raise refused_parameter("date", date, str(allowed)) from None


_DELIVERY_PLACE: Final = re.compile(rf"([^/]*)/({ID_PATTERN})/({REPORT_ID_PATTERN})")
_READING_PLACE: Final = re.compile(rf"([^/]{{1,40}})/({ID_PATTERN})/({REPORT_ID_PATTERN})")


def _delivery_place(text: str) -> DeliveryKey:
    place = _DELIVERY_PLACE.fullmatch(text)
    if place is None:
        raise ValueError(text)
    return DeliveryKey(day_from(place[1]), place[2], place[3])


def _reading_place(text: str) -> ReadingPlace:
    place = _READING_PLACE.fullmatch(text)
    moment = None if place is None else dt.datetime.fromisoformat(place[1])
    if place is None or moment is None or moment.tzinfo is None:
        raise ValueError(text)
    return moment.astimezone(dt.UTC), place[2], place[3]


def _written_reading_place(place: ReadingPlace) -> str:
    moment, zone, reading = place
    return f"{moment.astimezone(dt.UTC).replace(tzinfo=None).isoformat()}Z/{zone}/{reading}"


DELIVERIES: Final[ReportRoutes[ReportName, DeliveryReport, DeliveryKey]] = ReportRoutes(
    name="deliveries",
    rule="/<id:zone>/<report:delivery>",
    name_parts=ZONE_AND_ID,
    key=lambda zone, delivery: ReportName(zone, delivery),
    key_of_entry=ReportName,
    schema=DeliverySchema,
    told=lambda started_at=None, **rest: DeliveryReport(started_at, **rest),
    stored=StoredDeliverySchema,
    listed=DeliveryListSchema,
    says=Documented(
        about="What really flowed.",
        put="""Close a turn, report any other water, or announce a run and complete it.

        With a run's id, the water counts for that run's plan. An announced run counts in full at once; the
        same id completes it once. Equal content again is 200, other content 409.
        """,
        get="One report as it is kept.",
        delete="""Take a report back, as though the water had never flowed.

        A turn is then open again, and counts in full; while it is open, there is no report to take back: 409.
        """,
        post=f"Reports of a controller that was offline, answered one by one in their order.{EACH_ALONE}",
        list="Reports by the plan's date that they count for, both ends included.",
    ),
    put_problems=(404, 409, 412, 503),
    delete_problems=(404, 409, 503),
    precondition=MUST_BE_NEW,
    batches=Batches(DeliveryBatchSchema, NamedDeliverySchema, BatchAnswersSchema, "delivery"),
    pages=Pages(
        after={
            "in": "query",
            "name": "after",
            "schema": {"type": "string"},
            "description": "next of the page before: DATE/ZONE/ID of its last report.",
        },
        allowed="next of another page, as 2026-07-15/fescue-lawn/2026-07-15-fescue-lawn-1",
        read=_delivery_place,
        write=lambda place: "/".join(map(str, place)),
    ),
)

OBSERVATIONS: Final[ReportRoutes[dt.date, ObservationReport, dt.date]] = ReportRoutes(
    name="observations",
    rule="/<day:date>",
    name_parts={"date": _is_day},
    key=_day,
    key_of_entry=lambda date: date,
    schema=ObservationSchema,
    told=ObservationReport.read,
    stored=StoredObservationSchema,
    listed=ObservationListSchema,
    says=Documented(
        about="Own weather, by gauge or station.",
        put="""Tell what own instruments measured of a day, in the place of what was told of it before.

        It takes the place of the sources' values, field by field, from that day on in every plan and ledger,
        however late it comes. A gauge read at 8 in the morning tells of the day before.
        """,
        get="What is kept of a day.",
        delete="Take an observation back, as though nobody had measured.",
        post=f"Observations of many days, answered one by one in their order.{EACH_ALONE}",
        list="Observations by date, both ends included.",
    ),
    precondition=ONLY_NEW,
    batches=Batches(ObservationBatchSchema, DatedObservationSchema, ObservationAnswersSchema, "observation"),
    pages=Pages(
        after={
            "in": "query",
            "name": "after",
            "schema": {"type": "string", "format": "date"},
            "description": "List those after this date.",
        },
        allowed="",
        read=day_from,
        write=dt.date.isoformat,
    ),
)

READINGS: Final[ReportRoutes[ReportName, Reading, ReadingPlace]] = ReportRoutes(
    name="moisture",
    rule="/<id:zone>/<report:reading>",
    name_parts=ZONE_AND_ID,
    key=lambda zone, reading: ReportName(zone, reading),
    key_of_entry=ReportName,
    schema=ReadingSchema,
    told=Reading,
    stored=StoredReadingSchema,
    listed=ReadingListSchema,
    says=Documented(
        about="What soil probes read.",
        put="""Tell what a probe read, in the place of any other reading of this id.

        A ledger goes by one value a morning, the median of the 4 hours before sunrise; what is read by day is
        kept only. How far a probe is believed is learned from its readings.
        """,
        get="One reading as it is kept.",
        delete="Take a reading back, as though the probe had never told it.",
        post=f"Readings of probes that were out of reach, answered one by one in their order.{EACH_ALONE}",
        list="""Readings of all zones by the moment at which they were taken.

        Dates are those of the garden's clock, both ends included.
        """,
    ),
    precondition=ONLY_NEW,
    batches=Batches(ReadingBatchSchema, NamedReadingSchema, ReadingAnswersSchema, "reading"),
    pages=Pages(
        after={
            "in": "query",
            "name": "after",
            "schema": {"type": "string"},
            "description": "next of the page before: MOMENT/ZONE/ID of its last reading.",
        },
        allowed="next of another page, as 2026-07-15T02:30:00Z/fescue-lawn/0715-0430",
        read=_reading_place,
        write=_written_reading_place,
    ),
)

VALVES: Final[ReportRoutes[str, ValveState, str]] = ReportRoutes(
    name="valves",
    rule="/<id:zone>",
    name_parts={"zone": is_id},
    key=lambda zone: zone,
    key_of_entry=lambda zone: zone,
    schema=ValveStateSchema,
    told=ValveState,
    stored=StoredValveSchema,
    listed=ValveListSchema,
    says=Documented(
        about="The state of valves.",
        put="""Tell how a zone's valve is, in the place of what was told before.

        Where something newer is known, that stands, and is answered.
        """,
        get="How a zone's valve was when it was last told of.",
        list="The valves of which anything was told, by zone.",
    ),
    put_problems=(404, 503),
    can_delete=False,
)
