"""Index procedures as a frame: one row each, with what was known at the operation."""

from collections import Counter
from collections.abc import Collection
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from analytics.selectors.frame_rows import DAY, INSTANT, NUMBER, TEXT, WHOLE, WHOLE_OR_NONE, table
from registry.models import Classification, Procedure
from registry.models.patients import ConsentDecision, PatientStatus
from registry.models.procedures import ProcedureKind
from registry.rules.missing import UNKNOWN
from registry.selectors import choices

if TYPE_CHECKING:
    from django.db.models import QuerySet

COLUMNS = {
    "procedure_id": ("id", WHOLE),
    "site": ("site__code", TEXT),
    "surgeon_id": ("surgeon_id", WHOLE_OR_NONE),
    "construct_type": ("construct__construct_type__code", TEXT),
    "performed_on": ("performed_on", DAY),
    "injury_id": ("injury_id", WHOLE),
    "patient_key": ("injury__patient__key", TEXT),
    "side": ("injury__side", TEXT),
    "injury_kind": ("injury__kind", TEXT),
    "age_years": ("injury__age_years", WHOLE_OR_NONE),
    "sex": ("injury__sex", TEXT),
    "other_shoulder": ("injury__other_shoulder", TEXT),
    "patient_status": ("injury__patient__status", TEXT),
    "status_on": ("injury__patient__status_on", DAY),
    "planned_removal": ("construct__construct_type__planned_removal", WHOLE_OR_NONE),
    "mechanism": ("injury__mechanism", TEXT),
    "energy": ("injury__energy", TEXT),
    "skin": ("injury__skin", TEXT),
    "smoking": ("injury__smoking", TEXT),
    "diabetes": ("injury__diabetes", TEXT),
    "bmi_kg_m2": ("injury__bmi_kg_m2", NUMBER),
    "bmi_missing": ("injury__missing__bmi_kg_m2", TEXT),
    "age_missing": ("injury__missing__age_years", TEXT),
    "steroid_use": ("injury__steroid_use", TEXT),
    "osteoporosis": ("injury__osteoporosis", TEXT),
    "dominant_arm": ("injury__dominant_arm", TEXT),
    "work_demand": ("injury__work_demand", TEXT),
    "sport_demand": ("injury__sport_demand", TEXT),
    "operator_grade": ("operator_grade", TEXT),
    "assistant_grade": ("assistant_grade", TEXT),
    "approach": ("approach", TEXT),
    "reduction_quality": ("reduction_quality", TEXT),
    "duration_minutes": ("duration_minutes", WHOLE_OR_NONE),
    "injured_earliest": ("injury__injured_earliest", DAY),
    "injured_latest": ("injury__injured_latest", DAY),
    "recorded_on": ("recorded_at", INSTANT),
}
# Whose use ended from a day on: what was recorded until then stays in figures.
CHOICE = {"choice": ("registry_choice", TEXT), "counts_until": ("registry_choice_on", DAY)}

# Without these no definition can be applied.
FOR_VERDICTS = (
    "procedure_id",
    "site",
    "surgeon_id",
    "performed_on",
    "injury_id",
    "injury_kind",
    "other_shoulder",
    "patient_status",
    "status_on",
)


def cases(site_ids: "list[int] | None", cutoff: date) -> pd.DataFrame:
    """Read the index procedures of some sites (None: of all) up to a day, by procedure_id.

    Two queries. Patients who opted out of the registry wholly are in none of them; of those who did
    from a day on `counts_until` is that day, later operations are left out, and they have withdrawn.
    """
    rows = choices.usable(operated(cutoff))
    rows = rows if site_ids is None else rows.filter(site_id__in=site_ids)
    frame = _as_chosen(_as_known(table(rows.order_by("id"), {**COLUMNS, **CHOICE}), cutoff), cutoff)
    # A construct that is not recorded yet leaves its operation in the denominators.
    frame["planned_removal"] = frame["planned_removal"].fillna(0).astype(bool)
    for value, reason in (("bmi_kg_m2", "bmi_missing"), ("age_years", "age_missing")):
        frame[reason] = why_missing(frame[value], frame[reason])
    return _with_classes(_derived(frame).set_index("procedure_id"))


def judged(keys: Collection[int], cutoff: date) -> pd.DataFrame:
    """Read what a verdict needs of some index procedures up to a day, by procedure_id.

    One query. For looking at a patient's own case: whoever opted out of the registry, and so is in no
    figure, is among them.
    """
    columns = {name: COLUMNS[name] for name in FOR_VERDICTS}
    rows = operated(cutoff).filter(pk__in=list(keys))
    return _as_known(table(rows.order_by("id"), columns), cutoff).set_index("procedure_id")


