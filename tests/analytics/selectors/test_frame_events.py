from datetime import timedelta

import pandas as pd
import pytest

from analytics.selectors import frame_cases, frame_events
from followup.models import Complication, HardwareDecision
from followup.services import hardware
from tests import builders
from tests.analytics.records import OPERATED, complication, operation
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_complication_says_by_which_scheme_it_was_graded_and_when_it_ended() -> None:
    done = operation()
    complication(done, 30)
    ended = OPERATED + timedelta(days=60)
    Complication.objects.update(resolved_on=ended)
    cases = frame_cases.cases(None, TODAY)
    (row,) = frame_events.complications(cases, TODAY).to_dict("records")
    assert (row["grade"], row["grade_scheme"]) == ("I", "orthopaedic-2012")
    assert row["resolved_on"] == pd.Timestamp(ended)
    assert (row["procedure_id"], row["after_id"]) == (done.pk, done.pk)
    before = frame_events.complications(cases, ended - timedelta(days=1))
    assert before["resolved_on"].isna().all()


def test_a_later_operation_says_why_the_removal_was_raised() -> None:
    done = operation()
    removal = builders.procedure(
        done.injury,
        None,
        kind="implant_removal",
        revises=done,
        performed_on=OPERATED + timedelta(days=200),
    )
    builders.procedure(
        done.injury,
        None,
        kind="washout",
        revises=done,
        performed_on=OPERATED + timedelta(days=20),
    )
    HardwareDecision.objects.create(
        procedure=done,
        site=done.site,
        raised_because="symptoms",
        raised_on=OPERATED,
        waiting_since=OPERATED,
        state="done",
        removal=removal,
        recorded_at=NOW,
        recorded_by=done.recorded_by,
        changed_at=NOW,
        changed_by=done.recorded_by,
    )
    cases = frame_cases.cases(None, TODAY)
    found = frame_events.reoperations(cases, TODAY)
    assert found["kind"].tolist() == ["washout", "implant_removal"]
    assert found["reason"].tolist() == ["", "symptoms"]
    assert found["index_id"].tolist() == [done.pk, done.pk]
    assert found["procedure_id"].tolist()[1] == removal.pk


def test_each_step_of_a_question_says_why_it_was_raised_and_who_said_so() -> None:
    done = operation()
    hardware.raise_question(
        procedure=done,
        because="symptoms",
        source="patient",
        by=done.recorded_by,
        now=NOW,
        on=OPERATED + timedelta(days=90),
    )
    cases = frame_cases.cases(None, TODAY)
    (row,) = frame_events.questions(cases, TODAY).to_dict("records")
    assert (row["procedure_id"], row["kind"]) == (done.pk, "raised")
    assert (row["because"], row["source"]) == ("symptoms", "patient")
    assert frame_events.questions(cases, OPERATED + timedelta(days=89)).empty
