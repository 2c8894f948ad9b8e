"""What alerts are about, the most urgent first."""

import datetime as dt
import math
from dataclasses import dataclass
from typing import ClassVar, Final

from scheduling.reasons import Alert, Concern, Note, Reason
from scheduling.reasons.description_notes import FlowHasDrifted
from scheduling.reasons.probe_notes import ProbeDoubtful
from scheduling.reasons.words import Words, called, counted, listed, little, share


@dataclass(frozen=True, slots=True)
class ValveNotShut(Concern):
    """A run that should be over, and of which nobody says so."""

    code: ClassVar[str] = "valve-not-shut"
    when: ClassVar[str] = (
        "a run is past its limit, or lost contact, and nobody completed it; or a valve says it is open while "
        "nothing runs"
    )
    means: ClassVar[str] = "Water may be flowing now, into ground that takes no more."
    do: ClassVar[str] = (
        "Look at the valve now and shut it, or the main valve ahead of it. Then complete the run with what "
        "flowed, or tell the valve's state. Where water has run against a building, a wall or a slope, let "
        "somebody qualified look at it."
    )

    begun_at: dt.datetime
    shut_by: dt.datetime
    contact_was_lost: bool

    def sentence(self, words: Words) -> str:
        begun, shut = words.span(self.begun_at, self.shut_by)
        lost = " Contact was lost, and nobody" if self.contact_was_lost else " Nobody"
        return (
            f"A run that began at {begun} should have ended by {shut}.{lost} has said that the valve is shut."
        )


@dataclass(frozen=True, slots=True)
class OpenByItsWord(Concern):
    """A valve that says it is open while nothing should run."""

    code: ClassVar[str] = ValveNotShut.code
    do: ClassVar[str] = ValveNotShut.do

    told_at: dt.datetime

    def sentence(self, words: Words) -> str:
        return f"The valve was said to be open at {words.moment(self.told_at)}, but no run is under way."


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
            f"A turn for {words.volume(self.volume_l)} was given at {words.moment(self.granted_at)}, and "
            f"nobody has reported what flowed. Its valve had to be shut by {words.moment(self.shut_by)}."
        )


@dataclass(frozen=True, slots=True)
class FrostAhead(Concern):
    """It will freeze within days."""

    code: ClassVar[str] = "frost-ahead"
    when: ClassVar[str] = "less than 2 °C (or `frost_limit_c`, where that is lower) is forecast within 3 days"
    means: ClassVar[str] = "Valves and hoses may burst; tender plants may be harmed."
    do: ClassVar[str] = (
        "Drain battery valves, hoses and filters and bring them in before the cold; drain or cover what "
        "stays outside as its maker says. Backflow preventers are a matter for local codes and licensed "
        "practice. A pause of the garden then keeps the tap shut, and ends this alert."
    )

    lowest_c: float
    at: dt.datetime

    def sentence(self, words: Words) -> str:
        return (
            f"It may get as cold as {words.temperature(self.lowest_c)} at {words.moment(self.at)}. On the "
            "ground it can be some degrees colder."
        )


@dataclass(frozen=True, slots=True)
class CannotKeepAlive(Concern):
    """Plants in want that the next plan cannot help."""

    code: ClassVar[str] = "cannot-keep-alive"
    when: ClassVar[str] = (
        "plants got less than 70 % of what they need within a week, and the next plan cannot help: too few "
        "days, hours or litres"
    )
    means: ClassVar[str] = "Its plants wilt, and may die if this goes on."
    do: ClassVar[str] = (
        "Let it be watered on more days or for longer hours, raise its priority or the allowance, or give "
        "its plants more to root in; by hand, if it is urgent. Local bans go first."
    )

    ks: float
    """The least share of what they need that its plants were left with."""
    because: Note | Reason

    def sentence(self, words: Words) -> str:
        part = little(self.ks)
        return (
            f"Its plants could draw {part} of the water they need, and the next plan cannot help them. "
            f"{self.because.sentence(words)}"
        )


