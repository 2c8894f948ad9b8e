"""Every code with facts and its whole sentence, side by side: what a gardener reads, in one place."""

import datetime as dt
import inspect
import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass

import pytest
import textstat
from hypothesis import given
from hypothesis import strategies as st

from scheduling.reasons import Note, Odd, Reason, Told, alerts, findings, notes, runs, tables
from scheduling.reasons import description_notes as described
from scheduling.reasons import probe_notes as probes
from scheduling.reasons import watering as why
from scheduling.reasons import weather_notes as weather
from scheduling.reasons.words import UNITS, Units, Words

TUESDAY = dt.date(2026, 6, 16)
"""The date that the answers are about."""
DAY = dt.timedelta(days=1)
THURSDAY = TUESDAY + 2 * DAY
JULY_2 = dt.date(2026, 7, 2)
MIDNIGHT = dt.datetime(2026, 6, 18, 0, 0, tzinfo=dt.UTC)
EARLY = dt.datetime(2026, 6, 16, 5, 2, tzinfo=dt.UTC)

READER = Words(TUESDAY)
IN_THE_US = Words(TUESDAY, "us")


def used(depletion_mm: float, raw_mm: float = 9.0, plant: str | None = None) -> why.Easily:
    return why.Easily(depletion_mm, raw_mm, plant)


def chance(use_mm: float = 4.3, is_next: bool = True) -> why.NextChance:
    return why.NextChance(THURSDAY, use_mm, is_next)


def rain_room(mm: float, counted_mm: float = 0.0, season_mm: float = 0.0) -> why.Room:
    return why.Room(
        mm,
        "rain",
        counted_mm=counted_mm,
        days=3,
        season_mm=season_mm,
        counted_is_told=counted_mm > 0.0,
        season_is_told=season_mm > 0.0,
    )


