from datetime import timedelta
from typing import Any

import pytest
from django.db import IntegrityError, transaction

from registry.errors import BadInput, StaleVersion
from registry.models import Destruction, Person, RetentionHold, RetentionRule
from registry.models.audit import AuditEntry
from registry.models.sign_ins import SignInEvent, SignInEventKind
from registry.services import retention, sign_ins
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db
GIVEN: dict[str, Any] = {"kind": "patients", "keep": 10, "least": 8, "basis": "our policy"}


@pytest.fixture
def by() -> Person:
    return builders.person("ada", north="administrator")


def ruled(by: Person, version: int = 0, **other: Any) -> RetentionRule:
    return retention.set_rule(
        site=builders.site("north"), expected_version=version, by=by, now=NOW, **{**GIVEN, **other}
    )


def test_a_new_rule_ends_the_one_before_and_keeps_it(by: Person) -> None:
    first = ruled(by)
    second = ruled(by, 1, keep=12)
    first.refresh_from_db()
    assert (first.ended_at, first.ended_by) == (NOW, by)
    assert (second.version, second.ended_at) == (2, None)
    entry = AuditEntry.objects.filter(table="registry_retentionrule").latest("id")
    assert entry.reason == "how long is kept: our policy"


def test_whoever_saw_an_earlier_rule_is_told(by: Person) -> None:
    ruled(by)
    with pytest.raises(StaleVersion):
        ruled(by, 0, keep=20)
    assert RetentionRule.objects.count() == 1


@pytest.mark.parametrize(
    ("other", "field"),
    [
        ({"keep": 7}, "keep"),
        ({"keep": 0}, "keep"),
        ({"basis": " "}, "basis"),
        ({"kind": "films"}, "kind"),
        ({"kind": "replies", "keep": 29, "least": None}, "keep"),
    ],
)
def test_a_rule_that_cannot_be_is_refused_by_the_field(
    by: Person, other: dict[str, Any], field: str
) -> None:
    with pytest.raises(BadInput) as fault:
        ruled(by, **other)
    assert list(fault.value.faults) == [field]
    assert not RetentionRule.objects.exists()


def test_the_database_holds_a_rule_to_what_law_asks(by: Person) -> None:
    rule = ruled(by)
    with pytest.raises(IntegrityError), transaction.atomic():
        RetentionRule.objects.filter(pk=rule.pk).update(keep=7)


def held(by: Person, patient: Any, **other: Any) -> RetentionHold:
    given = {"until": None, "reason": "a case at law", **other}
    return retention.hold(patient=patient, site=patient.site, by=by, now=NOW, today=TODAY, **given)


def test_a_patient_is_kept_once_until_that_is_lifted(by: Person) -> None:
    patient = builders.patient()
    held(by, patient)
    with pytest.raises(BadInput, match="kept already"):
        held(by, patient)
    with pytest.raises(BadInput, match="Say why"):
        retention.lift(patient=patient, because=" ", by=by, now=NOW, today=TODAY)
    assert retention.lift(patient=patient, because="it is over", by=by, now=NOW, today=TODAY) == 1
    with pytest.raises(BadInput, match="is not kept"):
        retention.lift(patient=patient, because="again", by=by, now=NOW, today=TODAY)
    held(by, patient, until=TODAY + timedelta(days=1))


@pytest.mark.parametrize("other", [{"reason": " "}, {"until": TODAY}])
def test_a_hold_without_reason_or_end_to_come_is_refused(by: Person, other: Any) -> None:
    with pytest.raises(BadInput):
        held(by, builders.patient(), **other)


def test_of_nothing_there_is_no_proof(by: Person) -> None:
    retention.prove(kind="uploads", number=0, words="x", now=NOW)
    assert not Destruction.objects.exists()


def test_old_sign_ins_go_with_proof(by: Person, settings: Any) -> None:
    settings.SIGN_IN_EVENT_DAYS = 30
    for days in (31, 40, 29):
        SignInEvent.objects.create(
            at=NOW - timedelta(days=days), kind=SignInEventKind.values[0], person=by
        )
    sign_ins.forget_old(now=NOW)
    sign_ins.forget_old(now=NOW)
    proof = Destruction.objects.get()
    assert (proof.kind, proof.number, proof.site, proof.by) == ("sign_ins", 2, None, None)
    assert "30 days" in proof.words
