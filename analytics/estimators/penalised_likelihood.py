"""The logistic likelihood with Firth's penalty."""

from dataclasses import dataclass
from typing import Self

import numpy as np
from scipy.special import expit

from analytics.estimators.inputs import Floats
from analytics.estimators.likelihood import Point


@dataclass(frozen=True)
class PenalisedLogistic:
    """The logistic log-likelihood plus half the log determinant of the information.

    The penalty takes off the first-order bias and keeps every coefficient finite. The gradient
    is that of the sum; the information is the likelihood's own, which is what steps and standard
    errors rest on.

    References: Firth, Biometrika 1993;80:27-38; Heinze and Schemper, Stat Med 2002;21:2409-2419.
    """

    columns: Floats
    outcome: Floats
    number: Floats

    @classmethod
    def of(cls, columns: Floats, outcome: Floats) -> Self:
        """Return it for subjects, of whom those alike are counted together."""
        rows, number = np.unique(np.column_stack([columns, outcome]), axis=0, return_counts=True)
        return cls(rows[:, :-1], rows[:, -1], number.astype(float))

    def __call__(self, coefficients: Floats) -> Point:
        """Return the penalised log-likelihood, its gradient and the information."""
        score = self.columns @ coefficients
        risk = expit(score)
        information = self._information(risk * (1 - risk))
        with np.errstate(divide="ignore"):
            sign, log_determinant = np.linalg.slogdet(information)
        if sign <= 0 or not np.isfinite(log_determinant):
            # Beyond what floats can tell apart; a smaller step is asked for.
            return Point(-np.inf, np.zeros_like(coefficients), np.eye(coefficients.size))
        likelihood = -self.number @ np.logaddexp(0, np.where(self.outcome > 0, -score, score))
        leverage = self._leverage(risk, information)
        residual = self.outcome - risk + leverage * (0.5 - risk)
        gradient = (self.number * residual) @ self.columns
        return Point(float(likelihood + log_determinant / 2), gradient, information)

    def covariance(self, coefficients: Floats) -> Floats:
        """Return the covariance of the coefficients at the maximum.

        The penalty acts as if each subject came once more by its leverage, half with the event
        and half without; the information is that of the subjects with these additions.
        """
        risk = expit(self.columns @ coefficients)
        weight = risk * (1 - risk)
        leverage = self._leverage(risk, self._information(weight))
        inverse: Floats = np.linalg.inv(self._information(weight * (1 + leverage)))
        return inverse

    def _information(self, weight: Floats) -> Floats:
        found: Floats = ((self.number * weight)[:, None] * self.columns).T @ self.columns
        return found

    def _leverage(self, risk: Floats, information: Floats) -> Floats:
        spread = np.linalg.solve(information, self.columns.T).T
        found: Floats = risk * (1 - risk) * (spread * self.columns).sum(axis=1)
        return found
