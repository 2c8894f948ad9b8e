"""Pictures, page and calendar of a stored garden: its account, and what the next plan says of it."""

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final
from zoneinfo import ZoneInfo

import orjson

from api.errors import ZoneNotFound
from api.pages.calendar import CalendarRun, garden_calendar
from api.pages.chart import ChartDay, ZoneChart, garden_chart, zone_chart
from api.pages.garden_page import REFRESH_S, AlertLine, GardenPage, ZoneLine, garden_page
from api.plans.answer_cache import CALENDAR, CHART, PAGE, Answer, Answers, chart_question
from api.plans.plans import Explained, PlanLife
from api.reviews.alerts import AlertsOfGardens
from api.reviews.ledgers import plant_ledgers
from scheduling import reasons
from scheduling.garden.description import Zone
from scheduling.plan.final_plan import RUNNING, TO_DO, WITHDRAWN
from scheduling.plan.plan import ZonePlan
from scheduling.reasons.words import Words

DAYS_SHOWN: Final = 30
"""Past days of a chart; more are too narrow to be told apart on a phone."""
CALENDAR_REFRESH_S: Final = 3600
NUMBERS: Final = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
WAITING: Final[Mapping[str, str]] = {
    reasons.RAIN_EXPECTED: "waiting for rain",
    reasons.FROST_RISK: "waiting because of frost",
    reasons.TOO_WINDY: "waiting for less wind",
    reasons.PAUSED: "paused",
    reasons.NOT_A_WATERING_DAY: "waiting for a watering day",
    reasons.ALLOWANCE_SPENT: "without water, as the allowance is used up",
    reasons.HOURS_FULL: "without water, as the watering hours are full",
}
"""What a night's sentence says of zones that wait for anything else than thirst."""

Json = Mapping[str, Any]


class PagesOfGardens:
    """Answers with pictures, pages and calendars; each is made once, and kept until something changes it."""

    def __init__(self, life: PlanLife, alerts: AlertsOfGardens, answers: Answers) -> None:
        self._life = life
        self._alerts = alerts
        self._answers = answers

    def chart(self, garden_id: str) -> Answer:
        """The accounts of all zones, as SVG.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to reckon with.
        """
        plan, until, seen = self._seen(garden_id)
        return self._keep(CHART, _garden_chart(seen, plan).encode(), seen, until)

    def zone_chart(self, garden_id: str, zone_id: str) -> Answer:
        """The account of one zone, as SVG. Raises as `chart` does, and ZoneNotFound."""
        plan, until, seen = self._seen(garden_id)
        chart = next((chart for zone, chart in zone_charts(seen, plan) if zone == zone_id), None)
        if chart is None:
            raise ZoneNotFound(zone_id)
        return self._keep(chart_question(zone_id), zone_chart(chart).encode(), seen, until)

    def page(self, garden_id: str) -> Answer:
        """The garden's page, as HTML. Raises as `chart` does."""
        plan, until, seen = self._seen(garden_id)
        alerts = self._alerts.alerts(garden_id)
        lines = _alert_lines(orjson.loads(alerts.body)["alerts"], seen)
        page = GardenPage(
            name=_name(seen),
            date=dt.date.fromisoformat(plan["date"]),
            night=night(plan),
            zones=[_zone_line(zone) for zone in plan["zones"]],
            alerts=lines,
            chart=_garden_chart(seen, plan),
            weather=weather_line(plan["weather"]),
            attribution=plan["weather"]["attribution"],
            refresh_s=REFRESH_S,
        )
        return self._keep(PAGE, garden_page(page).encode(), seen, min(until, alerts.fresh_until))

    def calendar(self, garden_id: str) -> Answer:
        """The runs to come of the next plan, as a calendar. Raises as `chart` does."""
        plan, until, seen = self._seen(garden_id)
        runs = [
            CalendarRun(
                id=run["id"],
                zone=zone["name"],
                start=dt.datetime.fromisoformat(run["start"]),
                run_time_s=run["run_time_s"],
                volume=litres(run["volume_l"]),
                text=zone["reasons"][0]["text"],
            )
            for zone in plan["zones"]
            for run in zone["runs"]
            if run["state"] in (TO_DO, RUNNING)
        ]
        made_at = dt.datetime.fromisoformat(plan["made_at"])
        body = garden_calendar(seen.moment.garden.id, _name(seen), runs, made_at, CALENDAR_REFRESH_S)
        return self._keep(CALENDAR, body, seen, until)

    def _seen(self, garden_id: str) -> tuple[Json, dt.datetime, Explained]:
        """The next plan as it is answered, until when it holds, and the accounts behind it.

        The plan is read first: reading may make it final, and the garden is another then.
        """
        answer = self._life.plan(garden_id, "next")
        seen = self._life.explained(self._life.garden_now(garden_id))
        return orjson.loads(answer.body), min(answer.fresh_until, seen.fresh_until), seen

    def _keep(self, what: str, body: bytes, seen: Explained, until: dt.datetime) -> Answer:
        version, place_version = seen.moment.stored.version, seen.weather.version
        return self._answers.keep(
            seen.moment.garden.id, what, version, place_version, until, body, seen.moment.now
        )


