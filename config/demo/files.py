"""A simulated case as a row of a case import: the same service, as its own sheets would hold it."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from analytics.simulation import setting
from analytics.simulation.cohort import bad_rows
from analytics.simulation.records import SimCase, SimFilm, SimVisit
from config.demo.load import Wanted, simulated
from followup.rules.case_columns.catalogue import COLUMNS
from followup.rules.case_columns.followed import TIMEPOINTS
from registry.exchange.sheets import write_rows
from registry.rules import dates

NAMES = tuple(column.name for column in COLUMNS)
SCORES = {"pain": "pain_nrs", "quickdash": "quickdash", "constant": "constant"}
MOTION = ("flexion_deg", "abduction_deg", "external_rotation_deg")
COMPLICATIONS = 3
ENDINGS = {"died": "died_on", "withdrawn": "withdrew_on", "moved": "moved_on"}


def write(folder: Path, wanted: Wanted, until: date) -> Iterator[tuple[Path, int]]:
    """Write a sheet for each site; yield its path and how many rows it has.

    The first site's sheet has mistyped rows among the good ones. Raises BadInput for a size that
    makes no sense, OSError where the folder cannot be written.
    """
    cases = list(simulated(wanted, until))
    for number, site in enumerate(setting.sites(wanted.sites)):
        path = folder / f"cases_{site.code}.csv"
        with path.open("w", newline="", encoding="utf-8") as target:
            rows = rows_of(cases, number, wanted.seed, mistyped=number == 0)
            yield path, write_rows(target, NAMES, rows)


def rows_of(
    cases: Sequence[SimCase], site: int, seed: int, *, mistyped: bool
) -> Iterator[tuple[str, ...]]:
    """Yield a site's cases as rows in the order of the import's columns, oldest first.

    With `mistyped`, rows that each break one rule stand between them, at even distances.
    """
    own = [case for case in cases if case.site == site]
    wrong = [one.row for one in bad_rows(NAMES, seed=seed)] if mistyped else []
    every = max(1, len(own) // (len(wrong) + 1))
    for number, case in enumerate(own, start=1):
        row = row_of(case)
        yield tuple(row.get(name, "") for name in NAMES)
        if wrong and number % every == 0:
            bad = wrong.pop(0)
            yield tuple(bad[name] for name in NAMES)


def row_of(case: SimCase) -> dict[str, str]:
    """Return the cells of a case by column; what a row has no column for is left out."""
    identity, injury = case.identity, case.injury
    cells: dict[str, Any] = {
        **{name: identity[name] for name in ("family_name", "given_name", "sex", "phone")},
        **{name: value for name, value in injury.items() if name in NAMES},
        **{name: value for name, value in case.operation.items() if name in NAMES},
        **{name: value for name, value in case.construct.values.items() if name in NAMES},
        **case.classes,
        "local_id": case.identifiers[0][1],
        "birth_date": _bounds(identity["birth_earliest"], identity["birth_latest"]),
        "injury_kind": injury["kind"],
        "injury_date": _bounds(injury["injured_earliest"], injury["injured_latest"]),
        "bmi": injury["bmi_kg_m2"],
        "procedure_date": case.performed_on,
        "construct_type": case.construct_type,
        "departure_reason": case.construct.departure_reason,
        **_followed(case.visits),
        **_complications(case.complications),
        **_later(case),
    }
    if case.status in ENDINGS:
        cells[ENDINGS[case.status]] = case.status_on
    return {name: _written(value) for name, value in cells.items()}


def _followed(visits: Sequence[SimVisit]) -> dict[str, Any]:
    by_step = {visit.step: visit for visit in visits}
    films = [visit.film for visit in visits if visit.film]
    cells: dict[str, Any] = {}
    if films:
        cells |= {"film_posture": films[0].posture, "film_weighted": films[0].weighted}
        cells["film_calibration"] = films[0].calibration
    first = by_step.get("baseline")
    if first is not None and first.film is not None:
        cells |= {"baseline_film_date": first.on, **_film("baseline", first.film)}
    for timepoint in TIMEPOINTS:
        visit = by_step.get(timepoint)
        if visit is not None:
            cells |= _visit(f"f{timepoint}", visit)
    return cells


def _visit(prefix: str, visit: SimVisit) -> dict[str, Any]:
    cells: dict[str, Any] = {f"{prefix}_date": visit.on}
    if visit.film is not None:
        read = visit.film.readings[0]
        cells |= _film(prefix, visit.film)
        cells |= {f"{prefix}_union": read.union, f"{prefix}_hardware": read.hardware}
    for exam in visit.motion[:1]:
        cells |= {f"{prefix}_{name}": getattr(exam, name) for name in MOTION}
    for column, instrument in SCORES.items():
        cells[f"{prefix}_{column}"] = visit.scores.get(instrument)
    return cells


def _film(prefix: str, film: SimFilm) -> dict[str, Any]:
    read = film.readings[0]
    return {
        f"{prefix}_view": film.view,
        f"{prefix}_ccd_injured_mm": read.ccd_injured_mm,
        f"{prefix}_ccd_other_mm": read.ccd_other_mm,
        f"{prefix}_ccd_ratio_pct": read.ccd_side_ratio_pct,
    }


def _complications(events: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    cells: dict[str, Any] = {}
    for number, event in enumerate(events[:COMPLICATIONS], start=1):
        prefix = f"complication_{number}"
        cells |= {
            f"{prefix}_kind": event["kind"],
            f"{prefix}_date": event["detected_on"],
            f"{prefix}_grade": event["grade"],
            f"{prefix}_relation": event["relation"],
        }
    return cells


def _later(case: SimCase) -> dict[str, Any]:
    cells: dict[str, Any] = {}
    revision = case.first_later("revision_fixation")
    if revision is not None and revision.construct is not None:
        cells["revision_date"] = revision.on
        cells["revision_construct_type"] = revision.construct.construct_type
    removal = case.first_later("implant_removal")
    if removal is not None:
        cells["removal_date"] = removal.on
        cells["removal_planned"] = "yes" if removal.planned else "no"
    return cells


def _bounds(earliest: date, latest: date) -> str:
    return dates.written(dates.Bounds(earliest, latest))


def _written(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, date):
        return value.isoformat()
    return f"{value:g}" if isinstance(value, float) else str(value)
