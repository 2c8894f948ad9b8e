"""A zone's account from where it begins to the plan's date."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Final, NamedTuple

from scheduling.balance import BY_BOTH, BY_PROBE, BY_ROOTS, LedgerRow, carry
from scheduling.decision import decide_together
from scheduling.prepared import PreparedZone
from scheduling.season import GardenDays
from scheduling.top_layer import TopLayerState
from scheduling.zone_days import ZoneDays

OPENING_SHARE_OF_RAW = 0.5
"""A ledger of which nothing is known opens half-way to the point where plants begin to lack water."""

NOTHING_ADJUSTED: Final[Mapping[int, float]] = MappingProxyType({})


class Start(NamedTuple):
    """Where a ledger begins."""

    day: int
    """Place in the columns."""
    depletion_mm: float
    top_layer: TopLayerState | None = None
    """How the day finds the soil's surface; None: dry, as where nobody knows."""


def opening_guess_mm(zone: ZoneDays) -> float:
    """Depletion on the first day of a zone of which nothing is known: half of RAW. [mm]"""
    return OPENING_SHARE_OF_RAW * zone.raw_mm[0]


def first_guess(until: int, stands: Sequence[PreparedZone], garden: GardenDays) -> dict[int, float]:
    """Net irrigation, by day, of a zone whose past is unknown, up to a day not included. [mm]

    Half of RAW is missing on the first day; from then on this tool's own plans are taken as
    carried out, each with the weather of its day known.
    """
    depletions = [opening_guess_mm(stand.days) for stand in stands]
    irrigation: dict[int, float] = {}
    for day in range(until):
        depletions = [
            min(depletion, stand.days.taw_mm[day])
            for depletion, stand in zip(depletions, stands, strict=True)
        ]
        net = decide_together(day, depletions, stands, garden).net_mm
        if net > 0.0:
            irrigation[day] = net
            stands = [stand.with_water({day: net}, day) for stand in stands]
        depletions = [
            stand.days.close(day, depletion, net)[3]
            for depletion, stand in zip(depletions, stands, strict=True)
        ]
    return irrigation


def knowing_its_water(stand: PreparedZone, start: Start, irrigation_mm: Mapping[int, float]) -> PreparedZone:
    """A stand whose columns know the watering from where its ledger begins."""
    layer = stand.numbers.top_layer
    if layer is None:
        return stand
    morning = start.top_layer if start.top_layer is not None else layer.dry
    return stand.with_water(irrigation_mm, start.day, morning)


def depletion_on(
    until: int,
    start: Start,
    irrigation_mm: Mapping[int, float],
    zone: ZoneDays,
    adjustment_mm: Mapping[int, float] = NOTHING_ADJUSTED,
) -> float:
    """Depletion on the morning of a day, before any water that belongs to it. [mm]

    `zone` knows of that water already, see `knowing_its_water`. `adjustment_mm` is what probes
    correct, by day.
    """
    if adjustment_mm:
        depletion = start.depletion_mm
        for day in range(start.day, until):
            opening = min(depletion, zone.taw_mm[day]) + adjustment_mm.get(day, 0.0)
            depletion = zone.close(day, opening, irrigation_mm.get(day, 0.0))[3]
        return min(depletion, zone.taw_mm[until])
    past = slice(start.day, until)
    depletion = carry(
        start.depletion_mm,
        zone.counted_rain_mm[past],
        [irrigation_mm.get(day, 0.0) for day in range(start.day, until)],
        zone.etc_mm[past],
        zone.taw_mm[past],
        zone.raw_mm[past],
        None if zone.evaporation_mm is None else zone.evaporation_mm[past],
    )
    return min(depletion, zone.taw_mm[until])


def ledger_rows(
    until: int,
    start: Start,
    irrigation_mm: Mapping[int, float],
    prepared: PreparedZone,
    garden: GardenDays,
    adjustment_mm: Mapping[int, float] = NOTHING_ADJUSTED,
) -> tuple[LedgerRow, ...]:
    """The same days as `depletion_on`, each as a row that closes."""
    numbers, zone = prepared.numbers, prepared.days
    rows = []
    depletion = start.depletion_mm
    for day in range(start.day, until):
        opening = depletion
        taw, raw, etc = zone.taw_mm[day], zone.raw_mm[day], zone.etc_mm[day]
        by_roots, by_probe = min(0.0, taw - opening), adjustment_mm.get(day, 0.0)
        adjustment = by_roots + by_probe
        irrigation = irrigation_mm.get(day, 0.0)
        rain = zone.counted_rain_mm[day]
        ks, etc_adj, drainage, depletion = zone.close(day, opening + adjustment, irrigation)
        rows.append(
            LedgerRow(
                date=garden.dates[day],
                opening_depletion_mm=opening,
                rain_mm=numbers.rain_share * (garden.certain_rain_mm[day] + garden.forecast_rain_mm[day]),
                runoff_mm=zone.runoff_mm[day],
                infiltrated_rain_mm=rain,
                irrigation_gross_mm=irrigation / numbers.efficiency,
                irrigation_mm=irrigation,
                eto_mm=garden.eto_mm[day],
                kc=zone.kc[day],
                ks=ks,
                etc_mm=etc,
                etc_adj_mm=etc_adj,
                drainage_mm=drainage,
                adjustment_mm=adjustment,
                closing_depletion_mm=depletion,
                taw_mm=taw,
                raw_mm=raw,
                adjustment_cause=_cause(by_roots, by_probe),
                **({} if zone.top_layer is None else zone.top_layer.in_row(day, etc_adj)),
            )
        )
    return tuple(rows)


def _cause(by_roots_mm: float, by_probe_mm: float) -> str | None:
    if by_probe_mm == 0.0:
        return BY_ROOTS if by_roots_mm else None
    return BY_BOTH if by_roots_mm else BY_PROBE
