"""A season as people read it on a terminal."""

import datetime as dt
import io
from typing import Any

import pytest
from rich.console import Console

from api.cli.tables import print_replay
from api.schemas.plan import WeatherOrigin
from api.schemas.replay import dump_replay, load_replay_request
from scheduling.review.foresight import Perfect
from scheduling.review.replay import replay
from scheduling.tap.permission import DateHours
from tests.api.stored_garden import document, lawn
from tests.scheduling.gardens import night_before, summer_days

DAY = {"date": "2025-06-01", "t_min_c": 11, "t_max_c": 24, "rain_mm": 0}


def season(timer: dict[str, Any] | None = None, **supply: Any) -> dict[str, Any]:
    body = {"garden": document(zones={"lawn": lawn(), "back-lawn": lawn()}, water_supply=supply)}
    if timer is not None:
        body["timer"] = timer
    asked = load_replay_request({**body, "weather": [DAY]})
    replayed = replay(
        asked.garden,
        summer_days(dt.date(2025, 6, 1), 60),
        Perfect(),
        lambda date: DateHours((night_before(date),)),
        asked.timers,
    )
    origin = WeatherOrigin(
        source="given", retrieved_at=None, stale=False, basis="given", attribution=["Told by a neighbour."]
    )
    return dump_replay(replayed, asked, origin)


def printed(body: dict[str, Any], width: int = 110) -> list[str]:
    written = io.StringIO()
    print_replay(body, Console(file=written, width=width, highlight=False))
    return [line.rstrip() for line in written.getvalue().splitlines()]


def test_each_zone_has_a_line_and_its_timer_another_below_it():
    lines = printed(season({"zones": {"lawn": {"every_days": 2, "run_time_s": 1200}}}))
    heads = [line.split("  ")[0] or line.split()[0] for line in lines[3:6]]
    assert heads == ["lawn", "by", "back-lawn"]
    assert "12000" in lines[4].split()


def test_money_stands_beside_litres():
    body = season({"all": {"every_days": 1, "run_time_s": 3600}}, price_per_m3=4, currency="EUR")
    (total,) = (line for line in printed(body) if line.startswith("Total "))
    assert f"{body['volume_l']:.0f} litres ({body['cost']:.2f} EUR)" in total
    saved = -body["difference"]["volume_l"]
    assert f"That is {saved:.0f} litres ({saved * 0.004:.2f} EUR) less than by timer." in total


def test_a_timer_that_gave_less_is_told_as_such():
    (total,) = (line for line in printed(season({"all": {"volume_l": 1}})) if line.startswith("Total "))
    assert total.endswith("more than by timer.")
    assert "EUR" not in total


def test_without_a_timer_nothing_is_compared():
    lines = printed(season())
    assert not any("timer" in line for line in lines)


def test_what_was_estimated_and_who_told_the_weather_is_said():
    body = season()
    body["weather"]["estimated"] = {"solar_radiation": 12}
    lines = printed(body)
    assert "  solar radiation was estimated on 12 of 60 days." in lines
    assert "  Told by a neighbour." in lines


@pytest.mark.parametrize("forecast", ["perfect", "none"])
def test_what_the_evenings_knew_is_said(forecast):
    assert printed({**season(), "forecast": forecast})[1].startswith("Planned by evenings that knew")


def test_a_zone_that_wants_nothing_has_no_excess():
    body = season()
    body["zones"][0].update(excess=None, least_volume_l=0.0, volume_l=0.0)
    assert " - " in printed(body)[3]


@pytest.mark.parametrize("width", [80, 72])
def test_a_narrow_terminal_may_fold_a_name_and_cuts_no_number(width):
    lines = printed(season(), width=width)
    assert not any("…" in line for line in lines)
    wide = next(line for line in printed(season(), width=200) if line.startswith("back-lawn"))
    narrow = next(line for line in lines if line.startswith("back"))
    assert narrow.split()[1:] == wide.split()[1:]