SENTENCES: list[tuple[Told, str]] = [
    # Reasons to water or to wait.
    (
        why.Dormant(TUESDAY, (why.PlantInGround("tomato", dt.date(2026, 3, 10)),)),
        "It is not the season of the tomato planted on 10 March, so it needs no water now.",
    ),
    (
        why.Dormant(TUESDAY, (why.PlantInGround("tomato", JULY_2),)),
        "Planting day of the tomato is 2 July, so there is nothing to water yet.",
    ),
    (
        why.Dormant(
            TUESDAY,
            (
                why.PlantInGround("hops", None),
                why.PlantInGround("pea", dt.date(2025, 9, 1)),
                why.PlantInGround("tomato", JULY_2),
            ),
        ),
        "It is not the season of the hops, the pea planted on 1 September 2025 and the tomato to be planted "
        "on 2 July, so it needs no water now.",
    ),
    (
        why.Paused(dt.date(2026, 7, 17), dt.date(2026, 7, 18), "a party on the lawn"),
        "Paused from 17 July to 18 July: a party on the lawn.",
    ),
    (why.Paused(TUESDAY, THURSDAY, ""), "Paused from Tuesday to Thursday."),
    (why.Paused(THURSDAY, JULY_2, ""), "Paused from 18 June to 2 July."),
    (why.Paused((11, 15), (3, 15), ""), "Paused every year from 15 November to 15 March."),
    (
        why.NotAWateringDay(TUESDAY, (0, 2, 4, 5), None),
        "Tuesday is not a watering day here (Monday, Wednesday, Friday, Saturday).",
    ),
    (
        why.NotAWateringDay(dt.date(2026, 6, 17), None, "even"),
        "17 June is an odd date, and watering is allowed on even dates only.",
    ),
    (
        why.NotAWateringDay(TUESDAY, None, "odd"),
        "16 June is an even date, and watering is allowed on odd dates only.",
    ),
    (why.FrostRisk(1.0, 5.0), "The forecast goes down to 1 °C, below the frost limit of 5 °C."),
    (why.FrostRisk(-0.04, 0.5), "The forecast goes down to 0 °C, below the frost limit of 0.5 °C."),
    (
        why.BeforeAbsence(THURSDAY, JULY_2),
        "You are away from 18 June to 2 July, and this is the last chance to water before. So the zone is "
        "filled up.",
    ),
    (
        why.BeforeAbsence(THURSDAY, JULY_2, why.Room(4.6, "dry-ground", wetted_share=0.6)),
        "You are away from 18 June to 2 July, and this is the last chance to water before. Only 60 % of the "
        "ground gets wet, so the last 4.6 mm cannot be refilled.",
    ),
    (
        why.SoilMoist(used(26.7, 36.7), chance(6.2)),
        "Roots still have 10.0 mm they can draw easily. They will use about 6.2 mm by Thursday, so it "
        "can wait.",
    ),
    (
        why.SoilMoist(used(9.0, 9.04), chance(0.04)),
        "Roots have used all 9.0 mm they can draw easily. They will use less than 0.1 mm by Thursday, and "
        "can wait that long.",
    ),
    (why.SoilFull(), "The soil around the roots is full, so nothing is missing."),
    (why.LessThanAValveTakes(), "So little is missing that the valve cannot give it."),
    (
        why.RainExpected(used(9.04), 13.4, THURSDAY),
        "Roots have used all 9.0 mm they can draw easily. About 13.4 mm of rain can be relied on by "
        "Thursday, so it can wait.",
    ),
    (
        why.TooWindy(4.0, 4.6),
        "Even the calmest permitted hour has wind of 4.6 m/s, above the limit of 4 m/s. The plants can wait.",
    ),
    (
        why.TooWindy(4.0, 4.04),
        "Even the calmest permitted hour has wind of 4.04 m/s, above the limit of 4 m/s. The plants can "
        "wait.",
    ),
    (
        why.AllowanceSpent(1500.0, "week"),
        "The 1,500 litres allowed for the week are not enough for all zones that need water.",
    ),
    (why.HoursFull(), "The watering hours are too short for all zones that need water."),
    (
        why.RainNotEnough(9.0, chance()),
        "About 9.0 mm of rain is likely, but if it stays away the plants would suffer before Thursday. They "
        "get just enough to last until then.",
    ),
    (
        why.RainNotEnough(9.0, chance(), why.Room(23.0, "rain-tomorrow")),
        "About 9.0 mm of rain is likely, but if it stays away the plants would suffer before Thursday. They "
        "get just enough to last until then, which leaves 23.0 mm free for the rain.",
    ),
    (
        why.SoilDryingOut(used(8.6), chance()),
        "Roots have used 8.6 of the 9.0 mm they can draw easily, and will use about 4.3 mm more before "
        "Thursday, the next day it can be watered.",
    ),
    (
        why.SoilDryingOut(used(11.1, 10.6, "shrub border"), chance(11.7, is_next=False)),
        "The roots of the shrub border have used all 10.6 mm they can draw easily and 0.5 mm they can only "
        "draw with effort, and will use about 11.7 mm more before Thursday.",
    ),
    (
        why.SoilDryingOut(used(0.04), chance(), room=why.Room(2.9, "fill-share", fill_share=0.6)),
        "Roots have used hardly any of the 9.0 mm they can draw easily, and will use about 4.3 mm more "
        "before Thursday, the next day it can be watered. The last 2.9 mm are left dry, because this zone is "
        "set to refill 60 % of what is missing.",
    ),
    (
        why.SoilDryingOut(used(5.0), chance(), is_early_container=True),
        "Roots have used 5.0 of the 9.0 mm they can draw easily, and will use about 4.3 mm more before "
        "Thursday, the next day it can be watered. While you are away, pots are watered when half of their "
        "easy water is left.",
    ),
    (
        why.SoilDryingOut(used(8.6), chance(), room=rain_room(4.0, counted_mm=4.0)),
        "Roots have used 8.6 of the 9.0 mm they can draw easily, and will use about 4.3 mm more before "
        "Thursday, the next day it can be watered. The last 4.0 mm are left free for rain: about 4.0 mm is "
        "likely within 3 days.",
    ),
    (
        why.SoilDryingOut(used(8.6), chance(), room=rain_room(1.4, season_mm=2.0)),
        "Roots have used 8.6 of the 9.0 mm they can draw easily, and will use about 4.3 mm more before "
        "Thursday, the next day it can be watered. The last 1.4 mm are left free for rain, as the season "
        "brings 2.0 mm a day.",
    ),
    (
        why.SoilDryingOut(used(8.6), chance(), room=rain_room(5.4, counted_mm=4.0, season_mm=2.0)),
        "Roots have used 8.6 of the 9.0 mm they can draw easily, and will use about 4.3 mm more before "
        "Thursday, the next day it can be watered. The last 5.4 mm are left free for rain: about 4.0 mm is "
        "likely within 3 days, and the season brings 2.0 mm a day.",
    ),
    # Reasons of runs.
    (
        runs.AlreadyDelivered(12.34, is_certain=True),
        "Its runs have given 12 litres more than planned, so less is left to give.",
    ),
    (
        runs.AlreadyDelivered(1.0, is_certain=False),
        "Its runs may have given up to 1 litre more than planned, so less is left to give.",
    ),
    (
        runs.DeliveredBeside(24.0, None),
        "This day already had 24 litres from outside the plan, so the zone can wait.",
    ),
    (
        runs.DeliveredBeside(24.0, 90.5),
        "This day already had 24 litres from outside the plan. After that, 90 litres from the plan are "
        "enough.",
    ),
    (runs.ForbiddenHours(), "Watering is now forbidden at this time."),
    (runs.LessNeeded(9.96), "By what is known now, 10 litres are enough."),
    (runs.OutsideHours(), "The watering hours have changed, and this run is outside them."),
    (runs.ZoneRemoved(), "This zone was taken out of the garden."),
    (runs.PausedSince(TUESDAY), "A pause now covers Tuesday."),
    (runs.NoWateringDaySince(TUESDAY), "Tuesday is not a watering day any more."),
    (
        runs.FrostAtItsTime(),
        "By the newest forecast it may freeze at this time, or in the three hours after it.",
    ),
    (
        runs.WindAtItsTime(6.14, 4.0),
        "The newest forecast has wind of 6.1 m/s for this time, above the limit of 4 m/s.",
    ),
    (
        runs.AllowanceLeftOver(500.0, 40.0, "month"),
        "Only 40 of the 500 litres allowed for the month are left.",
    ),
    (runs.AllowanceLeftOver(500.0, 0.0, "day"), "Nothing is left of the 500 litres allowed for the day."),
    # Notes on zones.
    (
        notes.AbsenceAhead(
            THURSDAY,
            JULY_2,
            (notes.Lasts(0, "balcony troughs"), notes.Lasts(1, "Pots"), notes.Lasts(60, "hedge")),
            60,
        ),
        "You are away from 18 June to 2 July. Filled up and then left without water or rain, zones last so "
        "long: balcony troughs less than a day, Pots 1 day and hedge 60 days or more.",
    ),
    (notes.WaterAlreadyGiven(120.0), "The plan counts what was already given for this day, 120 litres."),
    (
        notes.WaterAlreadyGiven(0.04),
        "The plan counts what was already given for this day, less than 0.1 litres.",
    ),
    (
        notes.CannotLast(TUESDAY, THURSDAY),
        "Even if filled up, this zone will be short of water on Thursday, before it can be watered again.",
    ),
    (
        notes.CannotLast(TUESDAY, TUESDAY),
        "Even if filled up, this zone will be short of water later on Tuesday.",
    ),
    (
        notes.CouldRunDry(THURSDAY, JULY_2, dt.date(2026, 6, 21), is_by_hand=False),
        "If its valve fails while you are away (18 June to 2 July), this zone could be dry by 21 June. Ask "
        "somebody to look in.",
    ),
    (
        notes.CouldRunDry(THURSDAY, JULY_2, dt.date(2026, 6, 21), is_by_hand=True),
        "This zone is watered by hand, and you are away from 18 June to 2 July. It could be dry by 21 June, "
        "so ask somebody to water it.",
    ),
    (
        notes.CycleAndSoak(14.0, 5.08, 2664.0, 2820.0),
        "Water arrives at 14 mm an hour and this soil takes in 5. It is given in runs of at most 44 minutes, "
        "with a rest of 47 minutes between them, so that it does not run off.",
    ),
    (
        notes.CycleAndSoak(14.3, 13.8, 2664.0, 30.0),
        "Water arrives at 14.3 mm an hour and this soil takes in 13.8. It is given in runs of at most 44 "
        "minutes, with a rest of 1 minute between them, so that it does not run off.",
    ),
    (
        described.FlowAssumed(1.67, 16.7),
        "No flow is given. Run times go by 1.7 litres a minute, from the usual 17 mm an hour of this way of "
        "watering.",
    ),
    (
        described.FlowAboveSupply(14.0, 8.0),
        "This zone would take 14 litres a minute, but the tap gives 8. Run times go by the tap.",
    ),
    (
        described.FlowAboveSupply(14.2, 14.0),
        "This zone would take 14.2 litres a minute, but the tap gives 14.0. Run times go by the tap.",
    ),
    (
        described.FlowHasDrifted(14.0, 20.0, is_declared=False),
        "The meter shows 14 litres a minute, 30 % less than the 20 before. A filter or an emitter may be "
        "blocked, or the pressure low.",
    ),
    (
        described.FlowHasDrifted(14.0, 20.0, is_declared=True),
        "The meter shows 14 litres a minute, 30 % less than the 20 given. A filter or an emitter may be "
        "blocked, or the pressure low, or the flow that was given is wrong.",
    ),
    (
        described.FlowHasDrifted(30.0, 20.0, is_declared=False),
        "The meter shows 30 litres a minute, 50 % more than the 20 before. A pipe may have burst, or an "
        "emitter come off.",
    ),
    (
        described.FlowBeyondBelief(1234.0),
        "The meter shows 1,234 litres a minute, by which this zone cannot be watered. Run times go by the "
        "flow that was given.",
    ),
    (
        described.RateUnusual(8.0, 60.0, 8.0, 43.2),
        "8 litres a minute over 60 m² is 8 mm an hour, but 43 is usual here. The flow or the area may be "
        "wrong.",
    ),
    (
        notes.PlantsDiffer("lettuce", 2.1, "shrub border", 11.0),
        "A full soil lasts the lettuce about 2 days, the shrub border 11 days. What suits the one is too "
        "much for the other.",
    ),
    (
        described.SeasonEnds("courgette", dt.date(2026, 10, 3)),
        "The season of the courgette ends on 3 October; after that it gets no water. Give it a later end if "
        "it is to be watered for longer.",
    ),
    (
        described.KeptAlive("shrub border", 0.2),
        "The shrub border is only kept alive, on 20 % of what a reference lawn uses. It grows little and "
        "may turn brown.",
    ),
    (
        described.PlantingDateUnknown("tomato"),
        "No planting date is given for the tomato. The plan takes it as fully grown all year.",
    ),
    (notes.GroundSaturated(), "Rain has filled the ground. It can take no more until plants have used some."),
    (
        notes.GroundSaturated(8.0, 4.0),
        "8.0 mm of rain has fallen for this day. Of more than 4.0 mm on top of it, some would be lost.",
    ),
    (
        notes.HoursTooShort(4.0),
        "Even its smallest dose, 4.0 mm, does not fit into the hours that are left.",
    ),
    (
        described.IntakeAssumed(8.89, "silt loam"),
        "The soil's texture is not given. The plan takes it to drink in 9 mm an hour, as silt loam does.",
    ),
    (
        notes.LeftDry(THURSDAY, 0.24),
        "It is not watered, and on Thursday its plants can draw only 24 % of the water they need.",
    ),
    (
        notes.LeftDry(THURSDAY, 0.0),
        "It is not watered, and on Thursday its plants can draw hardly any of the water they need.",
    ),
    (
        described.LeafOutAssumed("raspberry and blackberry", (3, 15), 210),
        "Nothing says when the raspberry and blackberry comes into leaf. The plan takes the season to start "
        "on 15 March and to last 210 days.",
    ),
    (
        notes.NewlyPlanted(dt.date(2026, 5, 10), dt.date(2027, 5, 10), dt.date(2026, 6, 21)),
        "Planted on 10 May, it has shallow roots until about 10 May 2027. Until 21 June it may be watered on "
        "any day, as towns often let new plants.",
    ),
    (
        notes.NewlyPlanted(dt.date(2026, 5, 10), dt.date(2026, 7, 10), None),
        "Planted on 10 May, it has shallow roots until about 10 July.",
    ),
    (
        notes.NoChanceAhead(14, THURSDAY),
        "The rules allow no watering in the next 14 days, and this zone will be short of water from "
        "Thursday.",
    ),
    (
        notes.NoChanceAhead(None, THURSDAY),
        "The rules allow no watering on any day of the forecast, and this zone will be short of water from "
        "Thursday.",
    ),
    (
        described.OpeningAssumed(dt.date(2026, 6, 1)),
        "Nothing says how dry the soil was on 1 June. The plan takes half of the easy water as used.",
    ),
    (
        notes.SeasonNotReplayed(None, None),
        "None of these days is in the season of the plants. Nothing grew, so nothing is watered.",
    ),
    (
        notes.SeasonNotReplayed("tomato", dt.date(2025, 5, 10)),
        "None of these days is in the season of the tomato planted on 10 May 2025. Nothing grew, so nothing "
        "is watered.",
    ),
    (
        described.SoilFullOnUnused(dt.date(2026, 1, 1), "before-the-weather"),
        "The soil is said to be full on 1 January, but no weather is known so far back. It does not count.",
    ),
    (
        described.SoilFullOnUnused(dt.date(2026, 8, 1), "after-the-date"),
        "The soil is said to be full on 1 August, which is later than this plan. It does not count yet.",
    ),
    (notes.WarmHours(5.0), "It is watered in hours that stay above 5 °C for three hours more."),
    (
        notes.WindUnknown(4.0),
        "The forecast has no wind by the hour, so the wind limit of 4 m/s could not be kept.",
    ),
    (
        notes.WindUnknownInThePast(4.0, 1),
        "On 1 day of watering the wind by the hour is not known, so the limit of 4 m/s could not be kept.",
    ),
    (
        notes.WindUnknownInThePast(4.5, 12),
        "On 12 days of watering the wind by the hour is not known, so the limit of 4.5 m/s could not be "
        "kept.",
    ),
    (
        notes.WarmHoursUnknown(1),
        "These days have no hours, so no run could move to a warm one. 1 day of frost was left out.",
    ),
    (
        notes.WarmHoursUnknown(40),
        "These days have no hours, so no run could move to a warm one. 40 days of frost were left out.",
    ),
    (
        notes.WindyButNeeded(4.0, 5.04),
        "Every permitted hour has more wind than 4 m/s, but the plants could not wait. They are watered in "
        "the calmest hours, at up to 5 m/s.",
    ),
    # Notes on weather and hours.
    (
        weather.EvapotranspirationDiffers(TUESDAY, 3.1, 5.44),
        "For Tuesday the weather source has 3.1 mm of evaporation, this plan 5.4 mm. See whether the "
        "garden's place and height are right.",
    ),
    (
        weather.HoursAssumed(TUESDAY, 1),
        "The first hour of Tuesday had passed when the weather was first asked for. The plan takes the next "
        "day's in their place, without rain.",
    ),
    (
        weather.HoursAssumed(TUESDAY, 9),
        "The first 9 hours of Tuesday had passed when the weather was first asked for. The plan takes the "
        "next day's in their place, without rain.",
    ),
    (
        weather.HoursClosed(TUESDAY, "22:00", "sunrise", "by-the-sun"),
        "The hours from 22:00 to sunrise are closed on Tuesday, because by the sun they would end before "
        "they begin.",
    ),
    (
        weather.HoursClosed(TUESDAY, "02:00", "03:00", "no-length"),
        "The hours from 02:00 to 03:00 are closed on Tuesday, because they have no length.",
    ),
    (weather.NoHoursLeft(TUESDAY), "No watering hours are left for Tuesday."),
    (
        weather.KeptDays(dt.datetime(2026, 6, 13, 18, 0, tzinfo=dt.UTC), dt.date(2026, 6, 12), 1.2),
        "No weather has come since 18:00 UTC on 13 June. The plan goes by the mean of the days up to 12 "
        "June, counts on no rain, and expects nights down to 1.2 °C.",
    ),
    (
        weather.KeptDays(None, dt.date(2026, 6, 12), 10.0),
        "There is no forecast. The plan goes by the mean of the days up to 12 June, counts on no rain, and "
        "expects nights down to 10 °C.",
    ),
    (weather.NoSunTime("sunrise", dt.time(6)), "The sun does not rise on these days, so 06:00 is used."),
    (weather.NoSunTime("sunset", dt.time(0)), "The sun does not set on these days, so 00:00 is used."),
    (
        weather.OldForecast(dt.datetime(2026, 6, 14, 0, 0, tzinfo=dt.UTC), 0.2),
        "No weather has come since 00:00 UTC on 14 June. The plan lets plants use 20 % more, in case it gets "
        "hotter.",
    ),
    (
        weather.PastFromForecasts(1, 30),
        "1 of the last 30 days is known from forecasts only. Rain of such days counts by its chance.",
    ),
    (
        weather.PastFromForecasts(2, 30),
        "2 of the last 30 days are known from forecasts only. Rain of such days counts by its chance.",
    ),
    (
        weather.RainDistrusted("open-meteo", 40.0, dt.date(2026, 5, 1), 18.0, 0.55),
        "Since 1 May the forecast of open meteo promised 40.0 mm of rain, and 18.0 mm came. So its rain "
        "counts for 55 %.",
    ),
    (
        weather.WeatherBeginsLate(dt.date(2026, 6, 1)),
        "Not all weather before 1 June is known. How dry the soil was then is a guess.",
    ),
    # Notes on probes.
    (
        probes.MovedByProbe(TUESDAY - DAY, ("bed-north",), 3.2),
        "Probe bed north found the soil 3.2 mm drier than reckoned on 15 June.",
    ),
    (
        probes.MovedByProbe(TUESDAY - DAY, ("p1", "p2"), -1.0),
        "Probes p1 and p2 found the soil 1.0 mm wetter than reckoned on 15 June.",
    ),
    (
        probes.MovedByProbe(TUESDAY - DAY, (), 1.0),
        "What probes taught before makes the soil of 15 June 1.0 mm drier than reckoned.",
    ),
    (
        probes.ProbeDoubtful("p1", probes.ProbeNotFollowed(TUESDAY, probes.BecameWetter(12.0))),
        "Probe p1 has not been followed since 16 June: it became 12.0 mm wetter, and no such water came.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.BecameDrier(12.0)),
        "The account has not followed it since 16 June: it became 12.0 mm drier, faster than soil dries.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.ReadTheSame(dt.date(2026, 6, 9), 6.0)),
        "The account has not followed it since 16 June: it has read the same since 9 June, while the water "
        "in the soil moved by 6.0 mm.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.NoSoilHolds(0.0, is_of_store=False)),
        "The account has not followed it since 16 June: it reads 0 % water by volume, which no soil holds.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.NoSoilHolds(2.5, is_of_store=True)),
        "The account has not followed it since 16 June: it reads 250 % of what roots can draw, which no soil "
        "holds.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.NoSoilHolds(1e300, is_of_store=True)),
        "The account has not followed it since 16 June: it reads what no soil holds.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.BelowRoots(0.3, 0.15)),
        "The account has not followed it since 16 June: it sits 30 cm deep, below roots of 15 cm.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.BarelyMoves(0.1)),
        "The account has not followed it since 16 June: it moves by 10 % of what the water in the soil does.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.BarelyMoves(-0.1)),
        "The account has not followed it since 16 June: it does not move with the water in the soil.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.AtOdds(-7.0)),
        "The account has not followed it since 16 June: it reads 7.0 mm wetter than the account, more than "
        "both should err.",
    ),
    (
        probes.ProbeFollowed(dt.date(2025, 12, 31), 2.0),
        "The account has followed it since 31 December 2025, and takes it to read 2.0 mm too dry.",
    ),
    (probes.ProbeFollowed(dt.date(2026, 6, 1), 0.04), "The account has followed it since 1 June."),
    # What a check finds.
    (
        findings.AbsenceByHand(14, 1),
        "It is watered by hand, but you are away for 14 days. Filled up, it lasts about 1 day in summer.",
    ),
    (
        findings.AbsenceOver(dt.date(2026, 6, 1), dt.date(2026, 6, 8)),
        "It was from 1 June to 8 June, and is over.",
    ),
    (
        findings.AbsencesOverlap(JULY_2, THURSDAY, JULY_2 + DAY),
        "It begins on 2 July, before the one from 18 June to 3 July ends.",
    ),
    (
        findings.CannotLastBetweenDays(7, 0.24, are_two_rules=False),
        "Its watering days leave up to 7 days between them. In summer its plants could then draw only 24 % "
        "of the water they need.",
    ),
    (
        findings.CannotLastBetweenDays(21, 0.004, are_two_rules=True),
        "Its weekdays and odd or even dates together leave up to 21 days between them. In summer its plants "
        "could then draw hardly any of the water they need.",
    ),
    (
        findings.ContainerCannotLast(12.0, 9.6, 1, 0.4, has_two_spans=False),
        "It holds 12.0 mm for its roots, and a hot day takes 9.6 mm. Watered every day, its plants get only "
        "40 % of the water they need.",
    ),
    (
        findings.ContainerCannotLast(12.0, 9.6, 3, 0.4, has_two_spans=True),
        "It holds 12.0 mm for its roots, and a hot day takes 9.6 mm. Watered every 3 days, its plants get "
        "only 40 % of the water they need.",
    ),
    (
        findings.EfficiencyAbovePublished(0.95, 0.9, 0.8),
        "Its efficiency is 0.95, but the best that is published for this way of watering is 0.9. The plants "
        "would get less than the account says.",
    ),
    (
        findings.FlowBelowMeter(4.0, 5.0),
        "It takes 4 litres a minute, but its meter counts from 5 on. So the valve closes by time, and "
        "reports too little.",
    ),
    (
        findings.HoursNeverOpen(),
        "The watering hours are closed all year, because they would end before they begin.",
    ),
    (
        findings.HoursSometimesClosed((5, 6, 7)),
        "In May, June and July some hours are closed, because by the sun they would end before they begin.",
    ),
    (
        findings.AllZonesTooLong(32400.0, dt.date(2026, 6, 24), 3600.0),
        "In hot weather all zones together need 9 hours a night. The hours of 24 June last only 60 minutes.",
    ),
    (
        findings.NeverWatered(TUESDAY, dt.date(2027, 6, 15), are_all_paused=True),
        "Pauses cover every day from 16 June to 15 June 2027, so it is never watered.",
    ),
    (
        findings.NeverWatered(TUESDAY, dt.date(2027, 6, 15), are_all_paused=False),
        "Pauses cover every watering day from 16 June to 15 June 2027, so it is never watered.",
    ),
    (
        findings.PlantsDifferInSummer("lettuce", 0.4, "shrub border", 11.0),
        "In summer a full soil lasts the lettuce about 1 day, the shrub border 11 days. What suits the one "
        "is too much for the other.",
    ),
    (
        findings.RateAboveIntake(24.0, 8.0, 0.54, 1260.0, 2640.0, 2, 2220.0),
        "Water arrives at 24 mm an hour, and this ground on its slope of 8 % takes in 0.5. It would run off "
        "after 21 minutes, and one refill takes 44 minutes.",
    ),
    (
        findings.RunLongerThanHours(3720.0, JULY_2, 3600.0),
        "One refill takes 62 minutes, but the hours of 2 July last only 60 minutes.",
    ),
    (
        findings.RunLongerThanHours(3610.0, JULY_2, 3600.0),
        "One refill takes 60.2 minutes, but the hours of 2 July last only 60 minutes.",
    ),
    (
        findings.SmallestDepthLarge(15.0, 20.0),
        "Its smallest dose is 15.0 mm, but its roots can easily draw only 20.0 mm. That leaves little room "
        "for rain.",
    ),
    # What alerts are about.
    (
        alerts.ValveNotShut(EARLY, EARLY + dt.timedelta(minutes=20), contact_was_lost=False),
        "A run that began at 05:02 should have ended by 05:22 on Tuesday. Nobody has said that the valve is "
        "shut.",
    ),
    (
        alerts.ValveNotShut(MIDNIGHT - dt.timedelta(minutes=1), MIDNIGHT, contact_was_lost=True),
        "A run that began at 23:59 on Wednesday should have ended by 00:00 on Thursday. Contact was lost, "
        "and nobody has said that the valve is shut.",
    ),
    (
        alerts.OpenByItsWord(dt.datetime(2026, 6, 14, 5, 2, tzinfo=dt.UTC)),
        "The valve was said to be open at 05:02 on 14 June, but no run is under way.",
    ),
    (
        alerts.FrostAhead(-1.3, MIDNIGHT),
        "It may get as cold as -1.3 °C at 00:00 on Thursday. On the ground it can be some degrees colder.",
    ),
    (
        alerts.CannotKeepAlive(0.4, why.HoursFull()),
        "Its plants could draw only 40 % of the water they need, and the next plan cannot help them. The "
        "watering hours are too short for all zones that need water.",
    ),
    (
        alerts.CannotKeepAlive(0.0, notes.CannotLast(TUESDAY, TUESDAY)),
        "Its plants could draw hardly any of the water they need, and the next plan cannot help them. Even "
        "if filled up, this zone will be short of water later on Tuesday.",
    ),
    (
        alerts.UnderDelivered(4, 280.0, 600.0),
        "The last 4 runs gave 280 of the 600 litres planned, 47 %.",
    ),
    (
        alerts.NoReports(2, 1600.4, counted_l=1600.4),
        "The last 2 runs were not reported. The account takes their 1,600 litres as given.",
    ),
    (
        alerts.NoReports(4, 600.0, counted_l=0.0),
        "The last 4 runs were not reported. The account takes none of their 600 litres as given.",
    ),
    (
        alerts.NoReports(3, 600.0, counted_l=200.0),
        "The last 3 runs were not reported. The account takes 200 litres of their 600 litres as given.",
    ),
    (
        alerts.TurnNotClosed(522.0, EARLY, EARLY + dt.timedelta(minutes=49)),
        "A turn for 522 litres was given at 05:02 on Tuesday, and nobody has reported what flowed. Its valve "
        "had to be shut by 05:51 on Tuesday.",
    ),
    (
        alerts.NobodyAsked(1, "balcony troughs", 35.9, 36.0),
        "Last night nobody asked for water. In balcony troughs, plants have used 35.9 of the 36.0 mm they "
        "can draw.",
    ),
    (
        alerts.NobodyAsked(3, "balcony troughs", 35.9, 36.0),
        "For 3 nights nobody has asked for water. In balcony troughs, plants have used 35.9 of the 36.0 mm "
        "they can draw.",
    ),
    (
        runs.TurnCameLate(231.4, 522.0),
        "Its turn came late. The hours have time for 231 litres of its 522 litres.",
    ),
    (
        alerts.ForecastOld(EARLY, plans_go_on=True),
        "The newest weather is from 05:02 on Tuesday. Plans go by what it said.",
    ),
    (
        alerts.ForecastOld(EARLY, plans_go_on=False),
        "The newest weather is from 05:02 on Tuesday. There are no plans.",
    ),
    (
        alerts.NeverAnswered(("open-meteo", "dwd")),
        "No weather has come yet from open meteo or dwd. There are no plans.",
    ),
    (
        alerts.AllowanceNearlySpent(950.0, 1000.0, "week", dt.date(2026, 6, 21)),
        "950 of this week's 1,000 litres are used. The 50 litres left must last to the end of Sunday.",
    ),
    (
        alerts.AllowanceNearlySpent(1000.5, 1000.0, "month", dt.date(2026, 6, 30)),
        "All of this month's 1,000 litres are used. Nothing is left until the end of 30 June.",
    ),
    (
        alerts.BatteryLow(0.196, 0.2),
        "The valve's battery has 19 % left. Below 20 % it may fail.",
    ),
    (
        alerts.BatteryLow(0.12, 0.2),
        "The valve's battery has 12 % left. Below 20 % it may fail.",
    ),
]


