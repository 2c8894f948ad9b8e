"""A zone's account from where it begins to the plan's date."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import BY_BOTH, BY_PROBE, BY_ROOTS, LedgerRow, carry
from scheduling.balance.stand import PreparedZone
from scheduling.balance.zone_series import ZoneDays
from scheduling.zone.surface_layer import TopLayerState

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
