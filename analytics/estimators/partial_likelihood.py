"""Cox's partial likelihood with ties and delayed entry."""

from dataclasses import dataclass
from typing import Literal, Self

import numpy as np
from numpy.typing import NDArray

from analytics.estimators.inputs import Codes, Floats
from analytics.estimators.likelihood import Point

Ties = Literal["efron", "breslow"]
# The least weight of all at risk, beside the greatest of one, that can still be divided by.
LEAST = 1e-200


@dataclass(frozen=True)
class PartialLikelihood:
    """The log partial likelihood of some subjects, as a function of the coefficients.

    Event times are numbered from 0. A subject is at risk at those from `first` up to, but not
    including, `after`; whoever has the event has it at the last of these. Each event is a factor
    of its own: `at` is its event time and `share` the part of those who have the event then that
    no longer count (Efron; 0 for Breslow).

    A pass costs one product of the covariates with themselves, whatever the number of event
    times: each subject's part in the information is its weight times the hazard it has met.

    References: Cox 1972; Breslow, Biometrics 1974;30:89; Efron, JASA 1977;72:557.
    """

    covariates: Floats
    happened: NDArray[np.bool_]
    first: Codes
    after: Codes
    at: Codes
    share: Floats

    @classmethod
    def of(
        cls,
        times: Floats,
        happened: NDArray[np.bool_],
        entered: Floats | None,
        covariates: Floats,
        ties: Ties,
    ) -> Self:
        """Return it for subjects at risk in (entered, time]; at least one has the event."""
        points = np.unique(times[happened])
        after = np.searchsorted(points, times, side="right")
        first = np.zeros(times.size, dtype=np.intp)
        if entered is not None:
            first = np.searchsorted(points, entered, side="right")
        number = np.bincount(after[happened] - 1, minlength=points.size)
        at = np.repeat(np.arange(points.size), number)
        place = np.arange(at.size) - np.repeat(np.cumsum(number) - number, number)
        share = place / number[at] if ties == "efron" else np.zeros(at.size)
        return cls(covariates, happened, first, after, at, share)

    def __call__(self, coefficients: Floats) -> Point:
        """Return the log partial likelihood, its gradient and its information."""
        score = self.covariates @ coefficients
        shift = float(score.max())
        weight = np.exp(score - shift)
        weighted = weight[:, None] * self.covariates
        columns = np.column_stack([weight, weighted])
        sums = self._at_risk(columns)[self.at] - self.share[:, None] * self._dying(columns)[self.at]
        mass = sums[:, 0]
        if not (mass > LEAST).all():
            # Beyond what floats can tell apart; a smaller step is asked for.
            return Point(-np.inf, np.zeros_like(coefficients), np.eye(coefficients.size))
        value = score[self.happened].sum() - np.log(mass).sum() - shift * mass.size
        met = weight * self._hazard_met(1 / mass)
        means = sums[:, 1:] / mass[:, None]
        gradient = (self.happened - met) @ self.covariates
        information = (met[:, None] * self.covariates).T @ self.covariates - means.T @ means
        return Point(float(value), gradient, information)

    def _at_risk(self, columns: Floats) -> Floats:
        size = int(self.at[-1]) + 1
        leaving, joining = _added(self.after, columns, size), _added(self.first, columns, size)
        # The sum of those who leave later, less those who join later.
        found: Floats = (leaving - joining)[::-1].cumsum(axis=0)[::-1][1:]
        return found

    def _dying(self, columns: Floats) -> Floats:
        found: Floats = _added(
            self.after[self.happened], columns[self.happened], int(self.at[-1]) + 1
        )
        return found[1:]

    def _hazard_met(self, hazard: Floats) -> Floats:
        size = int(self.at[-1]) + 1
        summed = np.concatenate([[0.0], np.bincount(self.at, hazard, size).cumsum()])
        met = summed[self.after] - summed[self.first]
        spared = np.bincount(self.at, self.share * hazard, size)
        met[self.happened] -= spared[self.after[self.happened] - 1]
        found: Floats = met
        return found


def _added(place: Codes, columns: Floats, size: int) -> Floats:
    return np.column_stack([np.bincount(place, one, size + 1) for one in columns.T])