IN_US_UNITS: list[tuple[Told, str]] = [
    (
        why.SoilDryingOut(used(8.6), chance()),
        "Roots have used 0.34 of the 0.35 inches they can draw easily, and will use about 0.17 inches more "
        "before Thursday, the next day it can be watered.",
    ),
    (
        why.SoilDryingOut(used(9.1), chance(0.1)),
        "Roots have used all 0.35 inches they can draw easily, and will use less than 0.01 inches more "
        "before Thursday, the next day it can be watered.",
    ),
    (why.FrostRisk(4.9, 5.0), "The forecast goes down to 40.8 °F, below the frost limit of 41 °F."),
    (
        why.TooWindy(4.0, 4.6),
        "Even the calmest permitted hour has wind of 10.3 miles an hour, above the limit of 8.9 miles an "
        "hour. The plants can wait.",
    ),
    (
        why.AllowanceSpent(1500.0, "week"),
        "The 396 gallons allowed for the week are not enough for all zones that need water.",
    ),
    (
        notes.CycleAndSoak(14.0, 5.08, 2664.0, 2820.0),
        "Water arrives at 0.55 inches an hour and this soil takes in 0.20. It is given in runs of at most 44 "
        "minutes, with a rest of 47 minutes between them, so that it does not run off.",
    ),
    (
        described.RateUnusual(3.785411784, 60.0, 8.0, 43.2),
        "1 gallon a minute over 646 square feet is 0.31 inches an hour, but 1.70 is usual here. The flow or "
        "the area may be wrong.",
    ),
    (
        probes.ProbeNotFollowed(TUESDAY, probes.BelowRoots(0.3, 0.15)),
        "The account has not followed it since 16 June: it sits 12 inches deep, below roots of 6 inches.",
    ),
]
"""The conversions are those of NIST SP 811: inch 25.4 mm, US gallon 3.785412 l, mile 1609.344 m."""


