"""Rows -> frames: with the modules beside it the only place that reads the rooms below.

The same number of queries whatever the number of procedures. No identity table is read: a patient
is a key. Unknown, not done and not applicable stay three values: as codes, or in a column `missing`
beside a number.
"""

from collections.abc import Callable, Collection
from datetime import date
from functools import cached_property
from typing import Any

import pandas as pd

from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import VERDICT_COLUMNS, Data, EndpointDefinition
from analytics.endpoints.rules_hash import rules_hash
from analytics.selectors import (
    frame_cases,
    frame_events,
    frame_films,
    frame_function,
    frame_reviews,
)

Load = Callable[[str], pd.DataFrame | None]
NAMES = (
    "cases",
    "readings",
    "findings",
    "complications",
    "reoperations",
    "reviews",
    "motion",
    "scores",
    "asked",
    "questions",
)


class Frames:
    """What endpoint definitions and answers work on, for one set of sites up to a cut-off.

    Frames that were frozen are read when they are first asked for. They are shared by whoever asks
    next: never change one in place.
    """

    cases: pd.DataFrame
    readings: pd.DataFrame
    findings: pd.DataFrame
    complications: pd.DataFrame
    reoperations: pd.DataFrame
    reviews: pd.DataFrame
    motion: pd.DataFrame
    scores: pd.DataFrame
    asked: pd.DataFrame
    questions: pd.DataFrame

    def __init__(self, cutoff: date, load: Load | None = None, **tables: pd.DataFrame) -> None:
        """Take the cut-off and the frames by name, or what loads one by its name."""
        self.cutoff = cutoff
        # Of the snapshot that they came from; '' for frames that were just built.
        self.hash = ""
        self._load = load
        self.__dict__.update(tables)
        self._verdicts: dict[tuple[str, int], pd.DataFrame] = {}

    def __getattr__(self, name: str) -> pd.DataFrame:
        """Load a frame when it is first asked for; one that was never taken is empty."""
        if name not in NAMES:
            raise AttributeError(f"there is no frame '{name}'; there are {', '.join(NAMES)}")
        found = self._load(name) if self._load is not None else None
        table = pd.DataFrame() if found is None else found
        self.__dict__[name] = table
        return table

    @cached_property
    def whole(self) -> Data:
        """The data of all cases, which definitions are applied to."""
        return Data(self.cases, self.readings, self.complications, self.cutoff)

    def verdicts(self, definition: EndpointDefinition) -> pd.DataFrame:
        """Return a definition's verdicts on all cases, stored beside them or worked out once."""
        key = (definition.id, definition.version)
        if key not in self._verdicts:
            stored = self._load(verdicts_name(definition)) if self._load is not None else None
            if stored is None or not set(VERDICT_COLUMNS) <= set(stored):
                stored = apply(definition, self.whole).verdicts
            self._verdicts[key] = stored
        return self._verdicts[key]


def verdicts_name(definition: EndpointDefinition) -> str:
    """Return the name under which a definition's verdicts are stored beside the frames.

    It tells the rules that made them, so that a changed rule never shows an older one's verdicts.
    """
    return f"verdicts:{definition.id}:{definition.version}:{rules_hash()[:12]}"


def build(site_ids: "list[int] | None", cutoff: date) -> Frames:
    """Read the frames of some sites (None: of all) up to and including a day."""
    cases = frame_cases.cases(site_ids, cutoff)
    readings = frame_films.readings(cases, cutoff)
    reviews = frame_reviews.reviews(cases, frame_films.films(cases, cutoff), cutoff)
    reoperations = frame_events.reoperations(cases, cutoff)
    cases = frame_cases.with_course(cases, reoperations, reviews)
    cases["last_seen_on"] = _last_seen(cases, readings, reviews)
    return Frames(
        # Until when a patient lets anything count is not for the figures; what it left is.
        cases=cases.drop(columns="counts_until"),
        readings=readings,
        findings=frame_films.findings(cases, cutoff),
        complications=frame_events.complications(cases, cutoff),
        reoperations=reoperations,
        reviews=reviews,
        cutoff=cutoff,
        motion=frame_function.motion(cases, reviews, cutoff),
        scores=frame_function.scores(cases, reviews, cutoff),
        asked=frame_reviews.asked(reviews, cases, cutoff),
        questions=frame_events.questions(cases, cutoff),
    )


def of_cases(keys: Collection[int], cutoff: date) -> Data:
    """Read what definitions of films ask about some few cases up to a day, as it stands this moment.

    Three queries. Complications are left out, so harms cannot be judged on it; cases whose patients
    are in no figure by their own choice are among them.
    """
    cases = frame_cases.judged(keys, cutoff)
    cases = frame_cases.with_later(cases, frame_events.later_operations(cases, cutoff))
    readings = frame_films.readings(cases, cutoff, few=True)
    return Data(cases, readings, pd.DataFrame(), cutoff)


def opted_out(cutoff: date) -> dict[str, int]:
    """Return by site how many operations are left out of every figure: their patients withdrew wholly."""
    return frame_cases.opted_out(cutoff)


def _last_seen(
    cases: pd.DataFrame, readings: pd.DataFrame, reviews: pd.DataFrame
) -> "pd.Series[Any]":
    """Return the last day on which a patient was seen or filmed, at the latest the cut-off."""
    films = readings.groupby("procedure_id")["taken_on"].max().reindex(cases.index)
    visits = reviews.groupby("procedure_id")["attended_on"].max().reindex(cases.index)
    return pd.concat([films, visits], axis=1).max(axis=1)
