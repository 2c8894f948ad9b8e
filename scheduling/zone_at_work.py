"""One zone while a plan is being made: what it lacks, when it may be watered, what it wants."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from scheduling.balance import LedgerRow
from scheduling.decision import TOO_WINDY, Verdict, decide, second_run_mm
from scheduling.permission import Permission, in_the_calmest_hours, out_of_the_wind
from scheduling.plan import Note
from scheduling.prepared import PreparedZone
from scheduling.runs import openings_of
from scheduling.season import GardenDays
from scheduling.supply import Wish
from scheduling.weather import HourAhead


@dataclass(slots=True)
class ZoneAtWork:
    """One zone while a plan is being made."""

    prepared: PreparedZone
    depletion_mm: float
    """On the morning of the plan's date, before any water that belongs to it."""
    delivered_mm: float
    """Net depth already delivered for that date."""
    assumed: bool
    notes: list[Note]
    rows: tuple[LedgerRow, ...] | None
    permission: Permission = field(default_factory=lambda: Permission(()))
    verdict: Verdict | None = None
    second_mm: float = 0.0

    @property
    def lacking_mm(self) -> float:
        """Depletion less what has already been delivered for the date."""
        return max(0.0, self.depletion_mm - self.delivered_mm)

    @property
    def chosen(self) -> Verdict:
        """The verdict, once there is one."""
        assert self.verdict is not None
        return self.verdict

    def wish(self, index: int, turns: Mapping[str, int]) -> Wish:
        """What it wants of the tap; `turns` says who went without, and how often in a row."""
        return Wish(
            numbers=self.prepared.numbers,
            first_mm=self.chosen.net_mm,
            second_mm=self.second_mm,
            thirst=self.lacking_mm / self.prepared.days.raw_mm[index],
            turns_without=turns.get(self.prepared.numbers.zone.id, 0),
            windows=self.permission.windows,
        )


def settle(work: ZoneAtWork, index: int, days: GardenDays, twice: bool, by_hour: Sequence[HourAhead]) -> None:
    """Decide on a zone and a date, and let the wind have its say.

    `twice` says whether the date has a second span of watering hours.
    """
    verdict = decide(index, work.lacking_mm, work.prepared, days)
    if twice:
        left_mm = work.depletion_mm - work.delivered_mm - verdict.net_mm
        work.second_mm = second_run_mm(index, left_mm, work.prepared)
    work.verdict = verdict
    if verdict.net_mm > 0.0 or work.second_mm > 0.0:
        _mind_the_wind(work, verdict, by_hour)


def _mind_the_wind(work: ZoneAtWork, verdict: Verdict, by_hour: Sequence[HourAhead]) -> None:
    numbers, rules = work.prepared.numbers, work.prepared.rules
    permission = out_of_the_wind(work.permission, numbers, rules, by_hour)
    work.permission = permission
    if permission.wind_is_unknown:
        text = (
            f"The forecast has no wind by the hour: the limit of {rules.wind_limit_m_s:g} m/s was not kept."
        )
        work.notes.append(Note("wind-unknown", text))
    if permission.least_wind_m_s is None:
        return
    if not verdict.is_pressing:
        work.verdict = Verdict(TOO_WINDY, 0.0, verdict.room_mm, verdict.cannot_last)
        work.second_mm = 0.0
        return
    openings = openings_of(numbers, verdict.net_mm + work.second_mm)
    work.permission, wind_m_s = in_the_calmest_hours(permission, numbers, openings, by_hour)
    work.notes.append(
        Note(
            "windy-but-needed",
            f"Every permitted hour has more wind than {rules.wind_limit_m_s:g} m/s; the plants could not "
            f"wait, so it is watered in the calmest, at up to {wind_m_s:.1f} m/s.",
        )
    )
