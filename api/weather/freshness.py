"""How old weather may be, in seconds; and when the weather of a place is due again."""

import zlib
from typing import Final

from api.weather.place import Place

FRESH_S: Final = 3600
"""Up to this age an answer is used and nobody is asked."""
ACCEPTABLE_S: Final = 6 * 3600
"""Up to this age it is used without waiting, while a new one is fetched; above, it is stale."""
USABLE_S: Final = 72 * 3600
"""Above this age nothing is planned from it."""
SPREAD_S: Final = 600
"""Places are due again up to so much before the hour, each by its own share of it: what was fetched
together, after a start or an outage, is not asked for together ever after."""


def due_after_s(place: Place) -> float:
    """Up to which age the weather of a place is not asked for again: 50 to 60 minutes. [s]"""
    return FRESH_S - zlib.crc32(place.key.encode()) % SPREAD_S
