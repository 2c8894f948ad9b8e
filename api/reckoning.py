"""The parts that reckon, joined: plans, and what follows from their ledgers.

They bring all of the arithmetic with them, a tenth of the time of a start, and who only asks whether
the server lives needs none of it. So this is imported when the first question about a garden comes.
"""

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass

from api.alerts import AlertsOfGardens
from api.answers import Answers
from api.ledgers import Ledgers
from api.lifecycle import PlanLife
from api.replaying import Replays
from api.store.store import Store
from api.usage import Usages
from api.visitors import Visitors
from api.weather.forecasts import Forecasts


@dataclass(frozen=True, slots=True)
class Reckoning:
    """What answers questions about gardens."""

    plans: PlanLife
    replays: Replays
    ledgers: Ledgers
    usages: Usages
    alerts: AlertsOfGardens


def reckoning_on(store: Store, forecasts: Forecasts, clock: Callable[[], dt.datetime]) -> Reckoning:
    """Join the parts that reckon from a store, from forecasts and by a clock."""
    answers = Answers(store)
    visitors = Visitors(store.is_garden_place, clock)
    plans = PlanLife(store, forecasts, answers, clock, visitors)
    return Reckoning(
        plans,
        Replays(forecasts, visitors, clock),
        Ledgers(plans, answers),
        Usages(plans, store, answers),
        AlertsOfGardens(plans, store, forecasts, answers, clock),
    )
