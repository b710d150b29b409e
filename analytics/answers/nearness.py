"""How near one case stands to its loss: over the threshold, or within measurement error of it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

from analytics.endpoints.definition import Applied, EndpointDefinition
from analytics.endpoints.reduction import TOLERANCE
from analytics.endpoints.verdicts import table

Level = Literal["lost", "near"]
# The minimal detectable change in mm that a definition is read with; None where none is known.
Mdc = Callable[[EndpointDefinition], float | None]
IN_MM = ("rise_mm", "side_difference_mm")


@dataclass(frozen=True)
class Standing:
    """What a case's films say now: the level, the film that says so, and its number.

    `measure` and `error`, one minimal detectable change, are in the unit of the threshold; `measure`
    is None where hardware that let go decided, `error` where it is not known on that film.
    """

    level: Level
    film_id: int
    measure: float | None
    error: float | None


def shipped_mdc(definition: EndpointDefinition) -> float | None:
    """Return the minimal detectable change that ships with a definition, in mm."""
    return definition.mdc_mm


def error_on(
    definition: EndpointDefinition, film: "pd.Series[Any]", mdc_mm: float | None
) -> float | None:
    """Return one minimal detectable change on a film, in the unit of the definition's threshold.

    In per cent of the other side where the definition compares sides, which asks for its millimetres.
    """
    if mdc_mm is None:
        return None
    if definition.rule in IN_MM:
        return mdc_mm
    other = film.get("ccd_other_mm")
    if definition.rule != "side_ratio_pct" or pd.isna(other) or other <= 0:
        return None
    return float(mdc_mm / other * 100)


def standing(applied: Applied, key: int, mdc: Mdc = shipped_mdc) -> Standing | None:
    """Return how a case stands, or None where its films hold, cannot tell, or tell of the past.

    Near is what the last comparable day's films show from one minimal detectable change below the
    threshold on, that itself included, when it has moved there since the first film. After a
    revision or a death there is nothing left to be warned of. Raises KeyError for another's key.
    """
    mine = applied.of([key])
    verdict: Any = table(mine).loc[key]
    raw: Any = mine.verdicts.loc[key]
    if pd.notna(raw["competing_on"]) or not verdict["evaluable"]:
        return None
    if verdict["verdict"] == applied.definition.happened:
        return _stands(mine, "lost", verdict["event_film"], mdc)
    return _near(mine, verdict["baseline_film"], mdc)


def _near(mine: Applied, baseline: int, mdc: Mdc) -> Standing | None:
    films = mine.films.loc[mine.films["measure"].notna()]
    later = films.loc[films["film_id"] != baseline]
    if later.empty:
        return None
    last = later.loc[later["taken_on"] == later["taken_on"].max()]
    film = last.loc[last["measure"].idxmax()]
    error = error_on(mine.definition, film, mdc(mine.definition))
    first = films.loc[films["film_id"] == baseline, "measure"]
    moved = first.empty or film["measure"] > first.iloc[0] + TOLERANCE
    least = mine.definition.threshold - (error or 0.0) - TOLERANCE
    if not moved or film["measure"] < least or (error is None and not film.get("awaits", False)):
        return None
    return Standing("near", int(film["film_id"]), float(film["measure"]), error)


def _stands(mine: Applied, level: Level, film_id: int, mdc: Mdc) -> Standing:
    film = mine.films.loc[mine.films["film_id"] == film_id].iloc[0]
    measure = None if pd.isna(film["measure"]) else float(film["measure"])
    error = error_on(mine.definition, film, mdc(mine.definition))
    return Standing(level, int(film_id), measure, error)