@dataclass(frozen=True, slots=True)
class UnderDelivered(Concern):
    """Runs that pass less than was planned."""

    code: ClassVar[str] = "under-delivered"
    when: ClassVar[str] = "the last three runs or more each passed less than 80 % of what was planned"
    means: ClassVar[str] = "Its plants get less than they need, run after run."
    do: ClassVar[str] = (
        "Watch a run: look for a blocked filter or emitter, low pressure, a tap half shut, an empty battery, "
        "or limits of the valve that close it too early."
    )

    runs: int
    measured_l: float
    planned_l: float

    def sentence(self, words: Words) -> str:
        return (
            f"The last {counted(self.runs, 'run')} gave {words.volume_number(self.measured_l)} of the "
            f"{words.volume(self.planned_l)} planned, {share(self.measured_l / self.planned_l)}."
        )


@dataclass(frozen=True, slots=True)
class NobodyAsked(Concern):
    """Nights for which nobody asked."""

    code: ClassVar[str] = "nobody-asked"
    when: ClassVar[str] = (
        "zones need water, and last night nobody read the plan, or asked for a turn where turns are used"
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
        used, whole = words.depth_number(self.depletion_mm), words.depth(self.total_mm)
        dry = f"In {self.driest}, plants have used {used} of the {whole} they can draw."
        return f"{asked} asked for water. {dry}"


@dataclass(frozen=True, slots=True)
class NoReports(Concern):
    """Runs that nobody reports."""

    code: ClassVar[str] = "no-reports"
    when: ClassVar[str] = (
        "at least two runs were not reported, the first of them 48 hours ago, the last within 30 days"
    )
    means: ClassVar[str] = "Nobody knows whether the plants got their water."
    do: ClassVar[str] = (
        "See whether the controller reaches the valves and this service. If it is not meant to report, the "
        "garden can say how such runs count; look at the soil now and then."
    )

    runs: int
    planned_l: float
    counted_l: float
    """What the ledger takes as given."""

    def sentence(self, words: Words) -> str:
        planned = words.volume(self.planned_l)
        if not self.counted_l:
            counts = f"takes none of their {planned}"
        elif self.counted_l < self.planned_l:
            counts = f"takes {words.volume(self.counted_l)} of their {planned}"
        else:
            counts = f"takes their {planned}"
        return f"The last {counted(self.runs, 'run')} were not reported. The account {counts} as given."


@dataclass(frozen=True, slots=True)
class ForecastOld(Concern):
    """No source has answered for long."""

    code: ClassVar[str] = "forecast-old"
    when: ClassVar[str] = "no source has answered for 6 hours"
    means: ClassVar[str] = "Plans may miss rain, heat and frost that are known elsewhere by now."
    do: ClassVar[str] = (
        "See whether this machine reaches the network, and whether the source still serves the place. Give "
        "the garden a second weather source, which then stands in for the first."
    )

    answered_at: dt.datetime
    plans_go_on: bool

    def sentence(self, words: Words) -> str:
        end = "Plans go by what it said." if self.plans_go_on else "There are no plans."
        return f"The newest weather is from {words.moment(self.answered_at)}. {end}"


@dataclass(frozen=True, slots=True)
class NeverAnswered(Concern):
    """No source has ever answered."""

    code: ClassVar[str] = ForecastOld.code
    do: ClassVar[str] = ForecastOld.do

    sources: tuple[str, ...]

    def sentence(self, words: Words) -> str:
        sources = listed([called(source) for source in self.sources], "or")
        return f"No weather has come yet from {sources}. There are no plans."


@dataclass(frozen=True, slots=True)
class AllowanceNearlySpent(Concern):
    """Little is left of a week's or a month's litres."""

    code: ClassVar[str] = "allowance-nearly-spent"
    when: ClassVar[str] = "nine tenths of the week's or the month's `allowance_l` are spent"
    means: ClassVar[str] = "Soon some plants go without until the next week or month."
    do: ClassVar[str] = (
        "Choose what is to live: give it high priority, and let the rest go dry or pause. Raise the "
        "allowance only as far as your water company and local rules let you."
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
        allowed, last = f"this {self.period}'s {words.volume(self.allowed_l)}", words.day(self.last)
        if self.left_l <= 0.0:
            return f"All of {allowed} are used. Nothing is left until the end of {last}."
        used, left = words.volume_number(self.used_l), words.volume(self.left_l)
        return f"{used} of {allowed} are used. The {left} left must last to the end of {last}."


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
        # 19.6 % is below 20 %, and has to look so.
        left = share(math.floor(100.0 * self.battery_share + 1e-9) / 100.0)
        return f"The valve's battery has {left} left. Below {share(self.low_share)} it may fail."


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
