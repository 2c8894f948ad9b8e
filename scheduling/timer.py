"""A fixed timer: what plans are compared with."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Timer:
    """A fixed timer for one zone: the same water on the same days, whatever the weather.

    It waters outside the planting's season no more than its owner would.
    """

    every_days: int = 1
    """1 is daily; counted from the first date of the replay, which is watered."""
    volume_l: float | None = None
    """Litres at each watering, or else:"""
    run_time_s: float | None = None
    """Seconds at the zone's flow."""

    def litres(self, flow_l_min: float) -> float:
        """What one watering passes. [l]"""
        if self.volume_l is not None:
            return self.volume_l
        return (self.run_time_s or 0.0) / 60.0 * flow_l_min