@pytest.mark.parametrize(("told", "sentence"), SENTENCES)
def test_every_code_has_its_sentence(told: Told, sentence: str) -> None:
    assert told.sentence(READER) == sentence


@pytest.mark.parametrize(("told", "sentence"), IN_US_UNITS)
def test_a_garden_in_us_units_is_told_in_them(told: Told, sentence: str) -> None:
    assert told.sentence(IN_THE_US) == sentence


def kinds_below(kind: type[Told]) -> Iterator[str]:
    """Names of the classes that have a sentence."""
    for below in kind.__subclasses__():
        if not inspect.isabstract(below):
            yield below.__name__
        yield from kinds_below(below)


def parts(told: object) -> Iterator[object]:
    """A fact, and the facts that it is made of."""
    yield told
    if is_dataclass(told):
        for field in fields(told):
            yield from parts(getattr(told, field.name))


def test_no_code_is_without_an_entry() -> None:
    told = {type(part).__name__ for fact, _ in SENTENCES for part in parts(fact)}
    assert set(kinds_below(Told)) - told == set()


def test_every_kind_is_in_the_table_of_its_codes() -> None:
    """What a plan, a check or an alert can tell has an explanation."""
    known = {kind: set(tables.codes(kind)) for kind in tables.KINDS}
    reasons = known["reasons"] | known["run-reasons"]
    for told, _ in SENTENCES:
        if isinstance(told, Reason):
            assert told.code in reasons
        elif isinstance(told, Note):
            assert told.code in known["notes"]
        elif isinstance(told, Odd):
            assert told.code in known["findings"]


