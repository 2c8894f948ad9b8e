"""A zone's account from where it begins to the plan's date."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, NamedTuple

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import BY_BOTH, BY_PROBE, BY_ROOTS, LedgerRow, carry, close_day
from scheduling.balance.stand import PreparedZone
from scheduling.balance.zone_series import ZoneDays
from scheduling.zone.surface_layer import LayerDay, TopLayerState

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
    """A stand whose columns include the watering since the start of its ledger."""
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
    rows: list[LedgerRow] = []
    depletion = start.depletion_mm
    for day in range(start.day, until):
        irrigation, by_probe = irrigation_mm.get(day, 0.0), adjustment_mm.get(day, 0.0)
        rows.append(ledger_row(day, depletion, irrigation, prepared, garden, by_probe))
        depletion = rows[-1].closing_depletion_mm
    return tuple(rows)


def ledger_row(
    day: int,
    opening_mm: float,
    irrigation_mm: float,
    prepared: PreparedZone,
    garden: GardenDays,
    by_probe_mm: float = 0.0,
    dried: LayerDay | None = None,
) -> LedgerRow:
    """One day of a planting, as a row that closes.

    With the dual coefficient, `dried` is what the soil's surface did; None: as the columns have it.
    """
    numbers, zone = prepared.numbers, prepared.days
    kc, etc, taw, raw = zone.kc[day], zone.etc_mm[day], zone.taw_mm[day], zone.raw_mm[day]
    layer, evaporation = zone.top_layer, 0.0
    if layer is not None:
        dried = dried or layer.dried_on(day)
        kc, etc, evaporation = layer.kcb[day] + dried.ke, layer.etc_mm(day, dried), dried.evaporation_mm
    by_roots, rain = min(0.0, taw - opening_mm), zone.counted_rain_mm[day]
    adjustment = by_roots + by_probe_mm
    ks, etc_adj, drainage, closing = close_day(
        opening_mm + adjustment, rain, irrigation_mm, etc, taw, raw, evaporation_mm=evaporation
    )
    entered_mm = numbers.with_leaching_mm(irrigation_mm)
    row = LedgerRow(
        date=garden.dates[day],
        opening_depletion_mm=opening_mm,
        rain_mm=numbers.rain_share * (garden.certain_rain_mm[day] + garden.forecast_rain_mm[day]),
        runoff_mm=zone.runoff_mm[day],
        infiltrated_rain_mm=rain,
        irrigation_gross_mm=irrigation_mm / numbers.efficiency,
        irrigation_mm=entered_mm,
        eto_mm=garden.eto_mm[day],
        kc=kc,
        ks=ks,
        etc_mm=etc,
        etc_adj_mm=etc_adj,
        drainage_mm=drainage + entered_mm - irrigation_mm,
        adjustment_mm=adjustment,
        closing_depletion_mm=closing,
        taw_mm=taw,
        raw_mm=raw,
        adjustment_cause=_cause(by_roots, by_probe_mm),
    )
    if layer is None or dried is None:
        return row
    kcb, ke, eto_mm = layer.kcb[day], dried.ke, garden.eto_mm[day]
    if evaporation > etc_adj and eto_mm > 0.0:
        # An empty root zone cannot lose what the layer would have.
        evaporation = etc_adj
        ke = evaporation / eto_mm
    return row._replace(
        kc=kcb + ke,
        etc_mm=kcb * eto_mm + evaporation,
        kcb=kcb,
        ke=ke,
        evaporation_mm=evaporation,
        surface_depletion_mm=dried.closing.depletion_mm,
    )


def _cause(by_roots_mm: float, by_probe_mm: float) -> str | None:
    if by_probe_mm == 0.0:
        return BY_ROOTS if by_roots_mm else None
    return BY_BOTH if by_roots_mm else BY_PROBE
