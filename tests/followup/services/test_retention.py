"""Deciding about who is past their time: erased with proof that names nobody, or kept."""

from datetime import timedelta
from typing import Any

import pytest
from django.core.files.base import ContentFile

from followup.models import Reply
from followup.models.imports import ImportDraft
from followup.services import replies, retention, uploads
from registry.errors import BadInput, NotAllowed
from registry.models import Destruction, Identity, PatientSite, Person
from registry.models.audit import AuditEntry
from registry.services import retention as rules
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.selectors.test_retention import long_ago, ruled
from tests.followup.sent_files import connie

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]


@pytest.fixture
def surgeon() -> Person:
    return builders.person("sam", north="surgeon")


def at(by: Person) -> dict[str, object]:
    return {"by": by, "now": NOW, "today": TODAY}


def test_who_is_past_their_time_is_erased_and_the_proof_names_nobody(surgeon: Person) -> None:
    ruled()
    patient = long_ago()
    family = patient.identity.family_name
    retention.erase(patient=patient, reason="the review of November", **at(surgeon))
    assert not Identity.objects.filter(patient=patient).exists()
    proof = Destruction.objects.get()
    assert (proof.kind, proof.number, proof.by, proof.rule.keep) == ("patients", 1, surgeon, 10)
    assert proof.words == "past 10 years, our policy"
    said = str(AuditEntry.objects.filter(table="registry_destruction").values("after"))
    assert patient.key not in said
    assert family not in said
    because = set(AuditEntry.objects.values_list("reason", flat=True))
    assert any(one and one.startswith("erasure under a rule: past 10 years") for one in because)


def test_nobody_is_erased_who_was_heard_of_meanwhile_or_is_kept(surgeon: Person) -> None:
    ruled()
    heard, kept = long_ago(), long_ago()
    builders.injury(heard)
    with pytest.raises(BadInput, match="not past the time"):
        retention.erase(patient=heard, reason="x", **at(surgeon))
    retention.keep(patient=kept, until=None, reason="a case at law", **at(surgeon))
    with pytest.raises(BadInput, match="a case at law"):
        retention.erase(patient=kept, reason="x", **at(surgeon))
    assert Identity.objects.filter(patient__in=[heard, kept]).count() == 2
    assert not Destruction.objects.exists()
    retention.lift(patient=kept, because="it is over", **at(surgeon))
    retention.erase(patient=kept, reason="the review of November", **at(surgeon))
    with pytest.raises(BadInput, match="not past the time"):
        retention.erase(patient=kept, reason="again", **at(surgeon))


def test_without_a_reason_nothing_is_decided(surgeon: Person) -> None:
    ruled()
    patient = long_ago()
    with pytest.raises(BadInput, match="Say who decided"):
        retention.erase(patient=patient, reason=" ", **at(surgeon))
    with pytest.raises(BadInput, match="Say why"):
        retention.keep(patient=patient, until=None, reason="", **at(surgeon))


def test_who_decides_at_one_site_does_not_decide_for_another(surgeon: Person) -> None:
    ruled()
    ruled("south")
    patient = long_ago()
    PatientSite.objects.create(patient=patient, site=builders.site("south"))
    for act in (
        lambda: retention.erase(patient=patient, reason="x", **at(surgeon)),
        lambda: retention.keep(patient=patient, until=None, reason="x", **at(surgeon)),
        lambda: retention.lift(patient=patient, because="x", **at(surgeon)),
    ):
        with pytest.raises(NotAllowed, match="another site"):
            act()
    both = builders.person("both", north="surgeon", south="surgeon")
    retention.erase(patient=patient, reason="the review of November", **at(both))


def answer(key: str, days: int, fate: str = "task", code: str = "north") -> Reply:
    return Reply.objects.create(
        site=builders.site(code),
        key=key,
        means="text",
        sender="0555 010",
        text="Not today",
        fate=fate,
        received_at=NOW - timedelta(days=days),
        taken_at=NOW,
    )


def test_what_patients_wrote_back_goes_by_the_rule_of_the_site_and_not_without_one() -> None:
    rules.set_rule(
        site=builders.site("north"),
        kind="replies",
        keep=100,
        least=None,
        basis="our policy",
        expected_version=0,
        by=builders.person("ada", north="administrator"),
        now=NOW,
    )
    old, new = answer("1", 101), answer("2", 99)
    waits, held, elsewhere = (
        answer("3", 500, "waiting"),
        answer("4", 500),
        answer("5", 500, code="south"),
    )
    patient = builders.patient()
    held.patients.add(patient)
    retention.keep(
        patient=patient, until=None, reason="x", **at(builders.person("sam", north="surgeon"))
    )
    assert replies.forget_old(now=NOW, today=TODAY) == 1
    assert replies.forget_old(now=NOW, today=TODAY) == 0
    old.refresh_from_db()
    assert (old.sender, old.text, old.key) == ("", "", "1")
    for one in (new, waits, held, elsewhere):
        one.refresh_from_db()
        assert one.text == "Not today"
    proof = Destruction.objects.get()
    assert (proof.kind, proof.number, proof.rule.keep) == ("replies", 1, 100)


def test_files_of_cases_go_by_the_rule_of_the_site_or_after_a_week(
    settings: Any, tmp_path: Any
) -> None:
    settings.MEDIA_ROOT = tmp_path
    draft = uploads.keep_upload(
        content=ContentFile(b"a,b\n"), name="c.csv", site=builders.site(), by=connie(), now=NOW
    )
    moment = draft.brought_at
    assert uploads.forget_old(now=moment + timedelta(days=7)) == 0
    rules.set_rule(
        site=draft.site,
        kind="uploads",
        keep=2,
        least=None,
        basis="our policy",
        expected_version=0,
        by=draft.brought_by,
        now=NOW,
    )
    assert uploads.forget_old(now=moment + timedelta(days=2, seconds=1)) == 1
    assert not ImportDraft.objects.exists()
    proof = Destruction.objects.get()
    assert (proof.kind, proof.number, proof.site) == ("uploads", 1, draft.site)
