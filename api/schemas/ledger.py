"""A row of a zone's ledger in JSON."""

from typing import Any, Final

from api.schemas.base import Schema
from api.schemas.fields import Day, Number, Word
from scheduling.balance import BY_BOTH, BY_PROBE, BY_ROOTS, LedgerRow

DECIMALS: Final = {"kc": 3, "ks": 3, "kcb": 3, "ke": 3}
"""Of coefficients; depths have 2."""
CAUSES: Final = (BY_PROBE, BY_ROOTS, BY_BOTH)


class LedgerRowSchema(Schema):
    """One day: closing = opening - infiltrated_rain - irrigation + etc_adj + drainage + adjustment."""

    date = Day(required=True)
    opening_depletion_mm = Number(0, required=True)
    rain_mm = Number(0, required=True, about="What fell on the zone.")
    runoff_mm = Number(0, required=True)
    infiltrated_rain_mm = Number(0, required=True)
    irrigation_gross_mm = Number(0, required=True)
    irrigation_mm = Number(0, required=True, about="What reached the roots.")
    eto_mm = Number(0, required=True)
    kc = Number(0, required=True)
    ks = Number(0, 1, required=True)
    etc_mm = Number(0, required=True, about="Kc ETo.")
    etc_adj_mm = Number(0, required=True, about="What was used: Ks ETc.")
    drainage_mm = Number(0, required=True)
    adjustment_mm = Number(required=True, about="A correction from outside the balance.")
    closing_depletion_mm = Number(0, required=True)
    taw_mm = Number(0, required=True)
    raw_mm = Number(0, required=True)
    kcb = Number(0, about="This and what follows only with the dual coefficient.")
    ke = Number(0, about="Of the soil's evaporation.")
    evaporation_mm = Number(0, about="What of etc_adj the soil lost.")
    surface_depletion_mm = Number(0, about="What the top layer lacks in the evening, where last wetted.")
    adjustment_cause = Word(CAUSES, about="Where there is an adjustment: soil probes, or shallower roots.")


def dump_row(row: LedgerRow) -> dict[str, Any]:
    """Write a row as JSON has it: depths to 0.01 mm."""
    values = row._asdict()
    return {
        "date": values.pop("date").isoformat(),
        # + 0.0 makes 0.0 of -0.0.
        **{
            name: value if isinstance(value, str) else round(value, DECIMALS.get(name, 2)) + 0.0
            for name, value in values.items()
            if value is not None
        },
    }
