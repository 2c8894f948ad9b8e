"""How far a probe is to be believed: a Kalman filter over a depletion and the biases of its probes.

A probe errs in two ways: by noise, which averages away, and by a bias, which never does. So the bias
is estimated beside the depletion. Readings alone cannot tell one from the other: the first of them
share what is found between both, by how doubtful each was; the later ones tell how the depletion
moves, and no stream of them moves it further by what is only bias. Where the depletion is known,
as after soaking rain, what the probe then reads is its bias.

Nothing here knows of soil: depths are in mm, variances in mm2.
"""

import math
from typing import NamedTuple


class Believed(NamedTuple):
    """What one reading did."""

    gain: float
    """Part of what was found that the depletion takes, K."""
    correction_mm: float


class ProbeFilter:
    """Variance of a depletion, and the biases of some probes with all their covariances.

    The depletion itself is the ledger's. Its place in the matrix is 0, a probe's is its own, from 1 on.
    """

    def __init__(self, variance_mm2: float) -> None:
        self._covariance = [[variance_mm2]]
        self._bias_mm = [0.0]

    @property
    def variance_mm2(self) -> float:
        """Of the depletion."""
        return self._covariance[0][0]

    @property
    def error_mm(self) -> float:
        """Standard error of the depletion."""
        return math.sqrt(max(0.0, self._covariance[0][0]))

    def bias_mm(self, probe: int) -> float:
        """How much drier than it is a probe reads the soil."""
        return self._bias_mm[probe]

    def bias_variance_mm2(self, probe: int) -> float:
        """Of that bias."""
        return self._covariance[probe][probe]

    def add_probe(self, bias_variance_mm2: float) -> int:
        """Begin to follow a probe of which nothing is known but how far such probes are off; its place."""
        for row in self._covariance:
            row.append(0.0)
        self._covariance.append([0.0] * len(self._bias_mm) + [bias_variance_mm2])
        self._bias_mm.append(0.0)
        return len(self._bias_mm) - 1

    def forget(self, probe: int, bias_variance_mm2: float) -> None:
        """Take a probe as a new one, as where it was moved."""
        for row in self._covariance:
            row[probe] = 0.0
        self._covariance[probe] = [0.0] * len(self._bias_mm)
        self._covariance[probe][probe] = bias_variance_mm2
        self._bias_mm[probe] = 0.0

    def pass_on(self, left_share: float, new_variance_mm2: float, most_mm2: float) -> None:
        """Carry the depletion's error across a day: so much of it is left, and so much comes to it.

        The error of a day's water adds to what there was; soil that is full, or so dry that plants
        use less, forgets. No error is larger than its store lets it be.
        """
        covariance = self._covariance
        if left_share != 1.0:
            covariance[0] = [left_share * value for value in covariance[0]]
            for row in covariance:
                row[0] *= left_share
        covariance[0][0] += new_variance_mm2
        if covariance[0][0] > most_mm2:
            # All covariances of the depletion shrink with its error, so that the matrix stays one.
            self.pass_on(math.sqrt(most_mm2 / covariance[0][0]), 0.0, math.inf)

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
            self._bias_mm[place] += gain * found_mm
            row = covariance[place]
            for other, value in enumerate(seen):
                row[other] -= gain * value
        self._bias_mm[0] = 0.0
        return Believed(gains[0], gains[0] * found_mm)
