"""Where ledgers begin, and where those of the next plan will."""

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.ledger import OPENING_SHARE_OF_RAW, Start, opening_guess_mm
from scheduling.balance.stand import PreparedZone
from scheduling.garden.description import Garden, Zone
from scheduling.garden.reports import Delivery, MorningReading, Opening, StandState
from scheduling.plan.evening import decide_evening
from scheduling.plan.zone_at_work import Stand, ZoneMorning
from scheduling.reasons import Note
from scheduling.reasons.description_notes import OpeningAssumed, SoilFullOnUnused
from scheduling.zone.metering import LearnedFlow
from scheduling.zone.surface_layer import WET, TopLayerState


@dataclass(frozen=True, slots=True)
class History:
    """Where the ledgers begin, and what has flowed since."""

    opening: Opening | None = None
    """Depletions to start from; None: a first guess, as if this tool's plans had been carried out."""
    opening_is_guess: bool = False
    """True where `opening` is itself a first guess, reckoned earlier."""
    deliveries: tuple[Delivery, ...] = ()
    """What has flowed or is planned to. Those before the ledgers begin count for allowances alone."""
    moisture: tuple[MorningReading, ...] = ()
    """What probes read on mornings up to the plan's date."""
    flows: Mapping[str, LearnedFlow] = field(default_factory=dict)
    """By zone id, the flow that its meter tells; without one, that of its description."""


def first_ledger(garden: Garden, opening: Opening) -> dt.date:
    """The first date that any zone's ledger can begin on, where an opening is given."""
    full = [zone.soil_full_on for zone in garden.zones if zone.soil_full_on is not None]
    return min((opening.date, *full))


class FirstGuess(NamedTuple):
    """What is guessed of a zone whose past is unknown."""

    irrigation_mm: dict[int, float]
    """Net, by day."""
    stands: Sequence[Stand]
    """On the morning after these days."""


def first_guess(until: int, stands: Sequence[PreparedZone], days: GardenDays) -> FirstGuess:
    """Guess a zone's past from the first of the days up to one not included.

    Half of RAW is missing on the first day; from then on this tool's own plans are taken as
    carried out, each with the weather of its day known.
    """
    on_morning = [Stand(prepared, opening_guess_mm(prepared.days)) for prepared in stands]
    irrigation: dict[int, float] = {}
    for day in range(until):
        (work,) = decide_evening(day, [ZoneMorning(on_morning)], days)
        if work.given_mm > 0.0:
            irrigation[day] = work.given_mm
        on_morning = [stand.after(day, work.given_mm) for stand in work.stands]
    return FirstGuess(irrigation, on_morning)


def starts_of(
    zone: Zone,
    stands: Sequence[PreparedZone],
    days: GardenDays,
    history: History,
    index: int,
    notes: list[Note],
) -> tuple[list[Start] | None, bool]:
    """Where a zone's ledgers begin, and whether that is a guess; None: guess from the first day on."""
    opening = history.opening
    full_on = zone.soil_full_on
    if full_on is not None and (opening is None or full_on >= opening.date or history.opening_is_guess):
        day = days.index(full_on)
        if 0 <= day <= index:
            return [Start(day, 0.0, WET)] * len(stands), False
        notes.append(SoilFullOnUnused(full_on, "before-the-weather" if day < 0 else "after-the-date"))
    if opening is None:
        return None, True
    depletion_mm = opening.depletion_mm.get(zone.id)
    day = days.index(opening.date)
    if depletion_mm is None:
        notes.append(OpeningAssumed(opening.date))
        return [Start(day, OPENING_SHARE_OF_RAW * stand.days.raw_mm[day]) for stand in stands], True
    given = opening.stands.get(zone.id, ())
    if len(given) != len(stands):
        given = (StandState(depletion_mm),) * len(stands)
    starts = [_start(day, stand, state) for stand, state in zip(stands, given, strict=True)]
    return starts, history.opening_is_guess or zone.id in opening.assumed


def _start(day: int, stand: PreparedZone, given: StandState) -> Start:
    """Where a stand's ledger begins that was told, cut to what its roots and its surface can lack."""
    layer, surface_mm = stand.numbers.top_layer, given.surface_depletion_mm
    morning = None
    if layer is not None and surface_mm is not None:
        share = layer.wetted_share if given.surface_wetted_share is None else given.surface_wetted_share
        morning = TopLayerState(min(surface_mm, layer.tew_mm), share)
    return Start(day, min(given.depletion_mm, stand.days.taw_mm[day]), morning)


def opening_of(
    date: dt.date,
    index: int,
    zones: Mapping[str, Sequence[Stand]],
    turns_without: dict[str, int] | None = None,
    turns_after: dict[str, int] | None = None,
) -> Opening:
    """The mornings of some zones, as a later plan starts from them."""
    return Opening(
        date,
        {
            zone: sum(stand.prepared.numbers.share * stand.depletion_mm for stand in stands)
            for zone, stands in zones.items()
        },
        turns_without or {},
        turns_after or {},
        {
            zone: tuple(_state_of(index, stand) for stand in stands)
            for zone, stands in zones.items()
            if len(stands) > 1 or stands[0].prepared.days.top_layer is not None
        },
    )


def _state_of(index: int, stand: Stand) -> StandState:
    layer = stand.prepared.days.top_layer
    if layer is None:
        return StandState(stand.depletion_mm)
    return StandState(stand.depletion_mm, *layer.mornings[index])
