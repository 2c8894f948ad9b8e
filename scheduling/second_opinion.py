"""Our evapotranspiration beside that of the weather source, where it brings one of its own."""

import datetime as dt

from scheduling.plan import Note

LARGE_SHARE = 0.25
LARGE_MM = 1.0
"""What is both is no matter of daily against hourly sums, which make a tenth. Our choice, no source."""


def second_opinion(date: dt.date, ours_mm: float, theirs_mm: float | None, source: str) -> Note | None:
    """A note where two reckonings of a day's reference evapotranspiration are far apart.

    Far apart is more than 1 mm and more than a quarter of the source's.
    """
    if theirs_mm is None:
        return None
    apart_mm = abs(ours_mm - theirs_mm)
    if apart_mm <= LARGE_MM or apart_mm <= LARGE_SHARE * theirs_mm:
        return None
    return Note(
        "evapotranspiration-differs",
        f"{source} reckons with {theirs_mm:.1f} mm of reference evapotranspiration on {date}, this plan with "
        f"{ours_mm:.1f} mm: see whether the garden's position and elevation_m are right.",
    )
