"""One zone while a plan is being made: what it lacks, when it may be watered, what it wants."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduling.balance.garden_series import GardenDays
from scheduling.balance.soil_water import LedgerRow
from scheduling.balance.stand import PreparedZone
from scheduling.balance.weather import HourAhead
from scheduling.decision.decision import Verdict, decide_together, second_run_mm, watered
from scheduling.probes.status import NOTHING_FOLLOWED, Followed
from scheduling.reasons import TOO_WINDY, Note
from scheduling.reasons.notes import WindUnknown, WindyButNeeded
from scheduling.tap.allocation import Wish
from scheduling.tap.permission import Permission, in_the_calmest_hours, out_of_the_wind
from scheduling.tap.runs import openings_of
from scheduling.tap.windows import Windows


@dataclass(frozen=True, slots=True)
class Stand:
    """One planting of a zone on the morning of the plan's date."""

    prepared: PreparedZone
    depletion_mm: float
    """Before any water that belongs to the date."""
    rows: tuple[LedgerRow, ...] | None = None
    """The days behind it, where they are asked for."""

    def lacking_mm(self, delivered_mm: float) -> float:
        """Depletion less what has already been delivered for the date."""
        return max(0.0, self.depletion_mm - delivered_mm)


@dataclass(slots=True)
class ZoneAtWork:
    """One zone while a plan is being made."""

    stands: tuple[Stand, ...]
    delivered_mm: float
    """Net depth already delivered for the plan's date."""
    assumed: bool
    notes: list[Note]
    permission: Permission = field(default_factory=lambda: Permission(()))
    followed: Followed = NOTHING_FOLLOWED
    """What soil probes did to its ledger."""
    verdict: Verdict | None = None
    second_mm: float = 0.0
    windy_windows: tuple[Windows, ...] | None = None
    """Where the wind is above the limit in all of them, and it is watered all the same: the windows
    of which only the calmest hours are used."""

    @property
    def windows(self) -> tuple[Windows, ...]:
        """When water may flow to it, whether or not all of that is used."""
        return self.permission.windows if self.windy_windows is None else self.windy_windows

    @property
    def leader(self) -> Stand:
        """The planting that the verdict and its sentences speak of."""
        return self.stands[0 if self.verdict is None else self.verdict.stand]

    @property
    def prepared(self) -> PreparedZone:
        """That planting over the days."""
        return self.leader.prepared

    @property
    def depletion_mm(self) -> float:
        """What it lacks on the morning of the date, before any water that belongs to it."""
        return self.leader.depletion_mm

    @property
    def lacking_mm(self) -> float:
        """The same, less what has already been delivered for the date."""
        return self.leader.lacking_mm(self.delivered_mm)

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
    lacking_mm = [stand.lacking_mm(work.delivered_mm) for stand in work.stands]
    verdict = decide_together(index, lacking_mm, [stand.prepared for stand in work.stands], days)
    work.verdict = verdict
    if twice:
        left_mm = work.depletion_mm - work.delivered_mm - verdict.net_mm
        work.second_mm = second_run_mm(index, left_mm, work.prepared)
    if verdict.net_mm > 0.0 or work.second_mm > 0.0:
        _mind_the_wind(work, verdict, by_hour)
        given_mm = work.chosen.net_mm + work.second_mm
        work.stands = tuple(
            replace(stand, prepared=watered(stand.prepared, index, given_mm)) for stand in work.stands
        )


def _mind_the_wind(work: ZoneAtWork, verdict: Verdict, by_hour: Sequence[HourAhead]) -> None:
    numbers, rules = work.prepared.numbers, work.prepared.rules
    permission = out_of_the_wind(work.permission, numbers, rules, by_hour)
    work.permission = permission
    limit_m_s = rules.wind_limit_m_s or 0.0
    if permission.wind_is_unknown:
        work.notes.append(WindUnknown(limit_m_s))
    if permission.least_wind_m_s is None:
        return
    if not verdict.is_pressing:
        work.verdict = Verdict(TOO_WINDY, 0.0, verdict.room_mm, verdict.cannot_last, stand=verdict.stand)
        work.second_mm = 0.0
        return
    openings = openings_of(numbers, verdict.net_mm + work.second_mm)
    work.windy_windows = permission.windows
    work.permission, wind_m_s = in_the_calmest_hours(permission, numbers, openings, by_hour)
    work.notes.append(WindyButNeeded(limit_m_s, wind_m_s))
