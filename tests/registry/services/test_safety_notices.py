from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from registry.errors import BadInput, IllegalTransition, StaleVersion
from registry.models import CarrierStep, NoticeCarrier, NoticeClosing, Part, SafetyNotice
from registry.rules import notice_states
from registry.services import patients, safety_notices, voiding
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, later, notice, part

pytestmark = pytest.mark.django_db


def carrier_of(row: Part) -> NoticeCarrier:
    return NoticeCarrier.objects.get(procedure=row.construct.procedure_id)


def step(carrier: NoticeCarrier, name: str, note: str = "asked at the site") -> NoticeCarrier:
    """Take a step by the coordinator today."""
    return safety_notices.take_step(
        carrier=carrier,
        step=name,
        on=TODAY,
        note=note,
        expected_version=carrier.version,
        by=builders.person("caller", north="coordinator"),
        now=NOW,
    )


def test_a_notice_finds_at_once_whom_it_is_about_each_with_its_first_step() -> None:
    rows = {
        name: part(batch=batch)
        for name, batch in (
            ("certain", "lot-42a"),
            ("near", "LOT42A21SN1"),
            ("not_excluded", ""),
            ("other", "LOT9"),
        )
    }
    saved = notice()
    found = {row.procedure_id: row for row in saved.carriers.all()}
    assert {
        name: (one.sureness, one.state) if one else None
        for name, row in rows.items()
        for one in [found.get(row.construct.procedure_id)]
    } == {
        "certain": ("certain", "to_reach"),
        "near": ("near", "undecided"),
        "not_excluded": ("not_excluded", "undecided"),
        "other": None,
    }
    assert [one.steps.get().kind for one in found.values()] == ["found"] * 3
    assert "run together" in carrier_of(rows["near"]).because


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([], "in one line at least"),
        ([{}], "Line 1"),
        ([{"batch_first": "LOT1", "batch_last": "LAT9"}], "begin alike"),
        ([{"batch_last": "LAT9"}], "begins with none"),
        ([{"device_identifier": PLATE}, {"serial_first": "A", "serial_last": "B"}], "Line 2"),
    ],
)
def test_a_notice_that_says_nothing_clear_is_refused_and_nothing_is_kept(
    lines: list[dict[str, Any]], words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        notice(*lines, lines=lines)
    assert not SafetyNotice.objects.exists()


def test_days_that_cannot_be_are_refused() -> None:
    with pytest.raises(BadInput, match="issued after that"):
        notice(received_on=TODAY - timedelta(days=1), issued_on=TODAY)
    with pytest.raises(BadInput, match="received after that"):
        notice(due_on=TODAY - timedelta(days=1))
    notice(reference="FSN-9")
    with pytest.raises(BadInput, match="already exists"):
        notice(reference="FSN-9")


def test_a_corrected_notice_finds_others_and_lets_go_whom_it_does_not_mean() -> None:
    first, second = part(batch="LOT42A"), part(batch="LOT43A")
    saved = notice()
    old = carrier_of(first)
    step(old, "reached")
    safety_notices.correct_notice(
        notice=saved,
        values={"title": "The other batch"},
        lines=[{"device_identifier": PLATE, "batch_first": "LOT43A"}],
        expected_version=saved.version,
        by=saved.owner,
        now=NOW,
    )
    assert [one.procedure_id for one in saved.carriers.all()] == [second.construct.procedure_id]
    gone = NoticeCarrier.everything.get(pk=old.pk)
    assert "matches the notice any more" in gone.void_reason
    assert gone.steps.count() == 2
    with pytest.raises(StaleVersion):
        safety_notices.correct_notice(
            notice=saved,
            values={},
            lines=[{"batch_first": "X"}],
            expected_version=1,
            by=saved.owner,
            now=NOW,
        )


def test_a_step_is_kept_with_who_when_and_why_and_none_is_edited() -> None:
    row = part(batch="LOT42A")
    notice()
    carrier = step(step(carrier_of(row), "unreachable", "number not in use"), "reached", "")
    kinds = list(carrier.steps.values_list("kind", "state", "note"))
    assert kinds[1:] == [
        ("unreachable", "unreachable", "number not in use"),
        ("reached", "reached", ""),
    ]
    assert {one.by.username for one in carrier.steps.all()[1:]} == {"caller"}


def test_a_step_is_refused_in_words() -> None:
    row = part(batch="LOT42A")
    notice()
    carrier = carrier_of(row)
    with pytest.raises(
        IllegalTransition, match="'to be reached' and cannot become 'to be reached'"
    ):
        step(carrier, "opened_again")
    with pytest.raises(BadInput, match="Say why"):
        step(carrier, "unreachable", " ")
    with pytest.raises(BadInput, match="none of"):
        step(carrier, "forgotten")
    with pytest.raises(BadInput, match="future"):
        safety_notices.take_step(
            carrier=carrier,
            step="reached",
            on=TODAY + timedelta(days=1),
            note="",
            expected_version=1,
            by=carrier.recorded_by,
            now=NOW,
        )
    step(carrier, "reached")
    stale = NoticeCarrier.objects.get(pk=carrier.pk)
    stale.version = 1
    with pytest.raises(StaleVersion):
        step(stale, "reviewed")
    assert CarrierStep.objects.filter(carrier=carrier).count() == 2


def test_who_surely_carries_it_cannot_be_decided_away() -> None:
    row = part(batch="LOT42A")
    notice()
    with pytest.raises(IllegalTransition):
        step(carrier_of(row), "is_none")
    with pytest.raises(BadInput, match="not decided about"):
        step(carrier_of(row), "decide_again")


def test_who_may_carry_it_is_decided_about_with_a_reason_and_decided_again() -> None:
    row = part(batch="LOT42A21SN1")
    notice()
    carrier = step(carrier_of(row), "is_none", "the label on paper says LOT42B")
    assert carrier.state == "not_one"
    carrier = step(step(carrier, "decide_again"), "is_one", "the serial belongs to that batch")
    assert carrier.state == "to_reach"


def test_a_removal_ends_what_is_open_and_a_voided_one_opens_it_again() -> None:
    row, near = part(batch="LOT42A"), part(batch="L0T42A")
    notice()
    removal = later(row.construct.procedure, "implant_removal")
    later(near.construct.procedure, "implant_removal")
    assert carrier_of(row).state == "removed"
    assert carrier_of(near).state == "undecided"
    assert step(carrier_of(near), "is_one").state == "removed"
    voiding.void_row(
        row=removal,
        reason="wrong patient",
        expected_version=removal.version,
        by=removal.recorded_by,
        now=NOW,
    )
    assert carrier_of(row).state == "to_reach"


def test_a_revision_ends_nothing_for_it_says_not_what_was_left_in() -> None:
    row = part(batch="LOT42A")
    notice()
    later(row.construct.procedure, "revision_fixation")
    assert carrier_of(row).state == "to_reach"


def test_a_death_ends_what_is_open_until_it_is_taken_back() -> None:
    row = part(batch="LOT42A")
    notice()
    patient = row.construct.procedure.injury.patient
    for status, state in (("died", "died"), ("active", "to_reach"), ("withdrawn", "to_reach")):
        patients.change_status(
            patient=patient,
            status=status,
            on=None if status == "active" else TODAY,
            note="",
            expected_version=patient.version,
            by=patient.recorded_by,
            now=NOW,
            today=TODAY,
        )
        assert carrier_of(row).state == state


def test_an_operation_that_is_void_takes_its_carrier_along() -> None:
    row = part(batch="LOT42A")
    saved = notice()
    operation = row.construct.procedure
    voiding.void_row(
        row=operation,
        reason="typed twice",
        expected_version=operation.version,
        by=operation.recorded_by,
        now=NOW,
    )
    assert saved.carriers.filter(voided_at__isnull=True).count() == 0


def close(saved: SafetyNotice, at: str = "north") -> NoticeClosing:
    return safety_notices.close_notice(
        notice=saved, site=builders.site(at), note="", by=saved.owner, now=NOW
    )


def test_a_site_closes_only_when_each_has_an_end_and_each_perhaps_is_decided() -> None:
    certain, near = part(batch="LOT42A"), part(batch="L0T42A")
    saved = notice()
    with pytest.raises(BadInput, match="1 to be reached") as refused:
        close(saved)
    assert "1 to be decided" in str(refused.value)
    step(step(carrier_of(certain), "reached"), "reviewed")
    with pytest.raises(BadInput, match="1 to be decided"):
        close(saved)
    step(carrier_of(near), "is_none")
    assert close(saved).carriers == 1
    with pytest.raises(BadInput, match="closed at North Hospital already"):
        close(saved)


def test_being_told_is_an_end_where_the_notice_asks_for_no_more() -> None:
    row = part(batch="LOT42A")
    saved = notice(must_be_seen=False, kind="information")
    step(carrier_of(row), "reached")
    assert carrier_of(row).has_ended
    assert close(saved).carriers == 1


def test_a_closed_site_is_open_again_when_somebody_else_is_found() -> None:
    saved = notice()
    closing = close(saved)
    part(batch="LOT42A", at=builders.site("south"))
    assert NoticeClosing.objects.filter(pk=closing.pk).exists()
    row = part(batch="LOT42A")
    gone = NoticeClosing.everything.get(pk=closing.pk)
    assert "found since" in gone.void_reason
    step(step(carrier_of(row), "reached"), "reviewed")
    assert close(saved).carriers == 1
    step(carrier_of(row), "opened_again")
    assert not NoticeClosing.objects.filter(notice=saved).exists()


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=25)
@given(
    st.lists(
        st.tuples(st.integers(0, 4), st.sampled_from(sorted(notice_states.STEPS))), max_size=25
    )
)
def test_whatever_is_done_the_states_add_up_to_the_carriers(
    transactional: None, doings: list[tuple[int, str]]
) -> None:
    saved = notice(reference=f"FSN-{SafetyNotice.objects.count()}-{len(doings)}")
    rows = list(NoticeCarrier.objects.filter(notice=saved).order_by("pk"))
    for number, name in doings:
        carrier = rows[number]
        try:
            rows[number] = step(carrier, name)
        except (IllegalTransition, BadInput):
            continue
        last = carrier.steps.latest("pk")
        assert last.state == carrier.state
    counted = [row.state for row in NoticeCarrier.objects.filter(notice=saved)]
    assert len(counted) == len(rows) == 5
    ended = all(NoticeCarrier.objects.get(pk=row.pk).has_ended for row in rows)
    try:
        close(saved)
    except BadInput:
        assert not ended
    else:
        assert ended


@pytest.fixture
def transactional() -> None:
    """Five who carry it or may; each example has a notice of its own."""
    for batch in ("LOT42A", "lot 42a", "L0T42A", "LOT42A21SN1", ""):
        part(batch=batch)
