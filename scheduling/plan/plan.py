"""What each zone of a garden gets for one date."""

import datetime as dt
from dataclasses import dataclass
from typing import Literal

from scheduling.balance.soil_water import LedgerRow
from scheduling.garden.reports import Opening
from scheduling.probes.status import JudgedReading, ProbeStanding
from scheduling.reasons import CloseBy, Decision, Note, Reason
from scheduling.reasons.words import Units

History = Literal["known", "assumed"]


@dataclass(frozen=True, slots=True)
class Run:
    """One opening of one valve, with limits that the valve itself can enforce."""

    id: str
    start: dt.datetime
    volume_l: float
    """A metered valve closes here."""
    run_time_s: int
    """A valve without a meter closes here; with one, the time to expect."""
    max_open_s: int
    """Any valve closes here at the latest."""


@dataclass(frozen=True, slots=True)
class SoilWater:
    """The root zone at the start of the plan's date, before any water that belongs to it."""

    depletion_mm: float
    readily_available_mm: float
    total_available_mm: float


@dataclass(frozen=True, slots=True)
class PlantPlan:
    """One of several plantings of a zone."""

    plant: str
    share: float
    """Of the zone's ground."""
    soil_water: SoilWater
    ledger: tuple[LedgerRow, ...] | None = None
    """The days behind it, where they were asked for."""


@dataclass(frozen=True, slots=True)
class DayAhead:
    """A zone's account of one date to come, by the rain that is counted and the water that is planned."""

    date: dt.date
    rain_mm: float
    irrigation_mm: float
    """What reaches the roots."""
    closing_depletion_mm: float
    readily_available_mm: float
    total_available_mm: float


@dataclass(frozen=True, slots=True)
class ZonePlan:
    """What one zone gets, and why."""

    zone: str
    name: str
    decision: Decision
    volume_l: float
    run_time_s: int
    delivered_l: float
    close_by: CloseBy
    runs: tuple[Run, ...]
    reasons: tuple[Reason, ...]
    soil_water: SoilWater
    net_mm: float
    gross_mm: float
    room_mm: float
    notes: tuple[Note, ...] = ()
    ledger: tuple[LedgerRow, ...] | None = None
    """The days behind it, where they were asked for; of several plantings each has its own."""
    plants: tuple[PlantPlan, ...] = ()
    """Where several plantings share the ground, each of them; `soil_water` is then that of the one
    that the reason speaks of."""
    dry_on: dt.date | None = None
    """The date on which the easily available water would be used up without any watering, by the rain that
    is counted; None: not within the days looked at."""
    leader: int = 0
    """Place of that planting among them."""
    ahead: tuple[DayAhead, ...] = ()
    """The plan's date and those of the outlook, for that planting."""
    adjustment_mm: float = 0.0
    """By how much probes moved the depletion on the day before the date; above 0, to drier."""
    probes: tuple[ProbeStanding, ...] = ()
    """The zone's soil probes, as far as there are any."""
    readings: tuple[JudgedReading, ...] = ()
    """What became of each of their readings, in order."""
    windows: tuple[tuple[tuple[int, int], ...], ...] = ()
    """When water may flow to it, by bans, cold and wind: for each span of the hours its stretches, in
    whole seconds of Unix time."""
    is_pressing: bool = False
    """Without water, its plants would get less than 70 % of what they want before the next chance."""


@dataclass(frozen=True, slots=True)
class MainValve:
    """When the main valve is open, and beyond which limits something is stuck or leaking."""

    opens_at: dt.datetime
    closes_at: dt.datetime
    max_open_s: int
    max_volume_l: float


@dataclass(frozen=True, slots=True)
class OutlookDate:
    """What a later date would bring if nothing new were learned."""

    date: dt.date
    volume_l: float
    zones: dict[str, float]


@dataclass(frozen=True, slots=True)
class WeatherUsed:
    """The weather a plan for one date stands on."""

    t_min_c: float | None
    t_max_c: float | None
    lowest_c: float | None
    """Lowest temperature from the opening of the watering hours to the end of the date."""
    eto_mm: float
    rain_mm: float | None
    rain_probability: float | None
    counted_rain_mm: float
    """The part of the date's rain that the plan relies on, before any zone's own share."""
    estimated: tuple[str, ...]
    """What FAO-56's substitutes stand for: "solar_radiation", "humidity", "wind", "rain"; or, of an
    assumed day, "evapotranspiration"."""
    rain_trust_share: float = 1.0
    """Part of the counted rain to rely on, by what the source's earlier promises came to; it is in
    `counted_rain_mm`."""
    source_eto_mm: float | None = None
    """The source's own reckoning of `eto_mm`."""
    sources: tuple[tuple[str, str], ...] = ()
    """Each quantity that was not estimated, and the source it is from."""


@dataclass(frozen=True, slots=True)
class Plan:
    """The zones of a garden for one date; a zone that waits is listed with 0 litres."""

    garden: str
    date: dt.date
    history: History
    volume_l: float
    main_valve: MainValve | None
    weather: WeatherUsed
    zones: tuple[ZonePlan, ...]
    state: Opening
    outlook: tuple[OutlookDate, ...]
    notes: tuple[Note, ...] = ()
    units: Units = "metric"
    """Those of its sentences."""

    @property
    def probes(self) -> tuple[ProbeStanding, ...]:
        """The soil probes of all zones."""
        return tuple(probe for zone in self.zones for probe in zone.probes)