def zone_charts(seen: Explained, plan: Json) -> Iterator[tuple[str, ZoneChart]]:
    """What the picture of each zone shows, by its id.

    Parameters
    ----------
    plan
        The next plan as it is answered, for what is said of each zone.
    """
    today = seen.moment.now.astimezone(ZoneInfo(seen.moment.garden.timezone)).date()
    told = {zone["zone"]: zone["reasons"][0]["text"] for zone in plan["zones"]}
    waits = _waits(seen)
    for zone, zone_plan in zip(seen.moment.garden.zones, seen.plan.zones, strict=True):
        days = _days(zone, zone_plan, today, waits[zone.id])
        yield zone.id, ZoneChart(zone_plan.name, today, days, told.get(zone.id, ""))


def _garden_chart(seen: Explained, plan: Json) -> str:
    return garden_chart(_name(seen), [chart for _, chart in zone_charts(seen, plan)])


def _name(seen: Explained) -> str:
    return seen.moment.garden.name or seen.moment.garden.id


def _days(zone: Zone, plan: ZonePlan, today: dt.date, waits: Mapping[dt.date, str]) -> tuple[ChartDay, ...]:
    rows = plant_ledgers(zone, plan)[plan.leader].rows
    known = [
        ChartDay(
            row.date,
            row.closing_depletion_mm,
            row.raw_mm,
            row.taw_mm,
            row.rain_mm,
            row.irrigation_mm,
            is_forecast=row.date >= today,
            waits_for=waits.get(row.date),
        )
        for row in rows[-DAYS_SHOWN - 1 :]
    ]
    ahead = [
        ChartDay(
            day.date,
            day.closing_depletion_mm,
            day.readily_available_mm,
            day.total_available_mm,
            day.rain_mm,
            day.irrigation_mm,
            is_forecast=True,
            waits_for=waits.get(day.date),
        )
        for day in plan.ahead
    ]
    return (*known, *ahead)


def _waits(seen: Explained) -> Mapping[str, dict[dt.date, str]]:
    """Why each zone was left alone, or will be, by its id and date."""
    waits: defaultdict[str, dict[dt.date, str]] = defaultdict(dict)
    words = Words(seen_from=seen.plan.date)
    for drafted in seen.plan.zones:
        if drafted.decision == "wait":
            waits[drafted.zone][seen.plan.date] = drafted.reasons[0].sentence(words)
    for date, plan in seen.moment.record(seen.plan.date).plans.items():
        for zone in plan.zones:
            waits[zone.id].pop(date, None)
            if zone.decision == "wait":
                waits[zone.id][date] = zone.reasons[0].text
    return waits


def night(plan: Json) -> str:
    """A plan in one sentence: the litres, for how many zones, from when, and who waits for what."""
    zones: Sequence[Json] = plan["zones"]
    watered = [zone for zone in zones if zone["volume_l"] > 0.0]
    waiting: dict[str, list[str]] = {}
    for zone in zones:
        phrase = WAITING.get(zone["reasons"][0]["code"])
        if zone["volume_l"] == 0.0 and phrase is not None:
            waiting.setdefault(phrase, []).append(zone["name"])
    told = "".join(f"; {phrase}: {', '.join(names)}" for phrase, names in waiting.items())
    if not watered:
        return f"No water this night{told}."
    starts = [run["start"] for zone in watered for run in zone["runs"] if run["state"] != WITHDRAWN]
    first = min(starts, key=dt.datetime.fromisoformat)
    count = len(watered)
    how_many = NUMBERS[count] if count < len(NUMBERS) else str(count)
    amount = litres(plan["volume_l"]).removesuffix(" l")
    word = "litre" if amount == "1" else "litres"
    zones_word = "zone" if count == 1 else "zones"
    return f"{amount} {word} for {how_many} {zones_word} from {_time(first)}{told}."


def weather_line(weather: Json) -> str:
    """Whose weather a plan stands on, of when, and what that means where it is old."""
    if weather["basis"] == "kept-days":
        return (
            "No weather source has answered for 72 hours. The last known days stand for the forecast, and no "
            "rain is counted."
        )
    asked = weather["retrieved_at"]
    of = "" if asked is None else f", fetched on {_date(dt.date.fromisoformat(asked[:10]))} at {_time(asked)}"
    late = " Newer weather has not come." if weather["stale"] else ""
    return f"Weather from {weather['source']}{of}.{late}"


def _zone_line(zone: Json) -> ZoneLine:
    running = [run for run in zone["runs"] if run["state"] == RUNNING]
    coming = [run for run in zone["runs"] if run["state"] == TO_DO]
    shown = [*running, *coming]
    return ZoneLine(
        name=zone["name"],
        volume=litres(sum(run["volume_l"] for run in shown)) if shown else "",
        start=_time(shown[0]["start"]) if shown else "",
        text=zone["reasons"][0]["text"],
        is_running=bool(running),
    )


def _alert_lines(alerts: Sequence[Json], seen: Explained) -> list[AlertLine]:
    lines = []
    for alert in alerts:
        since = dt.date.fromisoformat(alert["since"][:10])
        word = "From" if since > seen.moment.now.date() else "Since"
        lines.append(AlertLine(alert["text"], alert["what_to_do"], f"{word} {_date(since)}."))
    return lines


def litres(volume_l: float) -> str:
    """Litres with no more digits than anyone can use: 1,345 l, 92 l, 3.4 l."""
    whole = f"{volume_l:,.0f}"
    return f"{whole} l" if volume_l >= 9.95 else f"{f'{volume_l:.1f}'.removesuffix('.0')} l"


def _time(instant: str) -> str:
    return dt.datetime.fromisoformat(instant).strftime("%H:%M")


def _date(date: dt.date) -> str:
    return f"{date.day} {date:%B}"