def test_codes_are_told_once_in_their_tables() -> None:
    for kind in tables.KINDS:
        codes = tables.codes(kind)
        assert len(codes) == len(set(codes))


def test_every_code_is_explained_in_whole_sentences() -> None:
    for kind in tables.KINDS:
        for row in tables.rows(kind):
            assert 0 < len(row.when.split()) <= 25, row  # a cell of a table, read at a glance
            assert row.means.endswith("."), row
            assert row.do.endswith("."), row


ALL = [told.sentence(Words(TUESDAY, units)) for told, _ in SENTENCES for units in UNITS]
"""Every sentence, in every system of units."""
WEEKDAY = re.compile(r"\b(Mon|Tues|Wednes|Thurs|Fri|Satur|Sun)day\b")
DATED = re.compile(r"\b\d{1,2} (January|February|March|April|May|June|July|August|September|October|Nov|Dec)")


def test_no_sentence_has_an_id_or_the_name_of_a_field() -> None:
    assert [sentence for sentence in ALL if re.search(r"\w_\w|[a-z]-[a-z]|`", sentence)] == []


def test_what_to_do_about_an_alert_has_no_name_of_a_field() -> None:
    """It is read on a phone at night, not beside the document."""
    assert [row.code for row in tables.rows("alerts") if re.search(r"\w_\w|`", row.means + row.do)] == []