def _as_known(frame: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    # What happened after the cut-off is not known yet at the cut-off.
    unknown_yet = frame["status_on"] > pd.Timestamp(cutoff)
    frame.loc[unknown_yet, "status_on"] = pd.NaT
    frame.loc[unknown_yet, "patient_status"] = PatientStatus.ACTIVE.value
    return frame


def _as_chosen(frame: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Let whoever opted out from a day on have withdrawn on it, unless they had left before."""
    frame["counts_until"] = frame["counts_until"].where(frame["choice"] == ConsentDecision.FROM_NOW)
    frame = frame.loc[~(frame["performed_on"] > frame["counts_until"])].reset_index(drop=True)
    until = frame["counts_until"]
    ends = (until <= pd.Timestamp(cutoff)) & ~(frame["status_on"] <= until)
    frame.loc[ends, "patient_status"] = PatientStatus.WITHDRAWN.value
    frame["status_on"] = frame["status_on"].where(~ends, until)
    return frame.drop(columns="choice")


def why_missing(values: Any, stated: Any) -> Any:
    """Return for each value why it is not there, '' where it is; unknown where nobody said why."""
    return stated.fillna(UNKNOWN).where(values.isna(), "").astype("str")


def _derived(frame: pd.DataFrame) -> pd.DataFrame:
    """Add what follows from the other columns.

    days_to_surgery only where the injury's day is known; injured_dominant yes, no or unknown;
    order_at_site counts a construct type's operations at its site from 1, in order of time.
    """
    exact = frame["injured_earliest"] == frame["injured_latest"]
    waited = (frame["performed_on"] - frame["injured_latest"]).dt.days
    frame["days_to_surgery"] = waited.astype("Int64").where(exact)
    arm = frame["dominant_arm"]
    hit = (arm == frame["side"]) | (arm == "both")
    known = np.where(hit, "yes", "no")
    frame["injured_dominant"] = pd.array(np.where(arm == UNKNOWN, UNKNOWN, known), dtype="str")
    frame["procedure_year"] = frame["performed_on"].dt.year.astype("int64")
    in_time = frame.sort_values(["performed_on", "procedure_id"])
    same = in_time.groupby(["site", "construct_type"], dropna=False)
    frame["order_at_site"] = (same.cumcount() + 1).astype("int64")
    return frame


def _with_classes(frame: pd.DataFrame) -> pd.DataFrame:
    rows = Classification.objects.filter(superseded=False)
    columns = {
        "injury_id": ("injury_id", WHOLE),
        "system": ("system", TEXT),
        "code": ("code", TEXT),
    }
    classes = table(rows.order_by(), columns)
    for system in ("neer", "ao_ota", "rockwood"):
        mine = classes.loc[classes["system"] == system].set_index("injury_id")["code"]
        frame[system] = pd.array(mine.reindex(frame["injury_id"]).to_numpy(), dtype="str")
    return frame


def opted_out(cutoff: date) -> dict[str, int]:
    """Return by site how many operations are left out of every figure by their patients' choice."""
    rows = operated(cutoff).filter(registry_choice=ConsentDecision.OPTED_OUT)
    return Counter(rows.values_list("site__code", flat=True))


def operated(cutoff: date) -> "QuerySet[Any]":
    """Return all index procedures up to a day, each with its patient's last choice about the registry."""
    rows: QuerySet[Any] = Procedure.objects.filter(
        kind=ProcedureKind.FIXATION,
        performed_on__lte=cutoff,
        injury__voided_at__isnull=True,
        injury__patient__voided_at__isnull=True,
    )
    return choices.with_choice(rows, "injury__patient")


def with_course(
    frame: pd.DataFrame, reoperations: pd.DataFrame, reviews: pd.DataFrame
) -> pd.DataFrame:
    """Add what came later: first revision and removal; and the protocol that asks for reviews."""
    frame = with_later(frame, reoperations)
    # Where a case was moved to another version, the reviews planned last are of that one.
    last = reviews.drop_duplicates("procedure_id", keep="last").set_index("procedure_id")
    for column in ("protocol", "protocol_version"):
        frame[column] = last[column].reindex(frame.index)
    frame["protocol_version"] = frame["protocol_version"].astype("Int64")
    return frame


def with_later(frame: pd.DataFrame, reoperations: pd.DataFrame) -> pd.DataFrame:
    """Add the days of the first revision and of the first removal."""
    for column, kind in (
        ("revised_on", ProcedureKind.REVISION_FIXATION),
        ("removed_on", ProcedureKind.IMPLANT_REMOVAL),
    ):
        mine = reoperations.loc[reoperations["kind"] == kind]
        frame[column] = mine.groupby("index_id")["performed_on"].min().reindex(frame.index)
    return frame
