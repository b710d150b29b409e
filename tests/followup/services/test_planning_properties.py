"""Rows end the same, whatever the order in which an operation's facts were corrected."""

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from followup.models import Clinic, ClosedDay, Review
from followup.selectors.sums import review_sums
from followup.services import calendars, planning, reviews
from registry.models import AuditEntry, Patient, Person, Procedure
from registry.services import patients, procedures, voiding
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

OPERATED = date(2025, 12, 1)
AWAY = ("death", "withdrawal", "moved")
FEW = settings(
    max_examples=6,
    deadline=None,
    phases=(Phase.generate,),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
Correction = Callable[[Procedure], None]


def operated(site: str = "north") -> Procedure:
    on = date(2025, 11, 10)
    patient = builders.patient(builders.site(site))
    hurt = builders.injury(patient, injured_earliest=on, injured_latest=on)
    index: Procedure = builders.procedure(hurt, performed_on=OPERATED)
    return index


def given_by(procedure: Procedure) -> dict[str, Any]:
    return {"by": procedure.recorded_by, "now": NOW, "today": TODAY}


def dated(on: date) -> Correction:
    def correct(index: Procedure) -> None:
        index.refresh_from_db()
        procedures.correct_procedure(
            procedure=index,
            values={"performed_on": on},
            expected_version=index.version,
            reason="typed wrongly",
            **given_by(index),
        )

    return correct


def ended(status: str, on: date) -> Correction:
    def correct(index: Procedure) -> None:
        patient = Patient.objects.get(pk=index.injury.patient_id)
        patients.change_status(
            patient=patient,
            status=status,
            on=on,
            note="a letter",
            expected_version=patient.version,
            **given_by(index),
        )

    return correct


def revised(on: date) -> Correction:
    def correct(index: Procedure) -> None:
        builders.procedure(
            Procedure.objects.get(pk=index.pk).injury,
            kind="revision_fixation",
            revises=index,
            performed_on=on,
        )

    return correct


def revised_in_error(on: date) -> Correction:
    def correct(index: Procedure) -> None:
        revised(on)(index)
        row = Procedure.objects.filter(injury_id=index.injury_id).latest("pk")
        voiding.void_row(
            row=row,
            reason="another patient's operation",
            expected_version=row.version,
            by=index.recorded_by,
            now=NOW,
        )

    return correct


def closed(on: date) -> Correction:
    def correct(index: Procedure) -> None:
        calendars.close_day(site=index.site, on=on, reason="audit day", **given_by(index))

    return correct


def night(index: Procedure) -> None:
    at = {"by": index.recorded_by, "now": NOW, "today": TODAY}
    reviews.lapse_closed(**at, injuries=[index.injury_id])


CORRECTIONS = st.tuples(
    st.dates(date(2025, 11, 20), date(2025, 12, 20)).map(dated),
    st.sampled_from(["died", "withdrawn", "moved"]).flatmap(
        lambda status: st.dates(date(2026, 8, 1), TODAY).map(lambda on: ended(status, on))
    ),
    st.one_of(
        st.dates(date(2026, 1, 1), date(2026, 7, 31)).map(revised),
        st.dates(date(2026, 1, 1), date(2026, 7, 31)).map(revised_in_error),
    ),
    st.dates(date(2026, 11, 26), date(2027, 2, 28)).map(closed),
    st.just(night),
)


def standing(index: Procedure) -> list[tuple[Any, ...]]:
    rows = Review.objects.filter(procedure__injury_id=index.injury_id).order_by(
        "procedure__performed_on", "due_on"
    )
    # A day is proposed for what is planned; what is closed keeps the one that it had.
    return [
        (
            *(row.step.code, row.state, row.opens_on, row.due_on, row.closes_on),
            row.proposed_on if row.state == "planned" else None,
            row.ended_because,
        )
        for row in rows.select_related("step")
    ]


@FEW
@given(corrections=CORRECTIONS, data=st.data())
def test_rows_end_the_same_in_any_order(
    corrections: tuple[Correction, ...], data: st.DataObject, coordinator: Person
) -> None:
    ends, of_index = [], []
    for code, order in (("north", corrections), ("west", data.draw(st.permutations(corrections)))):
        ClosedDay.objects.filter(site__code=code).delete()
        index = operated(code)
        for correct in order:
            correct(index)
        # The next night sees what the last correction left.
        night(index)
        # What an ending reaches is closed by it, or is not there where the ending was known first.
        ends.append([row for row in standing(index) if row[-1] not in AWAY])
        kept = index.reviews.order_by("due_on").values_list("step__code", "ended_because", "due_on")
        of_index.append(list(kept))
    assert ends[0] == ends[1]
    assert of_index[0] == of_index[1]
    assert review_sums(coordinator).difference == 0


@FEW
@given(corrections=st.permutations(range(5)), facts=CORRECTIONS)
def test_planning_the_rows_twice_is_planning_them_once(
    corrections: list[int], facts: tuple[Correction, ...]
) -> None:
    site = builders.site()
    Clinic.objects.get_or_create(
        site=site, name="Tuesdays", defaults={"weekday": 1, "starts_at": "09:00", "slots": 9}
    )
    ClosedDay.objects.filter(site=site).delete()
    index = operated()
    for number in corrections:
        facts[number](index)
    planning.plan_injury(procedure=index, **given_by(index))
    entries, rows = AuditEntry.objects.count(), standing(index)
    planning.plan_injury(procedure=index, **given_by(index))
    assert (AuditEntry.objects.count(), standing(index)) == (entries, rows)


def test_a_removal_adds_its_own_short_schedule_and_closes_nothing() -> None:
    index = operated()
    before = standing(index)
    removal = builders.procedure(
        of=index.injury, kind="implant_removal", revises=index, performed_on=date(2026, 6, 1)
    )
    assert {row.step.code for row in removal.reviews.all()} == {"r2w", "r3m"}
    assert [row for row in standing(index) if not row[0].startswith("r")] == before


def test_a_revision_closes_the_schedule_of_a_removal_before_it() -> None:
    index = operated()
    removal = builders.procedure(
        of=index.injury, kind="implant_removal", revises=index, performed_on=date(2026, 6, 1)
    )
    revised(date(2026, 6, 8))(index)
    assert set(removal.reviews.values_list("ended_because", flat=True)) == {"revision"}
