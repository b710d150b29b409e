"""Did it hold? One case under one definition: its films, those that decided, and what came first."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

import pandas as pd

from analytics.answers.nearness import Mdc, Standing, error_on, shipped_mdc, standing
from analytics.endpoints.catalogue import apply
from analytics.endpoints.definition import NO_FILM, Applied, Data, EndpointDefinition
from analytics.endpoints.verdicts import table

State = Literal["lost", "held", "first film only", "no film", "not evaluable"]
VIEWS: Mapping[str, str] = {
    "ap": "AP",
    "zanca": "Zanca",
    "axillary": "axillary",
    "chest": "chest",
    "other": "other",
}
LATER: Mapping[str, str] = {"revised_on": "revision", "removed_on": "hardware out"}
ENDED: Mapping[str, str] = {"died": "died", "withdrawn": "withdrew", "moved": "moved away"}


@dataclass(frozen=True)
class SeenFilm:
    """One film of the case that somebody has read.

    `day` counts from the operation. `measure` is the number that is compared with the threshold, in
    its unit, None where there is none; `before` and `now` are the two lengths in mm behind it. `apart`
    says why a film is not compared, '' where it is. `error` is one minimal detectable change on it, in
    the unit of the threshold.
    """

    film_id: int
    taken_on: date
    day: int
    view: str
    measure: float | None
    now: float | None
    before: float | None
    lost: bool
    lifted: bool
    apart: str
    error: float | None

    @property
    def words(self) -> str:
        """The film as a sentence names it."""
        return f"the {self.view} film of {self.taken_on.day} {self.taken_on:%b %Y} (day {self.day})"


@dataclass(frozen=True)
class CaseVerdict:
    """A case under a definition.

    `why_not` is a code of REASONS where it cannot be judged, `open_because` one where its films leave
    the event open. `competing` and `competing_on` are what else ended the case for its films: before
    the event or, where it was lost, after it; '' and None where nothing did.
    """

    definition: EndpointDefinition
    state: State
    why_not: str
    open_because: str
    partial: bool
    baseline: SeenFilm | None
    last_held: SeenFilm | None
    first_lost: SeenFilm | None
    competing: str
    competing_on: date | None
    films: tuple[SeenFilm, ...]
    standing: Standing | None

    @property
    def decided_by(self) -> SeenFilm | None:
        """The film whose number the verdict rests on."""
        return self.first_lost or self.last_held


def judged(
    data: Data, key: int, definitions: Sequence[EndpointDefinition], mdc: Mdc = shipped_mdc
) -> tuple[CaseVerdict, ...]:
    """Return a case's verdict under each of some definitions of films, by their own code.

    Raises KeyError for a key that is not among the cases.
    """
    return tuple(verdict_of(apply(one, data), data, key, mdc) for one in definitions)


def verdict_of(applied: Applied, data: Data, key: int, mdc: Mdc = shipped_mdc) -> CaseVerdict:
    """Return a case's verdict under a definition that was applied to some data.

    Raises KeyError for a key that is not among the cases.
    """
    mine = applied.of([key])
    row: Any = table(mine).loc[key]
    raw: Any = mine.verdicts.loc[key]
    films = _films(mine, data, key, mdc)
    by_id = {one.film_id: one for one in films}
    baseline, held, lost = (
        by_id.get(int(row[name])) for name in ("baseline_film", "seen_film", "event_film")
    )
    # Which film would have decided says nothing where the case cannot be judged.
    evaluable = bool(row["evaluable"])
    happened = bool(row["verdict"] == applied.definition.happened)
    return CaseVerdict(
        definition=applied.definition,
        state=_state(row, happened),
        why_not=str(row["why_not"]),
        open_because=str(raw["unknown"]),
        partial=bool(row["extent"] == "partial"),
        baseline=baseline,
        last_held=held if evaluable else None,
        first_lost=lost if happened else None,
        competing=str(raw["competing"]),
        competing_on=_day(raw["competing_on"]),
        films=films,
        standing=standing(applied, key, mdc),
    )


def happenings(data: Data, key: int) -> tuple[tuple[date, str], ...]:
    """Return what else is known to have come after a case's operation, in order: its day and its words.

    Raises KeyError for a key that is not among the cases.
    """
    case: Any = data.cases.loc[key]
    found = [(_day(case[name]), words) for name, words in LATER.items()]
    if case["patient_status"] != "active":
        found.append((_day(case["status_on"]), ENDED.get(case["patient_status"], "left")))
    return tuple(sorted((on, words) for on, words in found if on is not None))


def _state(row: Any, happened: bool) -> State:
    if not row["evaluable"]:
        return "not evaluable"
    if happened:
        return "lost"
    if row["seen_film"] == NO_FILM:
        return "no film"
    return "first film only" if row["seen_film"] == row["baseline_film"] else "held"


def _films(mine: Applied, data: Data, key: int, mdc: Mdc) -> tuple[SeenFilm, ...]:
    case: Any = data.cases.loc[key]
    every = data.films.loc[data.films["procedure_id"] == key]
    compared = mine.films.set_index("film_id")
    baseline = _baseline(mine, key, every)
    found = []
    for row in every.to_dict("records"):
        known = row["film_id"] in compared.index
        film: Any = compared.loc[row["film_id"]] if known else pd.Series(row)
        found.append(_seen(mine.definition, film, row, case, baseline, known, mdc))
    return tuple(found)


def _seen(
    definition: EndpointDefinition,
    film: "pd.Series[Any]",
    row: Mapping[Any, Any],
    case: "pd.Series[Any]",
    baseline: Mapping[Any, Any] | None,
    known: bool,
    mdc: Mdc,
) -> SeenFilm:
    rises = definition.rule == "rise_mm"
    names = ("ccd_injured_mm", "ccd_injured_mm_before" if rises else "ccd_other_mm")
    if definition.rule == "displacement":
        names = ("translation_pct", "translation_pct_before")
    return SeenFilm(
        film_id=int(row["film_id"]),
        taken_on=row["taken_on"].date(),
        day=int((row["taken_on"] - case["performed_on"]).days),
        view=VIEWS.get(row["view"], row["view"]),
        measure=_number(film.get("measure")) if known else None,
        now=_number(film.get(names[0])),
        before=_number(film.get(names[1])),
        lost=bool(known and film["lost"]),
        lifted=bool(row["lifted"]),
        apart="" if known else _apart(definition, row, case, baseline),
        error=error_on(definition, film, mdc(definition)),
    )


def _apart(
    definition: EndpointDefinition,
    row: Mapping[Any, Any],
    case: "pd.Series[Any]",
    baseline: Mapping[Any, Any] | None,
) -> str:
    """Say why a film is not compared, the first reason that holds."""
    if row["taken_on"] < case["performed_on"]:
        return "before the operation"
    if pd.notna(case["revised_on"]) and row["taken_on"] >= case["revised_on"]:
        return "shows the revision"
    if not _told(definition, row):
        return "not measured in a way that this definition needs"
    if baseline is None:
        return "no first film to compare it with"
    if definition.same_view and row["view"] != baseline["view"]:
        return f"another view than the first film ({VIEWS.get(baseline['view'], '')})"
    if definition.same_posture and row["position"] != baseline["position"]:
        return f"another posture than the first film ({baseline['position']})"
    return "of the first film's own day"


def _told(definition: EndpointDefinition, row: Mapping[Any, Any]) -> bool:
    needs = {
        "rise_mm": ("ccd_injured_mm",),
        "side_difference_mm": ("ccd_injured_mm", "ccd_other_mm"),
        "side_ratio_pct": ("ratio_pct",),
        "displacement": ("translation_pct",),
    }.get(definition.rule, ())
    return all(pd.notna(row[name]) for name in needs)


def _baseline(mine: Applied, key: int, films: pd.DataFrame) -> Mapping[Any, Any] | None:
    first = films.loc[films["film_id"] == mine.verdicts.loc[key, "baseline_film"]]
    return None if first.empty else first.iloc[0].to_dict()


def _number(value: Any) -> float | None:
    return None if value is None or pd.isna(value) else float(value)


def _day(moment: Any) -> date | None:
    return None if pd.isna(moment) else moment.date()
