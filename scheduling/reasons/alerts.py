"""What alerts are about, the most urgent first."""

import datetime as dt
from dataclasses import dataclass
from typing import ClassVar, Final, Literal

from scheduling.reasons import Alert, Concern, Note, Reason
from scheduling.reasons.notes import FlowHasDrifted
from scheduling.reasons.probe_notes import ProbeDoubtful
from scheduling.reasons.words import Words


@dataclass(frozen=True, slots=True)
class ValveNotShut(Concern):
    """A run that should be over, and of which nobody says so."""

    code: ClassVar[str] = "valve-not-shut"
    when: ClassVar[str] = (
        "an announced run is past its limit, or its contact was lost, and nobody has completed it; or a "
        "valve "
        "says it is open while no run is under way"
    )
    means: ClassVar[str] = "Water may be flowing now, into ground that takes no more."
    do: ClassVar[str] = (
        "Look at the valve now and shut it, or the main valve ahead of it. Then complete the run with what "
        "flowed, or tell the valve's state. Where water has run against a building, a wall or a slope, let "
        "somebody qualified look at it."
    )

    planned_l: float
    date: dt.date
    begun_at: dt.datetime
    shut_by: dt.datetime
    contact_was_lost: bool

    def sentence(self, words: Words) -> str:
        what = "began, contact was lost," if self.contact_was_lost else "was announced"
        return (
            f"The run of {self.planned_l:g} l planned for {self.date} {what} at {_clock(self.begun_at)} and "
            "had "
            f"to be over by {_clock(self.shut_by)}; nobody has said that the valve is shut."
        )


@dataclass(frozen=True, slots=True)
class OpenByItsWord(Concern):
    """A valve that says it is open while nothing should run."""

    code: ClassVar[str] = ValveNotShut.code
    do: ClassVar[str] = ValveNotShut.do

    told_at: dt.datetime

    def sentence(self, words: Words) -> str:
        return f"The valve was said to be open at {_clock(self.told_at)}, and no run of a plan is under way."


@dataclass(frozen=True, slots=True)
class TurnNotClosed(Concern):
    """A turn of which nobody says what flowed."""

    code: ClassVar[str] = "turn-not-closed"
    when: ClassVar[str] = "a turn is past its `shut_by`, and nobody has reported what flowed"
    means: ClassVar[str] = "The ledger counts all of its litres, and nobody knows whether they flowed."
    do: ClassVar[str] = (
        "See whether the valve is shut and whether the controller reaches it. Then report the litres, or the "
        'outcome "no-water" where none flowed.'
    )

    volume_l: float
    granted_at: dt.datetime
    shut_by: dt.datetime

    def sentence(self, words: Words) -> str:
        return (
            f"A turn for {self.volume_l:.10g} l was given at {_clock(self.granted_at)}. Its valve had to be "
            f"shut by {_clock(self.shut_by)}, and nobody has said what flowed."
        )


@dataclass(frozen=True, slots=True)
class FrostAhead(Concern):
    """It will freeze within days."""

    code: ClassVar[str] = "frost-ahead"
    when: ClassVar[str] = (
        "less than 2 °C (or `frost_limit_c`, where that is lower) are forecast within 3 days: drain battery "
        "valves and bring them in"
    )
    means: ClassVar[str] = "Valves and hoses may burst; tender plants may be harmed."
    do: ClassVar[str] = (
        "Drain battery valves, hoses and filters and bring them in before the cold; drain or cover what "
        "stays "
        "outside as its maker says. Backflow preventers are a matter for local codes and licensed practice. "
        "A "
        "pause of the garden then keeps the tap shut, and ends this alert."
    )

    lowest_c: float
    at: dt.datetime
    days: int
    """How many were looked over."""

    def sentence(self, words: Words) -> str:
        return (
            f"{self.lowest_c:.1f} °C are forecast for {_clock(self.at)}, the coldest of the next {self.days} "
            "days; on the ground it can be some degrees colder."
        )


