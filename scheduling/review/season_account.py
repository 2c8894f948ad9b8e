"""What a season did with one zone's water, added up day by day."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.ledger import ledger_row
from scheduling.balance.soil_water import LedgerRow, close_day
from scheduling.balance.stand import PreparedZone
from scheduling.zone.surface_layer import LayerDay, TopLayerDays, TopLayerState

NOTICED_KS = 0.9
"""A day that closes with less is counted apart: a gardener might notice. Our choice, no source."""


@dataclass(frozen=True, slots=True)
class Account:
    """A season of one zone. Depths are over the zone's area. [mm]

    closing_depletion = opening_depletion - infiltrated_rain - irrigation + etc_adj + fallow_et
    + drainage + adjustment, always.
    """

    opening_depletion_mm: float
    rain_mm: float
    """What fell on the zone, after its rain share."""
    runoff_mm: float
    infiltrated_rain_mm: float
    """What counted in the balance: light rain does not."""
    irrigation_mm: float
    """What reached the roots."""
    irrigation_gross_mm: float
    volume_l: float
    """What the valve passed."""
    runs: int
    etc_mm: float
    """What the plants wanted in their season."""
    etc_adj_mm: float
    """What they got of it."""
    fallow_et_mm: float
    """What evaporated outside their season; nobody is watered for it."""
    drainage_mm: float
    adjustment_mm: float
    closing_depletion_mm: float
    stress_days: int
    """Days that close above RAW."""
    days_below_ks_90: int
    """Days that close with Ks below 0.9."""
    ks_min: float
    """The lowest Ks with which a day closes."""

    @property
    def stress_mm(self) -> float:
        """Evapotranspiration that was missed for want of water."""
        return self.etc_mm - self.etc_adj_mm

    @property
    def adequacy(self) -> float:
        """Share of the wanted evapotranspiration that took place; 1 where none was wanted."""
        return self.etc_adj_mm / self.etc_mm if self.etc_mm > 0.0 else 1.0

    def excess_over(self, least_mm: float) -> float | None:
        """Water beyond a least one, as a share of it; None where that is nothing."""
        return self.irrigation_mm / least_mm - 1.0 if least_mm > 0.0 else None


def together(accounts: Sequence[Account], shares: Sequence[float]) -> Account:
    """The account of a zone from those of its plantings: depths by their shares of the ground.

    Days of want and the lowest Ks are those of the planting that had most of it.
    """
    if len(accounts) == 1:
        return accounts[0]
    depths = {
        column.name: sum(
            share * getattr(account, column.name) for account, share in zip(accounts, shares, strict=True)
        )
        for column in fields(Account)
    }
    return Account(
        **{
            **depths,
            "runs": accounts[0].runs,
            "stress_days": max(account.stress_days for account in accounts),
            "days_below_ks_90": max(account.days_below_ks_90 for account in accounts),
            "ks_min": min(account.ks_min for account in accounts),
        }
    )


@dataclass(slots=True)
class Tally:
    """An account while its season runs."""

    opening_mm: float
    keeps_rows: bool = False
    surface: TopLayerState | None = None
    """With the dual coefficient, how the next day finds the soil's surface."""
    runs: int = 0
    """Openings of the valve, counted by the caller."""
    rows: list[LedgerRow] = field(default_factory=list)
    depletion_mm: float = field(init=False)
    net_by_day: dict[int, float] = field(default_factory=dict)
    _rain_mm: float = 0.0
    _runoff_mm: float = 0.0
    _infiltrated_mm: float = 0.0
    _net_mm: float = 0.0
    _etc_mm: float = 0.0
    _etc_adj_mm: float = 0.0
    _fallow_mm: float = 0.0
    _drainage_mm: float = 0.0
    _adjustment_mm: float = 0.0
    _stress_days: int = 0
    _days_below_ks_90: int = 0
    _ks_min: float = 1.0

    def __post_init__(self) -> None:
        self.depletion_mm = self.opening_mm

    def close(self, day: int, net_mm: float, prepared: PreparedZone, season: GardenDays) -> None:
        """Let a day come as it was, with so much water beside the rain.

        `day` is its place in the columns.
        """
        zone = prepared.days
        taw, raw, rain = zone.taw_mm[day], zone.raw_mm[day], zone.certain_rain_mm[day]
        dried, etc, evaporation = None, zone.etc_mm[day], 0.0
        if zone.top_layer is not None:
            dried = self._dried(day, net_mm, zone.top_layer)
            etc, evaporation = zone.top_layer.etc_mm(day, dried), dried.evaporation_mm
        opening = self.depletion_mm
        adjustment = min(0.0, taw - opening)
        _, etc_adj, drainage, closing = close_day(
            opening + adjustment,
            rain,
            net_mm,
            etc,
            taw,
            raw,
            evaporation_mm=evaporation,
        )
        fallen = prepared.numbers.rain_share * season.certain_rain_mm[day]
        self.depletion_mm = closing
        self._rain_mm += fallen
        self._runoff_mm += zone.runoff_mm[day]
        self._infiltrated_mm += rain
        self._net_mm += net_mm
        self._drainage_mm += drainage
        self._adjustment_mm += adjustment
        if zone.dormant[day]:
            self._fallow_mm += etc_adj
        else:
            self._etc_mm += etc
            self._etc_adj_mm += etc_adj
            self._stress_days += closing > raw + 1e-9
            self._days_below_ks_90 += taw - closing < NOTICED_KS * (taw - raw)
            # At the end of the day, as the days of stress are counted.
            self._ks_min = min(self._ks_min, max(0.0, (taw - closing) / (taw - raw)))
        if self.keeps_rows:
            self.rows.append(ledger_row(day, opening, net_mm, prepared, season, dried=dried))

    def _dried(self, day: int, net_mm: float, layer: TopLayerDays) -> LayerDay:
        """What the soil's surface did, wetted by so much."""
        dried = layer.on_day(day, net_mm, layer.layer.dry if self.surface is None else self.surface)
        self.surface = dried.closing
        if net_mm > 0.0:
            self.net_by_day[day] = net_mm
        return dried

    def account(self, prepared: PreparedZone) -> Account:
        """What came of it."""
        gross_mm = self._net_mm / prepared.numbers.efficiency
        entered_mm = prepared.numbers.with_leaching_mm(self._net_mm)
        return Account(
            opening_depletion_mm=self.opening_mm,
            rain_mm=self._rain_mm,
            runoff_mm=self._runoff_mm,
            infiltrated_rain_mm=self._infiltrated_mm,
            irrigation_mm=entered_mm,
            irrigation_gross_mm=gross_mm,
            volume_l=gross_mm * prepared.numbers.zone.area_m2,
            runs=self.runs,
            etc_mm=self._etc_mm,
            etc_adj_mm=self._etc_adj_mm,
            fallow_et_mm=self._fallow_mm,
            drainage_mm=self._drainage_mm + entered_mm - self._net_mm,
            adjustment_mm=self._adjustment_mm,
            closing_depletion_mm=self.depletion_mm,
            stress_days=self._stress_days,
            days_below_ks_90=self._days_below_ks_90,
            ks_min=self._ks_min,
        )
