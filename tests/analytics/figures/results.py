"""Answers to draw."""

from typing import Any

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import Answer, answer
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from tests.analytics.cohort import data, film

HELD, LOST, NOTHING = (700, 9.1), (90, 14.0), None


def cohort(groups: dict[str, tuple[int, int, int]]) -> Data:
    """Return groups of so many cases that held, were lost, and were not seen."""
    cases, films = [], []
    for group, (held, lost, unseen) in groups.items():
        for later in [HELD] * held + [LOST] * lost + [NOTHING] * unseen:
            cases.append({"construct_type": group})
            films.append(film(2, 9.0, procedure_id=len(cases)))
            if later is not None:
                films.append(film(*later, procedure_id=len(cases)))
    return data(cases, films)


def result(groups: dict[str, tuple[int, int, int]], **options: Any) -> Answer:
    """Return the answer for groups of so many cases that held, were lost, and were not seen."""
    return answer(cohort(groups), DEFINITIONS["rise-3mm"], HORIZONS["12m"], **options)