Starves = Literal["hours-full", "allowance-spent"]

_STARVED_BY: Final = {
    "hours-full": "the watering hours are too short for all",
    "allowance-spent": "the allowance does not suffice for all",
}


@dataclass(frozen=True, slots=True)
class CannotKeepAlive(Concern):
    """Plants in want that the next plan cannot help."""

    code: ClassVar[str] = "cannot-keep-alive"
    when: ClassVar[str] = (
        "plants had less than 70 % of what they want within the last week, and the next plan cannot mend it: "
        "even filled up the zone cannot last, a rule keeps it dry, or hours or allowance starve it"
    )
    means: ClassVar[str] = "Its plants wilt, and may die if this goes on."
    do: ClassVar[str] = (
        "Let it be watered on more days or for longer hours, raise its priority or the allowance, or give "
        "its "
        "plants more to root in; by hand, if it is urgent. Local bans go first."
    )

    ks: float
    """The least share of what they need that its plants were left with."""
    because: Note | Reason

    def sentence(self, words: Words) -> str:
        starved = _STARVED_BY.get(self.because.code)
        why = self.because.sentence(words) if starved is None else f"It gets less than it wants: {starved}."
        return (
            f"Its plants were left with {self.ks:.0%} of what they want, and the next plan cannot mend it. "
            f"{why}"
        )


@dataclass(frozen=True, slots=True)
class UnderDelivered(Concern):
    """Runs that pass less than was planned."""

    code: ClassVar[str] = "under-delivered"
    when: ClassVar[str] = "the last three runs or more each passed less than 80 % of what was planned"
    means: ClassVar[str] = "Its plants get less than they need, run after run."
    do: ClassVar[str] = (
        "Watch a run: look for a blocked filter or emitter, low pressure, a tap half shut, an empty "
        "battery, or "
        "limits of the valve that close it too early."
    )

    runs: int
    measured_l: float
    planned_l: float

    def sentence(self, words: Words) -> str:
        return (
            f"The last {self.runs} runs passed {self.measured_l:.0f} of the {self.planned_l:.0f} l that were "
            f"planned, {self.measured_l / self.planned_l:.0%}."
        )


@dataclass(frozen=True, slots=True)
class NobodyAsked(Concern):
    """Nights for which nobody asked."""

    code: ClassVar[str] = "nobody-asked"
    when: ClassVar[str] = (
        "zones want water, and last night no plan was read, or it had runs and no turn was asked for in a "
        "garden that takes turns"
    )
    means: ClassVar[str] = "Nothing was watered, and the plants live on what the soil still holds."
    do: ClassVar[str] = (
        "See whether the controller runs and reaches this service. Water the driest zone by hand, if it is "
        "urgent."
    )

    nights: int
    driest: str
    """Name of the zone that lacks most."""
    depletion_mm: float
    total_mm: float

    def sentence(self, words: Words) -> str:
        asked = "Last night nobody" if self.nights == 1 else f"For {self.nights} nights nobody has"
        return (
            f"{asked} asked for water. In {self.driest}, plants have used {self.depletion_mm:.1f} of the "
            f"{self.total_mm:.1f} mm that they can draw."
        )


@dataclass(frozen=True, slots=True)
class NoReports(Concern):
    """Runs that nobody reports."""

    code: ClassVar[str] = "no-reports"
    when: ClassVar[str] = (
        "two runs or more were not reported, the first of them 48 hours ago, the last within 30 days"
    )
    means: ClassVar[str] = "Nobody knows whether the plants got their water."
    do: ClassVar[str] = (
        "See whether the controller reaches the valves and this service. If it is not meant to report, "
        "unreported_watering says how its runs count; look at the soil now and then."
    )

    runs: int
    planned_l: float
    counted_l: float
    """What the ledger takes as given."""

    def sentence(self, words: Words) -> str:
        if not self.counted_l:
            counts = f"the ledger takes none of their {self.planned_l:.0f} l as given"
        elif self.counted_l < self.planned_l:
            counts = f"the ledger takes {self.counted_l:.0f} of their {self.planned_l:.0f} l as given"
        else:
            counts = f"the ledger takes their {self.planned_l:.0f} l as given, whatever flowed"
        return f"The last {self.runs} runs were not reported; {counts}."