def test_no_sentence_has_two_styles_of_date() -> None:
    assert [sentence for sentence in ALL if re.search(r"\d{4}-\d\d|\b\d\d-\d\d\b", sentence)] == []
    assert [sentence for sentence in ALL if WEEKDAY.search(sentence) and DATED.search(sentence)] == []


def test_no_sentence_tells_of_nothing_with_a_point() -> None:
    assert [sentence for sentence in ALL if re.search(r"(?<![\d.])-?0\.0+(?!\d)", sentence)] == []


def test_a_text_has_at_most_two_sentences() -> None:
    assert [sentence for sentence in ALL if len(re.findall(r"[.!?](?:\s|$)", sentence)) > 2] == []


def test_reasons_notes_and_alerts_are_plain_english() -> None:
    """Flesch reading ease, by a library; 60 to 70 is plain English (Flesch 1949, How to write plain "
    "English)."""
    prose = " ".join(sentence for told, sentence in SENTENCES if not isinstance(told, Odd))
    assert textstat.flesch_reading_ease(prose) >= 65.0


def test_days_of_the_coming_week_have_names_and_others_dates() -> None:
    assert READER.day(TUESDAY + 6 * DAY) == "Monday"
    assert READER.day(TUESDAY + 7 * DAY) == "23 June"
    assert READER.day(TUESDAY - DAY) == "15 June"
    assert Words(dt.date(2026, 12, 30)).day(dt.date(2027, 1, 10)) == "10 January 2027"
    assert Words().day(TUESDAY) == "16 June 2026"


