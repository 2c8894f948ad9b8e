"""How far a probe is to be believed: a Kalman filter over a depletion, its demand and its probes' biases.

A probe errs in two ways: by noise, which averages away, and by a bias, which never does. So the bias
is estimated beside the depletion. Readings alone cannot tell one from the other: the first of them
share what is found between both, by how doubtful each was; the later ones tell how the depletion
moves, and no stream of them moves it further by what is only bias. Where the depletion is known,
as after soaking rain, what the probe then reads is its bias.

A ledger errs most by its demand, and day after day to the same side. So what the demand is off by is
estimated too: probes tell of change far better than of level, and what they have taught lasts while
they are silent.

Nothing here knows of soil: depths are in mm, variances in mm2.
"""

import math
from typing import Final, NamedTuple


class Believed(NamedTuple):
    """What one reading did."""

    gain: float
    """Part of what was found that the depletion takes, K."""
    correction_mm: float


_DEPLETION: Final = 0
_DEMAND: Final = 1


class ProbeFilter:
    """What is known of a depletion's error, of its demand and of its probes, with all covariances.

    The depletion itself is the ledger's. A probe has a place of its own.
    """

    def __init__(self, variance_mm2: float, demand_variance: float = 0.0) -> None:
        self._covariance = [[variance_mm2, 0.0], [0.0, demand_variance]]
        self._prior_demand_variance = demand_variance
        self._known = [0.0, 0.0]
        """The depletion's place stays 0, since the ledger takes its corrections."""

    @property
    def variance_mm2(self) -> float:
        """Of the depletion."""
        return self._covariance[0][0]

    @property
    def error_mm(self) -> float:
        """Standard error of the depletion."""
        return math.sqrt(max(0.0, self._covariance[0][0]))

    @property
    def demand_share(self) -> float:
        """What the demand is off by, as a share of it; above 0 plants use more than is reckoned."""
        return self._known[_DEMAND]

    def bias_mm(self, probe: int) -> float:
        """How much drier than it is a probe reads the soil."""
        return self._known[probe]

    def bias_variance_mm2(self, probe: int) -> float:
        """Of that bias."""
        return self._covariance[probe][probe]

    def add_probe(self, bias_variance_mm2: float) -> int:
        """Begin to follow a probe of which nothing is known but how far such probes are off; its place."""
        for row in self._covariance:
            row.append(0.0)
        self._covariance.append([0.0] * len(self._known) + [bias_variance_mm2])
        self._known.append(0.0)
        return len(self._known) - 1

    def forget(self, probe: int, bias_variance_mm2: float) -> None:
        """Take a probe as a new one, as where it was moved."""
        for row in self._covariance:
            row[probe] = 0.0
        self._covariance[probe] = [0.0] * len(self._known)
        self._covariance[probe][probe] = bias_variance_mm2
        self._known[probe] = 0.0

    def pass_on(self, left_share: float, new_variance_mm2: float, most_mm2: float) -> None:
        """Carry the depletion's error across a day: one share of it is left, and something is added.

        The error of a day's water adds to what there was; soil that is full, or so dry that plants
        use less, forgets. No error is larger than its store lets it be.
        """
        covariance = self._covariance
        if left_share != 1.0:
            covariance[0] = [left_share * value for value in covariance[0]]
            for row in covariance:
                row[0] *= left_share
        covariance[0][0] += new_variance_mm2
        self.bound(most_mm2)

    def bound(self, most_mm2: float) -> None:
        """Take the depletion's error as no larger than that."""
        variance_mm2 = self._covariance[0][0]
        if variance_mm2 > most_mm2:
            # All covariances of the depletion shrink with its error, so that the matrix stays one.
            self.pass_on(math.sqrt(most_mm2 / variance_mm2), 0.0, math.inf)

    def use(self, etc_mm: float) -> None:
        """Let a day's demand go into the depletion, with what it is off by."""
        covariance = self._covariance
        depletion, demand = covariance[_DEPLETION], covariance[_DEMAND]
        with_demand = depletion[_DEMAND] + etc_mm * demand[_DEMAND]
        depletion[_DEPLETION] += etc_mm * (depletion[_DEMAND] + with_demand)
        depletion[_DEMAND] = demand[_DEPLETION] = with_demand
        for place in range(_DEMAND + 1, len(demand)):
            depletion[place] += etc_mm * demand[place]
            covariance[place][_DEPLETION] = depletion[place]

    def forget_demand(self, kept_share: float) -> None:
        """Keep so much of what is known of the demand: the rest is as unknown as it was at first."""
        self._known[_DEMAND] *= kept_share
        demand = self._covariance[_DEMAND]
        own = demand[_DEMAND]
        for place, row in enumerate(self._covariance):
            demand[place] *= kept_share
            row[_DEMAND] = demand[place]
        squared = kept_share * kept_share
        demand[_DEMAND] = squared * own + (1.0 - squared) * self._prior_demand_variance

    def bound_demand(self, most_share: float) -> None:
        """No demand is off by more than that."""
        self._known[_DEMAND] = min(max(self._known[_DEMAND], -most_share), most_share)

    def hold(self, back_mm: float) -> None:
        """Bring a depletion back into its store; what it was outside by tells of demand and biases."""
        row = self._covariance[_DEPLETION]
        variance_mm2 = row[_DEPLETION]
        if variance_mm2 <= 0.0:
            return
        for place in range(1, len(row)):
            self._known[place] += row[place] / variance_mm2 * back_mm

    def lose(self, variance_mm2: float) -> None:
        """Take the depletion as unknown, as where it and a well-known probe cannot both be right."""
        for row in self._covariance:
            row[_DEPLETION] = 0.0
        self._covariance[_DEPLETION] = [0.0] * len(self._known)
        self._covariance[_DEPLETION][_DEPLETION] = variance_mm2

    def spread_mm2(self, probe: int, noise_mm2: float, weight: float = 1.0) -> float:
        """Variance of what a reading may differ by from what is expected of it, S = H P H' + R."""
        covariance = self._covariance
        return (
            weight * weight * covariance[0][0]
            + 2.0 * weight * covariance[0][probe]
            + covariance[probe][probe]
            + noise_mm2
        )

    def believe(self, probe: int, found_mm: float, noise_mm2: float, weight: float = 1.0) -> Believed:
        """Take in what a probe reads beyond what was expected; K = P H' / S, P = (1 - K H) P.

        Parameters
        ----------
        probe : int
            Its place.
        found_mm : float
            Reading less depletion less bias.
        noise_mm2 : float
            Variance of the reading without its bias, R.
        weight : float
            Part of the depletion's error that the reading shows: 0 where the soil is full whatever
            the ledger says.
        """
        covariance = self._covariance
        spread = self.spread_mm2(probe, noise_mm2, weight)
        seen = [weight * row[0] + row[probe] for row in covariance]
        gains = [value / spread for value in seen]
        for place, gain in enumerate(gains):
            self._known[place] += gain * found_mm
            row = covariance[place]
            for other, value in enumerate(seen):
                row[other] -= gain * value
        self._known[_DEPLETION] = 0.0
        return Believed(gains[0], gains[0] * found_mm)
