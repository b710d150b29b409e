"""Simulated cases as the frames that definitions and answers work on."""

from collections.abc import Iterable, Iterator
from datetime import date
from typing import Any

import pandas as pd

from analytics.endpoints.definition import Data
from analytics.simulation.records import SimCase, SimFilm, SimVisit

LENGTHS = ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct", "translation_pct")


def data_of(
    cases: Iterable[SimCase],
    until: date,
    *,
    without_error: bool = False,
    planned_only: bool = False,
) -> Data:
    """Return the frames of some cases up to a day.

    `without_error` takes the true length instead of each reading; `planned_only` leaves out the
    films that were taken because something was wrong.
    """
    kept = list(cases)
    rows: dict[str, list[dict[str, Any]]] = {"cases": [], "readings": [], "complications": []}
    for case in kept:
        visits = [visit for visit in _visits(case) if visit.step or not planned_only]
        rows["cases"].append(_case(case, visits))
        rows["readings"] += _readings(case, visits, without_error)
        rows["complications"] += [
            {
                "procedure_id": case.number,
                "kind": event["kind"],
                "onset_on": event["onset_latest"],
                "detected_on": event["detected_on"],
            }
            for event in case.complications
        ]
    readings = _dated(pd.DataFrame(rows["readings"]), "taken_on")
    readings[list(LENGTHS)] = readings[list(LENGTHS)].astype(float)
    readings["reading_id"] = range(len(readings))
    days = ("performed_on", "status_on", "revised_on", "removed_on", "last_seen_on")
    return Data(
        cases=_dated(pd.DataFrame(rows["cases"]), *days).set_index("procedure_id"),
        readings=readings,
        complications=_dated(pd.DataFrame(rows["complications"]), "onset_on", "detected_on"),
        cutoff=until,
    )


def _visits(case: SimCase) -> Iterator[SimVisit]:
    yield from case.visits
    for later in case.later:
        yield from later.visits


def _case(case: SimCase, visits: list[SimVisit]) -> dict[str, Any]:
    revision, removal = case.first_later("revision_fixation"), case.first_later("implant_removal")
    return {
        "procedure_id": case.number,
        "construct_type": case.construct_type,
        "site": case.site,
        "performed_on": case.performed_on,
        "injury_kind": case.injury["kind"],
        "other_shoulder": case.injury["other_shoulder"],
        "patient_status": case.status,
        "status_on": case.status_on,
        "revised_on": revision.on if revision else None,
        "removed_on": removal.on if removal else None,
        "last_seen_on": max((visit.on for visit in visits), default=None),
    }


def _readings(
    case: SimCase, visits: list[SimVisit], without_error: bool
) -> Iterator[dict[str, Any]]:
    for visit in visits:
        film = visit.film
        if film is None:
            continue
        for reading in film.readings[:1] if without_error else film.readings:
            yield {
                "procedure_id": case.number,
                "film_id": case.number * 10_000_000 + film.taken_on.toordinal(),
                "taken_on": film.taken_on,
                "view": film.view,
                "position": film.posture,
                "calibrated": film.calibration in ("marker", "detector"),
                "ccd_injured_mm": _length(film, reading.ccd_injured_mm, without_error),
                "ccd_other_mm": reading.ccd_other_mm,
                "ccd_side_ratio_pct": reading.ccd_side_ratio_pct,
                "translation_pct": reading.translation_pct,
                "union": reading.union,
                "hardware": reading.hardware,
                "reader_id": reading.reader,
            }


def _length(film: SimFilm, read: float | None, without_error: bool) -> float | None:
    return film.true_ccd_mm if without_error and read is not None else read


def _dated(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    for name in columns:
        frame[name] = pd.to_datetime(frame[name]).astype("datetime64[ns]")
    return frame