@dataclass(frozen=True, slots=True)
class ForecastOld(Concern):
    """No source has answered for long."""

    code: ClassVar[str] = "forecast-old"
    when: ClassVar[str] = "no source has answered for 6 hours"
    means: ClassVar[str] = "Plans may miss rain, heat and frost that are known elsewhere by now."
    do: ClassVar[str] = (
        "See whether this machine reaches the network, and whether the source still serves the place. A "
        "second "
        "one in weather_sources stands in for the first."
    )

    source: str
    answered_at: dt.datetime
    plans_go_on: bool

    def sentence(self, words: Words) -> str:
        end = "plans go by what it said" if self.plans_go_on else "there are no plans"
        return f"The newest weather, of {self.source}, is from {_clock(self.answered_at)}; {end}."


@dataclass(frozen=True, slots=True)
class NeverAnswered(Concern):
    """No source has ever answered."""

    code: ClassVar[str] = ForecastOld.code
    do: ClassVar[str] = ForecastOld.do

    sources: tuple[str, ...]

    def sentence(self, words: Words) -> str:
        return f"No weather has come yet from {' or '.join(self.sources)}; there are no plans."


@dataclass(frozen=True, slots=True)
class AllowanceNearlySpent(Concern):
    """Little is left of a week's or a month's litres."""

    code: ClassVar[str] = "allowance-nearly-spent"
    when: ClassVar[str] = "nine tenths of the week's or the month's `allowance_l` are spent"
    means: ClassVar[str] = "Soon some plants go without until the next week or month."
    do: ClassVar[str] = (
        "Choose what is to live: give it high priority, and let the rest go dry or pause. Raise allowance_l "
        "only as far as your water company and local rules let you."
    )

    used_l: float
    allowed_l: float
    period: str
    """`week` or `month`."""
    last: dt.date

    @property
    def left_l(self) -> float:
        """What may still flow."""
        return max(0.0, self.allowed_l - self.used_l)

    def sentence(self, words: Words) -> str:
        return (
            f"{self.used_l:.0f} of the {self.allowed_l:.0f} l of this {self.period} are spent; "
            f"{self.left_l:.0f} l are left until {self.last}."
        )


@dataclass(frozen=True, slots=True)
class BatteryLow(Concern):
    """A valve's battery is nearly empty."""

    code: ClassVar[str] = "battery-low"
    when: ClassVar[str] = "a valve's `battery_share` is below 0.2"
    means: ClassVar[str] = "Its plants may get nothing, or far too much."
    do: ClassVar[str] = "Change the battery: a valve without power may stay as it is, open too."

    battery_share: float
    low_share: float

    def sentence(self, words: Words) -> str:
        return (
            f"The valve's battery has {self.battery_share:.0%} left; below {self.low_share:.0%} it may fail."
        )


ALERTS: Final[tuple[type[Concern | Note], ...]] = (
    ValveNotShut,
    TurnNotClosed,
    FrostAhead,
    CannotKeepAlive,
    UnderDelivered,
    FlowHasDrifted,
    NobodyAsked,
    NoReports,
    ForecastOld,
    AllowanceNearlySpent,
    ProbeDoubtful,
    BatteryLow,
)
"""One for each code, the most urgent first."""

_URGENCY: Final = {about.code: place for place, about in enumerate(ALERTS)}


def urgency(alert: Alert) -> tuple[int, str]:
    """What alerts are put in order by: the most urgent first, then by zone."""
    return _URGENCY[alert.code], alert.zone or ""


def _clock(instant: dt.datetime) -> str:
    return f"{instant:%Y-%m-%d %H:%M}"
