"""Every code with what is to be said of it: the rows that documentation and contract are made of."""

from collections.abc import Iterator, Sequence
from typing import Final, NamedTuple

from scheduling.reasons import Told
from scheduling.reasons.alerts import ALERTS
from scheduling.reasons.description_notes import DESCRIPTION_NOTES
from scheduling.reasons.findings import FINDINGS
from scheduling.reasons.notes import ZONE_NOTES
from scheduling.reasons.probe_notes import PROBE_NOTES
from scheduling.reasons.runs import RUN_REASONS
from scheduling.reasons.watering import WATERING_REASONS
from scheduling.reasons.weather_notes import WEATHER_NOTES


class Row(NamedTuple):
    """What is to be said of one code."""

    code: str
    decision: str
    """Of a reason: `water` or `wait`; else empty."""
    when: str
    means: str
    do: str


NOTES: Final = tuple(
    sorted((*DESCRIPTION_NOTES, *ZONE_NOTES, *WEATHER_NOTES, *PROBE_NOTES), key=lambda note: note.code)
)
"""Of zones and gardens, by name."""

KINDS: Final[dict[str, Sequence[type[Told]]]] = {
    "reasons": WATERING_REASONS,
    "run-reasons": RUN_REASONS,
    "notes": NOTES,
    "findings": FINDINGS,
    "alerts": ALERTS,
}


def rows(kind: str) -> Iterator[Row]:
    """The codes of a kind in their order: of precedence, of urgency, or by name."""
    for told in KINDS[kind]:
        yield Row(told.code, getattr(told, "decision", ""), told.when, told.means, told.do)


def codes(kind: str) -> tuple[str, ...]:
    """The same, without what is to be said of them."""
    return tuple(told.code for told in KINDS[kind])
