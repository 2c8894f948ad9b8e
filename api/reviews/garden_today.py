"""A garden now in one flat answer, for dashboards and for controllers that ask once for everything."""

from typing import Any

import orjson

from api.plans.answer_cache import NOW, Answer, Answers
from api.plans.plans import PlanLife
from api.reviews.alerts import AlertsOfGardens
from api.reviews.garden_pages import night, weather_line
from api.reviews.usage import Usages


class GardensToday:
    """Answers what is so now; made once, and kept until something changes it."""

    def __init__(self, life: PlanLife, alerts: AlertsOfGardens, usages: Usages, answers: Answers) -> None:
        self._life = life
        self._alerts = alerts
        self._usages = usages
        self._answers = answers

    def now(self, garden_id: str) -> Answer:
        """The next plan with its zones, this month's litres, weather and alerts.

        Raises
        ------
        GardenNotFound, WeatherUnavailable
            There is no such garden, or no weather to plan from.
        """
        read = self._life.flat_plan(garden_id)
        alerts = self._alerts.alerts(garden_id)
        used = self._usages.usage(garden_id, read.seen.date.replace(day=1), None, "month", None)
        name = read.seen.garden.name or garden_id
        body = _written(name, read.body, read.zones, orjson.loads(alerts.body), orjson.loads(used.body))
        until = min(read.fresh_until, alerts.fresh_until, used.fresh_until)
        written = orjson.dumps(body)
        return self._answers.keep(
            garden_id, NOW, read.version, read.place_version, until, written, read.seen.now
        )


def _written(
    name: str, plan: dict[str, Any], zones: dict[str, Any], alerts: dict[str, Any], used: dict[str, Any]
) -> dict[str, Any]:
    valve = plan["main_valve"] or {}
    left = [allowance["left_l"] for allowance in used["allowances"]]
    return {
        "garden": plan["garden"],
        "name": name,
        "date": plan["date"],
        "phase": plan["phase"],
        "text": night(plan),
        "final_at": plan["final_at"],
        "valid_until": plan["valid_until"],
        "volume_l": plan["volume_l"],
        "delivered_l": round(sum(zone["delivered_l"] for zone in zones.values()), 2),
        "remaining_l": round(sum(zone["remaining_l"] for zone in zones.values()), 2),
        "month_l": 0 if used["total"] is None else used["total"]["volume_l"],
        "allowance_left_l": min(left, default=None),
        "main_valve_opens_at": valve.get("opens_at"),
        "main_valve_closes_at": valve.get("closes_at"),
        "main_valve_max_open_s": valve.get("max_open_s", 0),
        "main_valve_max_volume_l": valve.get("max_volume_l", 0),
        "weather": weather_line(plan["weather"]),
        "attribution": " ".join(plan["weather"]["attribution"]),
        "alert_count": len(alerts["alerts"]),
        "alerts": alerts["alerts"],
        "zones": zones,
    }
