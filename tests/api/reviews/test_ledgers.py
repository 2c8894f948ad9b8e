"""The ledger of a stored garden's zone, over HTTP: each day behind a plan, and whose weather it has."""

import csv
import datetime as dt
import io
import itertools
from typing import Any

import pytest
from flask.testing import FlaskClient
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from tests.api.stored_garden import JULY_15, document, lawn
from tests.profile import examples

LEDGER = "/v1/gardens/orchard/ledger/lawn"
MIX = {
    "plants": [
        {"plant": "turf-cool-season", "kc": 1.0, "share": 0.75},
        {"plant": "shrubs", "kc": 0.5, "share": 0.25},
    ]
}


def rows(client: FlaskClient, query: str = "") -> list[dict[str, Any]]:
    answer = client.get(LEDGER + query)
    assert answer.status_code == 200, answer.text
    (planting,) = answer.json["plantings"]
    return list(planting["rows"])


def table(client: FlaskClient, query: str = "") -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(client.get(f"{LEDGER}?format=csv{query}").text, newline="")))


def imbalance_mm(row: dict[str, Any]) -> float:
    value = {name: float(row[name]) for name in row if name.endswith("_mm") and row[name] != ""}
    return abs(
        value["opening_depletion_mm"]
        - value["infiltrated_rain_mm"]
        - value["irrigation_mm"]
        + value["etc_adj_mm"]
        + value["drainage_mm"]
        + value["adjustment_mm"]
        - value["closing_depletion_mm"]
    )


def a_run(day: int, litres: float) -> dict[str, Any]:
    return {"started_at": f"2026-07-{day:02}T08:00:00+02:00", "outcome": "done", "volume_l": litres}


def test_it_goes_from_where_the_garden_was_stored_to_today(client):
    told = client.get(LEDGER).json

    assert (told["garden"], told["zone"], told["history"]) == ("orchard", "lawn", "assumed")
    assert (told["from"], told["to"]) == ("2026-07-05", "2026-07-14")
    assert [row["date"] for row in rows(client)] == [f"2026-07-{day:02}" for day in range(5, 15)]


def test_the_next_plan_stands_on_its_last_row(client):
    closing_mm = rows(client)[-1]["closing_depletion_mm"]

    plan = client.get("/v1/gardens/orchard/plan/lawn").json
    whole = client.get("/v1/gardens/orchard/plan").json
    assert plan["date"] == "2026-07-15"
    # A plan prints tenths of a millimetre.
    assert whole["zones"][0]["soil_water"]["depletion_mm"] == pytest.approx(closing_mm, abs=0.05)


def test_a_morning_on_which_the_soil_was_full_is_where_it_begins(house, client):
    house.put(document(zones={"lawn": lawn(soil_full_on="2026-07-08")}))

    told = client.get(LEDGER).json
    assert (told["history"], told["from"]) == ("known", "2026-07-08")
    assert rows(client)[0]["opening_depletion_mm"] == 0.0


