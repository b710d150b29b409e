"""Complications and later operations as frames."""

from datetime import date

import pandas as pd

from analytics.selectors.frame_rows import (
    DAY,
    FLAG,
    INSTANT,
    TEXT,
    WHOLE,
    of_index,
    table,
    until_choice,
)
from followup.models import Complication, HardwareDecision, HardwareStep
from registry.models import Procedure
from registry.models.procedures import ProcedureKind

COMPLICATIONS = {
    "complication_id": ("id", WHOLE),
    "injury_id": ("procedure__injury_id", WHOLE),
    "kind": ("kind", TEXT),
    "onset_on": ("onset_latest", DAY),
    "detected_on": ("detected_on", DAY),
    "grade": ("grade", TEXT),
    "relation": ("relation", TEXT),
    "onset_earliest": ("onset_earliest", DAY),
    "grade_scheme": ("grade_scheme", TEXT),
    "resolved_on": ("resolved_on", DAY),
    "after_id": ("procedure_id", WHOLE),
    "recorded_on": ("recorded_at", INSTANT),
}
REOPERATIONS = {
    "procedure_id": ("id", WHOLE),
    "injury_id": ("injury_id", WHOLE),
    "kind": ("kind", TEXT),
    "performed_on": ("performed_on", DAY),
    "planned_removal": ("planned_removal", FLAG),
    "construct_type": ("construct__construct_type__code", TEXT),
    "recorded_on": ("recorded_at", INSTANT),
}
QUESTIONS = {
    "question_id": ("decision_id", WHOLE),
    "injury_id": ("decision__procedure__injury_id", WHOLE),
    "kind": ("kind", TEXT),
    "on": ("on", DAY),
    "because": ("decision__raised_because", TEXT),
    "source": ("source", TEXT),
    "recorded_on": ("recorded_at", INSTANT),
}
DECISIONS = {"procedure_id": ("removal_id", WHOLE), "reason": ("raised_because", TEXT)}


def complications(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read what was found of unwanted events up to a day, in the order of finding.

    `after_id` is the operation that an event was recorded against, procedure_id the index one.
    """
    rows = Complication.objects.filter(
        procedure__voided_at__isnull=True, detected_on__lte=cutoff
    ).order_by("detected_on", "id")
    frame = of_index(table(rows, COMPLICATIONS), cases)
    frame = until_choice(frame, cases, "detected_on", "recorded_on")
    later = frame["resolved_on"] > pd.Timestamp(cutoff)
    frame.loc[later, "resolved_on"] = pd.NaT
    return frame


def reoperations(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read the operations after the index ones up to a day: procedure_id, and index_id of the case.

    `reason` is why a removal was raised (planned_removal, symptoms, complication, clinician), ''
    for other operations and where no decision was recorded.
    """
    rows = Procedure.objects.filter(performed_on__lte=cutoff).exclude(kind=ProcedureKind.FIXATION)
    frame = table(rows.order_by("performed_on", "id"), REOPERATIONS)
    frame = of_index(frame.rename(columns={"procedure_id": "of"}), cases)
    frame = until_choice(frame, cases, "performed_on", "recorded_on").drop(columns="recorded_on")
    frame = frame.rename(columns={"procedure_id": "index_id"})
    frame = frame.rename(columns={"of": "procedure_id"})
    decided = HardwareDecision.objects.filter(removal__isnull=False).order_by("id")
    why = table(decided, DECISIONS).set_index("procedure_id")["reason"]
    frame["reason"] = why.reindex(frame["procedure_id"]).fillna("").to_numpy(dtype=object)
    return frame.astype({"reason": "str"})


def later_operations(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read kind and day of what followed some few cases' index operations: index_id, kind, performed_on."""
    rows = Procedure.objects.filter(
        performed_on__lte=cutoff, injury_id__in=cases["injury_id"].tolist()
    ).exclude(kind=ProcedureKind.FIXATION)
    columns = {name: REOPERATIONS[name] for name in ("injury_id", "kind", "performed_on")}
    frame = table(rows.order_by("performed_on", "id"), {"of": ("id", WHOLE), **columns})
    return of_index(frame, cases).rename(columns={"procedure_id": "index_id"})


def questions(cases: pd.DataFrame, cutoff: date) -> pd.DataFrame:
    """Read every step up to a day of the questions whether hardware comes out, in their order.

    `because` is why the question was raised, `source` who or what said that hardware makes trouble, ''
    where nobody did; `kind` is the step: raised, told, discussed, planned, declined, done and others.
    """
    rows = HardwareStep.objects.filter(on__lte=cutoff, decision__voided_at__isnull=True)
    frame = of_index(table(rows.order_by("on", "id"), QUESTIONS), cases)
    return until_choice(frame, cases, "on", "recorded_on").drop(columns="recorded_on")
