"""Rows -> frames: with the modules beside it the only place that reads the rooms below.

The same number of queries whatever the number of procedures. No identity table is read: a patient
is a key. Unknown, not done and not applicable stay three values: as codes, or in a column `missing`
beside a number.
"""

from dataclasses import dataclass, field
from datetime import date
from typing import Any

import pandas as pd

from analytics.selectors import (
    frame_cases,
    frame_events,
    frame_films,
    frame_function,
    frame_reviews,
)


@dataclass(frozen=True)
class Frames:
    """What endpoint definitions and answers work on, for one set of sites up to a cut-off."""

    cases: pd.DataFrame
    readings: pd.DataFrame
    complications: pd.DataFrame
    reoperations: pd.DataFrame
    reviews: pd.DataFrame
    cutoff: date
    motion: pd.DataFrame = field(default_factory=pd.DataFrame)
    scores: pd.DataFrame = field(default_factory=pd.DataFrame)
    asked: pd.DataFrame = field(default_factory=pd.DataFrame)


def build(site_ids: "list[int] | None", cutoff: date) -> Frames:
    """Read the frames of some sites (None: of all) up to and including a day."""
    cases = frame_cases.cases(site_ids, cutoff)
    readings = frame_films.readings(cases, cutoff)
    reviews = frame_reviews.reviews(cases, frame_films.films(cases, cutoff), cutoff)
    reoperations = frame_events.reoperations(cases, cutoff)
    cases = frame_cases.with_course(cases, reoperations, reviews)
    cases["last_seen_on"] = _last_seen(cases, readings, reviews)
    return Frames(
        cases=cases,
        readings=readings,
        complications=frame_events.complications(cases, cutoff),
        reoperations=reoperations,
        reviews=reviews,
        cutoff=cutoff,
        motion=frame_function.motion(cases, reviews, cutoff),
        scores=frame_function.scores(cases, reviews, cutoff),
        asked=frame_reviews.asked(reviews, cutoff),
    )


def opted_out(cutoff: date) -> dict[str, int]:
    """Return by site how many operations are left out of every figure by their patients' choice."""
    return frame_cases.opted_out(cutoff)


def _last_seen(
    cases: pd.DataFrame, readings: pd.DataFrame, reviews: pd.DataFrame
) -> "pd.Series[Any]":
    """Return the last day on which a patient was seen or filmed, at the latest the cut-off."""
    films = readings.groupby("procedure_id")["taken_on"].max().reindex(cases.index)
    visits = reviews.groupby("procedure_id")["attended_on"].max().reindex(cases.index)
    return pd.concat([films, visits], axis=1).max(axis=1)
