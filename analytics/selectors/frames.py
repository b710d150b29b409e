"""Rows -> frames: the only place of the analytics that reads the rooms below.

Six queries whatever the number of procedures. No identity table is read: a patient is a key.
"""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from typing import Any

import pandas as pd
from django.db.models import Min, OuterRef, QuerySet, Subquery, Value
from django.db.models.functions import Coalesce

from followup.models import Complication, Reading, Review
from followup.models.films import CALIBRATED
from registry.models import Classification, Procedure
from registry.models.patients import Consent, ConsentDecision, ConsentPurpose, PatientStatus
from registry.models.procedures import ProcedureKind


@dataclass(frozen=True)
class Frames:
    """What endpoint definitions and answers work on, for one set of sites up to a cut-off."""

    cases: pd.DataFrame
    readings: pd.DataFrame
    complications: pd.DataFrame
    reoperations: pd.DataFrame
    reviews: pd.DataFrame
    cutoff: date


CASE_COLUMNS = (
    "procedure_id",
    "site",
    "surgeon_id",
    "construct_type",
    "performed_on",
    "injury_id",
    "patient_key",
    "side",
    "injury_kind",
    "age_years",
    "sex",
    "other_shoulder",
    "patient_status",
    "status_on",
    "revised_on",
    "removed_on",
    "planned_removal",
)
READING_COLUMNS = (
    "reading_id",
    "procedure_id",
    "film_id",
    "taken_on",
    "view",
    "position",
    "weighted",
    "calibrated",
    "ccd_injured_mm",
    "ccd_other_mm",
    "ccd_side_ratio_pct",
    "translation_pct",
    "union",
    "hardware",
    "reader_id",
)
COMPLICATION_COLUMNS = (
    "complication_id",
    "procedure_id",
    "kind",
    "onset_on",
    "detected_on",
    "grade",
    "relation",
)
REOPERATION_COLUMNS = ("procedure_id", "index_id", "kind", "performed_on", "planned_removal")
REVIEW_COLUMNS = (
    "procedure_id",
    "step",
    "horizon",
    "state",
    "complete",
    "due_on",
    "closes_on",
    "attended_on",
)


def build(site_ids: "list[int] | None", cutoff: date) -> Frames:
    """Read the frames of some sites (None: of all) up to and including a day."""
    index = _index_procedures(site_ids, cutoff)
    injuries = index.values("injury_id")
    readings, reviews = _readings(injuries, cutoff), _reviews(index)
    cases = _cases(index, cutoff)
    cases["last_seen_on"] = _last_seen(cases, readings, reviews, cutoff)
    return Frames(
        cases=cases,
        readings=readings,
        complications=_complications(injuries, cutoff),
        reoperations=_reoperations(injuries, cutoff),
        reviews=reviews,
        cutoff=cutoff,
    )


def _last_seen(
    cases: pd.DataFrame, readings: pd.DataFrame, reviews: pd.DataFrame, cutoff: date
) -> "pd.Series[Any]":
    """Return the last day on which a patient was seen or filmed, at the latest the cut-off."""
    films = readings.groupby("procedure_id")["taken_on"].max().reindex(cases.index)
    attended = reviews.loc[reviews["attended_on"] <= pd.Timestamp(cutoff)]
    visits = attended.groupby("procedure_id")["attended_on"].max().reindex(cases.index)
    return pd.concat([films, visits], axis=1).max(axis=1)


def _index_procedures(site_ids: "list[int] | None", cutoff: date) -> "QuerySet[Any]":
    rows: QuerySet[Any] = _operated(cutoff).exclude(registry_choice=ConsentDecision.OPTED_OUT)
    return rows if site_ids is None else rows.filter(site_id__in=site_ids)


def opted_out(cutoff: date) -> dict[str, int]:
    """Return by site how many operations are left out of every figure by their patients' choice."""
    rows = _operated(cutoff).filter(registry_choice=ConsentDecision.OPTED_OUT)
    return Counter(rows.values_list("site__code", flat=True))


def _operated(cutoff: date) -> "QuerySet[Any]":
    """Return all index procedures up to a day, each with its patient's last choice about the registry."""
    choices = Consent.objects.filter(
        patient=OuterRef("injury__patient"), purpose=ConsentPurpose.REGISTRY
    ).order_by("-decided_on", "-id")
    rows: QuerySet[Any] = Procedure.objects.filter(
        kind=ProcedureKind.FIXATION,
        performed_on__lte=cutoff,
        injury__voided_at__isnull=True,
        injury__patient__voided_at__isnull=True,
    ).annotate(registry_choice=Coalesce(Subquery(choices.values("decision")[:1]), Value("")))
    return rows


