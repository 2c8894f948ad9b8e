"""Every code with what is to be said of it: the rows that documentation and contract are made of."""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from scheduling.reasons import Told
from scheduling.reasons.notes import ON_ZONES
from scheduling.reasons.of_alerts import ALERTS
from scheduling.reasons.of_garden_check import FOUND
from scheduling.reasons.of_probes import ON_PROBES
from scheduling.reasons.of_runs import OF_RUNS
from scheduling.reasons.of_weather import OF_WEATHER
from scheduling.reasons.of_zones import OF_ZONES


class Row(NamedTuple):
    """What is to be said of one code."""

    code: str
    decision: str
    """Of a reason: `water` or `wait`; else empty."""
    when: str
    means: str
    do: str


NOTES: Final = tuple(sorted((*ON_ZONES, *OF_WEATHER, *ON_PROBES), key=lambda note: note.code))
"""Of zones and gardens, by name."""

KINDS: Final[dict[str, Sequence[type[Told]]]] = {
    "reasons": OF_ZONES,
    "run-reasons": OF_RUNS,
    "notes": NOTES,
    "findings": FOUND,
    "alerts": ALERTS,
}


def rows(kind: str) -> Iterator[Row]:
    """The codes of a kind in their order: of precedence, of urgency, or by name."""
    for told in KINDS[kind]:
        yield Row(told.code, getattr(told, "decision", ""), told.when, told.means, told.do)


def codes(kind: str) -> tuple[str, ...]:
    """The same, without what is to be said of them."""
    return tuple(told.code for told in KINDS[kind])
