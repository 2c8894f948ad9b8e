"""What water costs: prices per cubic metre that change with the years, may rise in steps, and the sewer.

Steps count what a garden takes in a calendar month, from its first litre on: what the house takes
beside it, nobody tells us. So a garden's water is priced as if it were the first of the month.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass

from scheduling.garden.description import Price, PriceStep, WaterSupply

LITRES_A_M3 = 1000.0


@dataclass(frozen=True, slots=True)
class Tariff:
    """Prices of one supply at one time, in its currency."""

    price_per_m3: float
    steps: tuple[PriceStep, ...] = ()
    """In the order of their volumes."""
    sewer_share: float = 0.0
    """Share of the water that is billed as waste water too."""
    sewer_price_per_m3: float | None = None
    """None: the water's own price."""

    def cost(self, volume_l: float, before_l: float = 0.0) -> float:
        """What so many litres cost, where others have flowed before them in the same month.

        Continuous, and never less for more litres.
        """
        water = self._of_water(before_l + volume_l) - self._of_water(before_l)
        if self.sewer_price_per_m3 is None:
            return water * (1.0 + self.sewer_share)
        return water + self.sewer_share * self.sewer_price_per_m3 * volume_l / LITRES_A_M3

    def _of_water(self, volume_l: float) -> float:
        """The first litres of a month, each at the price of its step."""
        volume_m3 = volume_l / LITRES_A_M3
        begins = (PriceStep(0.0, self.price_per_m3), *self.steps)
        ends = [step.above_m3 for step in self.steps] + [volume_m3]
        return sum(
            step.price_per_m3 * max(0.0, min(volume_m3, end) - step.above_m3)
            for step, end in zip(begins, ends, strict=True)
        )


@dataclass(frozen=True, slots=True)
class Tariffs:
    """The prices of a supply through the years."""

    first: Tariff
    """Of all days before the first price that has a date."""
    later: tuple[tuple[dt.date, Tariff], ...] = ()
    """Each with the day on which it begins, in their order."""

    def on(self, date: dt.date) -> Tariff:
        """The prices of a day."""
        return next((tariff for begins_on, tariff in reversed(self.later) if begins_on <= date), self.first)


def tariffs_of(supply: WaterSupply) -> Tariffs | None:
    """The prices of a supply; None where it has none."""
    if not supply.prices:
        return None
    first, *later = supply.prices
    dated = ((price.begins_on, _tariff(price)) for price in later)
    return Tariffs(_tariff(first), tuple((day, tariff) for day, tariff in dated if day is not None))


def _tariff(price: Price) -> Tariff:
    sewer_share = price.sewer_share
    if sewer_share is None:
        sewer_share = 0.0 if price.sewer_price_per_m3 is None else 1.0
    return Tariff(price.price_per_m3, price.steps, sewer_share, price.sewer_price_per_m3)


def costs_by_date(tariffs: Tariffs, litres: Mapping[dt.date, float]) -> dict[dt.date, float]:
    """What each date's litres cost, on top of those of the month before them.

    Whole months are needed: where the first of a month is left out, steps are reached too late.
    """
    costs: dict[dt.date, float] = {}
    month, before_l = None, 0.0
    for date in sorted(litres):
        if (date.year, date.month) != month:
            month, before_l = (date.year, date.month), 0.0
        costs[date] = tariffs.on(date).cost(litres[date], before_l)
        before_l += litres[date]
    return costs


def costs_of_zones(
    tariffs: Tariffs, litres: Mapping[str, Mapping[dt.date, float]]
) -> dict[str, dict[dt.date, float]]:
    """What each zone's litres cost by date; the zones of a date share its cost by their litres."""
    together: dict[dt.date, float] = {}
    for by_date in litres.values():
        for date, volume_l in by_date.items():
            together[date] = together.get(date, 0.0) + volume_l
    costs = costs_by_date(tariffs, together)
    return {
        zone: {
            date: costs[date] * volume_l / together[date]
            for date, volume_l in by_date.items()
            if volume_l > 0.0
        }
        for zone, by_date in litres.items()
    }
