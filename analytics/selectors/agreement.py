"""What readers said of the same films, and whose names may stand beside it."""

from collections.abc import Collection
from dataclasses import dataclass

import pandas as pd

from analytics.answers import agreement, double_readings
from analytics.answers.agreement import MEASUREMENTS, AgreementAnswer, Measurement
from analytics.answers.double_readings import Pairs
from analytics.selectors.outcomes import Given
from followup.selectors import reading_policies
from followup.selectors.second_readings import taken_by
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.selectors.visible import Viewer, site_ids

YOU = "you"


@dataclass(frozen=True)
class Agreeing:
    """The films of a view that were read twice, and how well the readings agree."""

    pairs: Pairs
    answer: AgreementAnswer


def measurement_of(code: str) -> Measurement:
    """Return the measurement that an address names.

    Raises BadInput.
    """
    if not code:
        return next(iter(MEASUREMENTS.values()))
    if code not in MEASUREMENTS:
        raise BadInput({"measurement": f"'{code}' is not one of {', '.join(MEASUREMENTS)}"})
    return MEASUREMENTS[code]


def agreeing(view: Given, user: Viewer, sites: Collection[Site]) -> Agreeing:
    """Answer 'Do the readers agree?' for a view.

    Whoever may not see readers at every one of these sites is shown themself alone.
    """
    found = pairs_of(view)
    return Agreeing(found, agreement.answer(found, reader_names(found, user, sites)))


def pairs_of(view: Given) -> Pairs:
    """Return the films of a view that were read twice."""
    return double_readings.pairs(view.data.readings, view.data.cases["site"].astype(object))


def reader_names(found: Pairs, user: Viewer, sites: Collection[Site]) -> dict[int, str]:
    """Return what the readers are called who may be shown: all, or oneself."""
    keys = {
        int(key)
        for side in ("first_reader", "second_reader")
        for key in pd.unique(found.table[side])
    }
    if not {site.pk for site in sites} <= set(site_ids(user, "see_readers")):
        return {user.pk: YOU} if user.pk in keys else {}
    rows = list(Person.objects.filter(pk__in=keys))
    shown = [str(row) for row in rows]
    return {
        row.pk: str(row) if shown.count(str(row)) == 1 else f"{row} ({row.username})"
        for row in rows
    }


def assumed_change(sites: Collection[Site]) -> float | None:
    """Return the minimal detectable change that some sites assume, in mm; None where they differ."""
    found = set(reading_policies.detectable_changes([site.pk for site in sites]).values())
    return found.pop() if len(found) == 1 else None


def apart_films(view: Given, measurement: Measurement, user: Viewer) -> pd.DataFrame:
    """Return the films of a view by how far their readings lie apart, the farthest first.

    Without those that this person is about to read themself.
    """
    found = agreement.differences(pairs_of(view), measurement)
    mine = list(taken_by(user).values_list("film_id", flat=True)) if user.pk else []
    return found.loc[~found["film_id"].isin(mine)]