def _cases(index: "QuerySet[Any]", cutoff: date) -> pd.DataFrame:
    later = Procedure.objects.filter(injury=OuterRef("injury"), performed_on__lte=cutoff)
    first = {
        kind: Subquery(
            later.filter(kind=kind)
            .order_by()
            .values("injury")
            .annotate(first=Min("performed_on"))
            .values("first")
        )
        for kind in (ProcedureKind.REVISION_FIXATION, ProcedureKind.IMPLANT_REMOVAL)
    }
    rows = index.order_by("id").values_list(
        "id",
        "site__code",
        "surgeon_id",
        "construct__construct_type__code",
        "performed_on",
        "injury_id",
        "injury__patient__key",
        "injury__side",
        "injury__kind",
        "injury__age_years",
        "injury__sex",
        "injury__other_shoulder",
        "injury__patient__status",
        "injury__patient__status_on",
        first[ProcedureKind.REVISION_FIXATION],
        first[ProcedureKind.IMPLANT_REMOVAL],
        "construct__construct_type__planned_removal",
    )
    frame = pd.DataFrame.from_records(list(rows), columns=list(CASE_COLUMNS))
    frame = _dated(frame, "performed_on", "status_on", "revised_on", "removed_on")
    # What happened after the cut-off is not known yet at the cut-off.
    unknown_yet = frame["status_on"] > pd.Timestamp(cutoff)
    frame.loc[unknown_yet, "status_on"] = pd.NaT
    frame.loc[unknown_yet, "patient_status"] = PatientStatus.ACTIVE.value
    frame["surgeon_id"] = frame["surgeon_id"].astype("Int64")
    frame["age_years"] = frame["age_years"].astype("Int64")
    # A construct that is not recorded yet leaves its operation in the denominators.
    planned = frame["planned_removal"].astype("boolean")
    frame["planned_removal"] = planned.fillna(value=False).astype(bool)
    return _with_classes(frame.set_index("procedure_id"), index)


def _with_classes(cases: pd.DataFrame, index: "QuerySet[Any]") -> pd.DataFrame:
    rows = Classification.objects.filter(
        injury_id__in=index.values("injury_id"), superseded=False
    ).values_list("injury_id", "system", "code")
    classes = pd.DataFrame.from_records(list(rows), columns=["injury_id", "system", "code"])
    wide = classes.pivot(index="injury_id", columns="system", values="code")
    wide = wide.reindex(columns=["neer", "ao_ota", "rockwood"])
    wide.columns.name = None
    return cases.join(wide, on="injury_id")


def _readings(injuries: "QuerySet[Any]", cutoff: date) -> pd.DataFrame:
    rows = (
        Reading.objects.filter(
            film__injury__in=injuries,
            film__voided_at__isnull=True,
            film__taken_on__lte=cutoff,
            superseded_by__isnull=True,
        )
        .annotate(index_id=_index_of("film__injury"))
        .order_by("film__taken_on", "id")
        .values_list(
            "id",
            "index_id",
            "film_id",
            "film__taken_on",
            "film__view",
            "film__posture",
            "film__weighted",
            "film__calibration",
            "ccd_injured_mm",
            "ccd_other_mm",
            "ccd_side_ratio_pct",
            "translation_pct",
            "union",
            "hardware",
            "reader_id",
        )
    )
    frame = pd.DataFrame.from_records(list(rows), columns=list(READING_COLUMNS))
    frame["calibrated"] = frame["calibrated"].isin([str(code) for code in CALIBRATED])
    frame["weighted"] = frame["weighted"].map({"yes": True, "no": False}).astype("boolean")
    for name in ("ccd_injured_mm", "ccd_other_mm", "ccd_side_ratio_pct", "translation_pct"):
        frame[name] = pd.to_numeric(frame[name]).astype(float)
    return _dated(frame, "taken_on")


def _complications(injuries: "QuerySet[Any]", cutoff: date) -> pd.DataFrame:
    rows = (
        Complication.objects.filter(
            procedure__injury__in=injuries,
            procedure__voided_at__isnull=True,
            detected_on__lte=cutoff,
        )
        .annotate(index_id=_index_of("procedure__injury"))
        .order_by("detected_on", "id")
        .values_list("id", "index_id", "kind", "onset_latest", "detected_on", "grade", "relation")
    )
    frame = pd.DataFrame.from_records(list(rows), columns=list(COMPLICATION_COLUMNS))
    return _dated(frame, "onset_on", "detected_on")


def _reoperations(injuries: "QuerySet[Any]", cutoff: date) -> pd.DataFrame:
    rows = (
        Procedure.objects.filter(injury__in=injuries, performed_on__lte=cutoff)
        .exclude(kind=ProcedureKind.FIXATION)
        .annotate(index_id=_index_of("injury"))
        .order_by("performed_on", "id")
        .values_list("id", "index_id", "kind", "performed_on", "planned_removal")
    )
    frame = pd.DataFrame.from_records(list(rows), columns=list(REOPERATION_COLUMNS))
    return _dated(frame, "performed_on")


def _reviews(index: "QuerySet[Any]") -> pd.DataFrame:
    rows = Review.objects.filter(procedure__in=index.values("id")).values_list(
        "procedure_id",
        "step__code",
        "step__horizon",
        "state",
        "complete",
        "due_on",
        "closes_on",
        "attended_on",
    )
    frame = pd.DataFrame.from_records(list(rows.order_by("id")), columns=list(REVIEW_COLUMNS))
    return _dated(frame, "due_on", "closes_on", "attended_on")


def _index_of(injury: str) -> Subquery:
    """Find the index procedure of a row's injury."""
    return Subquery(
        Procedure.objects.filter(injury=OuterRef(injury), kind=ProcedureKind.FIXATION).values("id")[
            :1
        ]
    )


def _dated(frame: pd.DataFrame, *columns: str) -> pd.DataFrame:
    for name in columns:
        frame[name] = pd.to_datetime(frame[name]).astype("datetime64[ns]")
    return frame