@given(
    depletion_mm=st.floats(0.0, 80.0),
    raw_mm=st.floats(0.05, 80.0),
    use_mm=st.floats(0.0, 60.0),
    units=st.sampled_from(UNITS),
)
def test_what_is_used_of_the_easy_water_reads_true_after_rounding(
    depletion_mm: float, raw_mm: float, use_mm: float, units: Units
) -> None:
    told = why.SoilDryingOut(used(depletion_mm, raw_mm), chance(use_mm)).sentence(Words(TUESDAY, units))
    assert not re.search(r"(?<![\d.])0\.0+(?!\d)", told)
    part = re.search(r"have used ([\d.]+) of the ([\d.]+) ", told)
    if part is not None:
        assert 0.0 < float(part[1]) < float(part[2])
    over = re.search(r"easily and (less than )?([\d.]+) ", told)
    assert over is None or depletion_mm > raw_mm


@given(st.floats(0.0, 50.0), st.floats(0.0, 50.0), st.sampled_from(UNITS))
def test_a_wind_above_its_limit_looks_so(one_m_s: float, other_m_s: float, units: Units) -> None:
    """Down to a hundredth of a metre a second."""
    limit_m_s, calmest_m_s = sorted((round(one_m_s, 2), round(other_m_s, 2)))
    told = why.TooWindy(limit_m_s, calmest_m_s).sentence(Words(TUESDAY, units))
    calmest, limit = (float(number) for number in re.findall(r"([\d.]+) (?:m/s|miles)", told))
    assert calmest > limit or limit_m_s == calmest_m_s