@examples(8, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(water=st.dictionaries(st.integers(5, 14), st.floats(0.0, 3000.0), max_size=6))
def test_rows_close_and_each_day_begins_as_the_one_before_ended(house, client, water):
    for day, litres in water.items():
        client.delete(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}")
        client.put(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}", json=a_run(day, litres))

    told = rows(client)
    assert max(imbalance_mm(row) for row in told) < 1e-9
    for before, after in itertools.pairwise(told):
        assert after["opening_depletion_mm"] == before["closing_depletion_mm"]
    for row in told:
        assert 0.0 <= row["closing_depletion_mm"] <= row["taw_mm"]


def test_a_report_that_comes_a_week_late_corrects_every_day_since(client):
    before = {row["date"]: row for row in rows(client)}
    # 1 mm is 50 litres, and nothing is lost on the way.
    client.put("/v1/gardens/orchard/deliveries/lawn/hose", json=a_run(7, 200))

    after = {row["date"]: row for row in rows(client)}
    assert after["2026-07-06"] == before["2026-07-06"]
    assert after["2026-07-07"]["irrigation_mm"] == pytest.approx(4.0)
    assert all(
        after[f"2026-07-{day:02}"]["closing_depletion_mm"]
        < before[f"2026-07-{day:02}"]["closing_depletion_mm"]
        for day in range(7, 15)
    )


def test_reports_in_any_order_give_the_same_ledger(house, client):
    reports = {day: a_run(day, 40.0 * day) for day in (6, 9, 13)}
    told = []
    for order in ((6, 9, 13), (13, 6, 9)):
        for day in order:
            client.put(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}", json=reports[day])
        told.append(client.get(LEDGER).data)
        for day in order:
            client.delete(f"/v1/gardens/orchard/deliveries/lawn/hose-{day}")
    assert told[0] == told[1]


def test_only_the_days_asked_for_are_told(client):
    whole = rows(client)

    assert rows(client, "?from=2026-07-08&to=2026-07-10") == whole[3:6]
    assert rows(client, "?from=2026-07-13") == whole[8:]
    assert rows(client, "?to=2026-07-05") == whole[:1]
    beyond = client.get(LEDGER + "?from=2027-01-01").json
    assert (beyond["from"], beyond["to"], beyond["plantings"][0]["rows"]) == (None, None, [])


def test_every_day_says_whose_weather_it_has(client, source):
    source.told = lambda start: {"solar_mj_m2": None} if start.date() == dt.date(2026, 7, 10) else {}

    weather = {row["date"]: row["weather"] for row in rows(client)}
    assert weather["2026-07-09"]["origin"] == "analysed"
    assert weather["2026-07-09"]["estimated"] == []
    assert set(weather["2026-07-09"]["sources"]) == {
        "temperature", "humidity", "wind", "solar_radiation", "rain",
    }  # fmt: skip
    assert weather["2026-07-10"]["estimated"] == ["solar_radiation"]
    assert "solar_radiation" not in weather["2026-07-10"]["sources"]
    assert weather["2026-07-14"]["origin"] == "forecast"


def test_what_the_owner_measured_is_named_as_his(client):
    answer = client.put("/v1/gardens/orchard/observations/2026-07-10", json={"rain_mm": 12.0})
    assert answer.status_code == 201, answer.text

    told = {row["date"]: row for row in rows(client)}
    assert told["2026-07-10"]["rain_mm"] == 12.0
    assert told["2026-07-10"]["weather"]["sources"]["rain"] == "own-weather"
    assert told["2026-07-10"]["weather"]["sources"]["temperature"] == "demo"
    assert told["2026-07-09"]["weather"]["sources"]["rain"] == "demo"
    line = next(line for line in table(client) if line["date"] == "2026-07-10")
    assert (line["rain_source"], line["wind_source"]) == ("own-weather", "demo")


# As a table


def test_as_csv_it_has_a_header_with_units_and_a_line_a_day(client):
    answer = client.get(LEDGER + "?format=csv")

    assert answer.content_type == "text/csv; charset=utf-8; header=present"
    header, *lines = answer.text.removesuffix("\r\n").split("\r\n")
    assert header.startswith("date,plant,plant_share,opening_depletion_mm,rain_mm,runoff_mm,")
    assert header.endswith(
        ",temperature_source,humidity_source,wind_source,solar_radiation_source,rain_source"
    )
    assert len(lines) == 10
    assert "\n" not in "".join(lines)


def test_the_table_says_what_the_json_says(client):
    for line, row in zip(table(client), rows(client), strict=True):
        assert line["date"] == row["date"]
        assert line["plant"] == "turf-cool-season"
        assert {name: float(line[name]) for name in row if name.endswith("_mm")} == {
            name: row[name] for name in row if name.endswith("_mm")
        }
        assert line["weather_origin"] == row["weather"]["origin"]
        assert line["rain_source"] == row["weather"]["sources"]["rain"]
        assert imbalance_mm(line) < 1e-9


def test_what_is_estimated_is_named_in_the_table(client, source):
    source.told = lambda start: {"dew_point_c": None}
    assert {line["humidity_source"] for line in table(client)} == {"estimated"}
    assert {line["temperature_source"] for line in table(client)} == {"demo"}


def test_a_zone_with_evaporation_apart_has_its_own_columns(house, client):
    house.put(document(zones={"lawn": lawn(planting={"plant": "turf-cool-season", "kc_method": "dual"})}))

    assert all(row["evaporation_mm"] >= 0.0 for row in rows(client))
    assert all(float(line["ke"]) >= 0.0 for line in table(client))


# Several plantings


def test_each_planting_of_a_mixed_zone_has_its_own_rows_by_name(house, client):
    house.put(document(zones={"lawn": lawn(planting=MIX)}))

    told = client.get(LEDGER).json["plantings"]
    assert [(one["plant"], one["share"]) for one in told] == [("turf-cool-season", 0.75), ("shrubs", 0.25)]
    assert all(len(one["rows"]) == 10 for one in told)
    assert max(imbalance_mm(row) for one in told for row in one["rows"]) < 1e-9
    lines = table(client)
    assert [line["plant"] for line in lines[:4]] == ["turf-cool-season", "shrubs"] * 2
    assert [line["date"] for line in lines[:4]] == ["2026-07-05", "2026-07-05", "2026-07-06", "2026-07-06"]


# Kept


def test_asked_again_the_bytes_are_the_same_and_nothing_is_reckoned(house, client, monkeypatch):
    first = client.get(LEDGER)
    monkeypatch.setattr(house.life, "explained", lambda garden_id: pytest.fail("reckoned again"))

    again = client.get(LEDGER)
    assert (again.data, again.headers["ETag"]) == (first.data, first.headers["ETag"])
    known = client.get(LEDGER, headers={"If-None-Match": first.headers["ETag"]})
    assert (known.status_code, known.data) == (304, b"")


def test_a_report_an_edit_and_midnight_end_what_is_kept(house, client, clock):
    tags = [client.get(LEDGER).headers["ETag"]]
    client.put("/v1/gardens/orchard/deliveries/lawn/hose", json=a_run(9, 100))
    tags.append(client.get(LEDGER).headers["ETag"])
    house.put(document(zones={"lawn": lawn(area_m2=60)}))
    tags.append(client.get(LEDGER).headers["ETag"])
    clock.to(0, 1, day=15)
    tags.append(client.get(LEDGER).headers["ETag"])

    assert len(set(tags)) == 4
    assert client.get(LEDGER).json["to"] == JULY_15.isoformat()


# Refused


@pytest.mark.parametrize(
    ("query", "sentence"),
    [
        ("?format=xml", 'format is "xml"; it must be "json" or "csv".'),
        (
            "?from=yesterday",
            'from is "yesterday"; it must be a date written as YYYY-MM-DD, from 1900 to 2100.',
        ),
        (
            "?from=2026-07-09&to=2026-07-08",
            "to is 2026-07-08, which is before from, 2026-07-09; it must not be.",
        ),
        ("?form=csv", '"form" is not a query parameter here. Did you mean format?'),
    ],
)
def test_what_cannot_be_asked_is_refused_in_words(client, query, sentence):
    answer = client.get(LEDGER + query)
    assert (answer.status_code, answer.json["errors"][0]["detail"]) == (422, sentence)


@pytest.mark.parametrize("address", ["/v1/gardens/orchard/ledger/nowhere", "/v1/gardens/nowhere/ledger/lawn"])
def test_what_is_not_there_is_404(client, address):
    assert client.get(address).status_code == 404
