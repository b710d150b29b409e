from io import BytesIO
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse
from pypdf import PdfReader

from registry.models import AuditEntry, NoticeCarrier, NoticeClosing, Person, SafetyNotice
from tests import builders
from tests.builders import TODAY
from tests.implanted import PLATE, notice, part

pytestmark = pytest.mark.django_db
LINES = {"line-TOTAL_FORMS": "3", "line-INITIAL_FORMS": "0"}


@pytest.fixture
def client(coordinator: Person) -> Client:
    found = Client()
    found.force_login(coordinator)
    return found


def said(answer: Any) -> str:
    return str(answer.content.decode())


def given(owner: Person, **more: str) -> dict[str, Any]:
    return {
        "version": "1",
        "reference": "FSN 2026/7",
        "title": "One batch of plates may break",
        "kind": "recall",
        "advice": "Tell the patient.",
        "issued_on": "2026-11-01",
        "received_on": "2026-11-03",
        "due_on": "2026-12-01",
        "owner": str(owner.pk),
        "must_be_seen": "on",
        **LINES,
        "line-0-device_identifier": PLATE,
        "line-0-batch_first": "LOT42A",
        **more,
    }


def test_a_notice_is_entered_once_and_leads_to_its_carriers(
    client: Client, coordinator: Person
) -> None:
    row = part(batch="LOT42A")
    answer = client.post(reverse("trace-notice-add"), given(coordinator), follow=True)
    saved = SafetyNotice.objects.get()
    assert answer.redirect_chain == [(reverse("trace-notice", args=[saved.pk]), 302)]
    page = said(answer)
    assert str(row.construct.procedure.injury.patient.identity) in page
    assert f"device identifier {PLATE}, batch LOT42A" in page
    assert "local policy decide" in page
    assert "the difference is 0" in page
    assert AuditEntry.objects.filter(action="read", reason__contains="FSN 2026/7").exists()
    assert "FSN 2026/7" in said(client.get(reverse("trace-notices")))


@pytest.mark.parametrize(
    ("more", "words"),
    [
        ({"line-0-device_identifier": "", "line-0-batch_first": ""}, "one line at least"),
        ({"line-1-batch_first": "A1", "line-1-batch_last": "B2"}, "Line 2: From"),
        ({"due_on": "2026-11-02"}, "It was received after that"),
        ({"line-0-expires_from": "tomorrow"}, "year-month-day"),
        ({"reference": ""}, "Reference: This field is required"),
    ],
)
def test_what_cannot_be_entered_is_told_and_kept_on_the_page(
    client: Client, coordinator: Person, more: dict[str, str], words: str
) -> None:
    answer = client.post(reverse("trace-notice-add"), given(coordinator, **more))
    assert words in said(answer)
    assert "One batch of plates may break" in said(answer)
    assert not SafetyNotice.objects.exists()


def test_a_notice_is_corrected_over_the_version_that_was_seen(
    client: Client, coordinator: Person
) -> None:
    row = part(batch="LOT43")
    saved = notice()
    url = reverse("trace-notice-correct", args=[saved.pk])
    assert "LOT42A" in said(client.get(url))
    sent = given(coordinator, **{"line-0-batch_first": "LOT43"})
    assert client.post(url, sent).status_code == 302
    assert NoticeCarrier.objects.get().procedure_id == row.construct.procedure_id
    late = client.post(url, sent | {"title": "Another", "line-INITIAL_FORMS": "1"})
    assert late.status_code == 409
    assert "Somebody else saved this first" in said(late)


def test_a_step_is_recorded_on_the_carrier_s_page(client: Client, coordinator: Person) -> None:
    row = part(batch="LOT42A")
    notice()
    carrier = NoticeCarrier.objects.get()
    url = reverse("trace-carrier", args=[carrier.pk])
    page = said(client.get(url))
    assert str(row.construct.procedure.injury.patient.identity) in page
    assert "It is one" not in page
    sent = {"version": "1", "step": "unreachable", "on": str(TODAY), "note": ""}
    assert "Say why" in said(client.post(url, sent))
    assert client.post(url, sent | {"note": "number not in use"}).status_code == 302
    carrier.refresh_from_db()
    assert carrier.state == "unreachable"
    assert "number not in use" in said(client.get(url))
    late = client.post(url, {"version": "1", "step": "reached", "on": str(TODAY), "note": ""})
    assert late.status_code == 409
    assert AuditEntry.objects.filter(action="read", reason="safety notice").exists()


def test_a_quality_lead_sees_keys_and_counts_and_records_no_step(quality_lead: Person) -> None:
    row = part(batch="LOT42A")
    saved = notice()
    client = Client()
    client.force_login(quality_lead)
    page = said(client.get(reverse("trace-notice", args=[saved.pk])))
    patient = row.construct.procedure.injury.patient
    assert patient.key in page
    assert str(patient.identity) not in page
    url = reverse("trace-carrier", args=[NoticeCarrier.objects.get().pk])
    assert "A coordinator or surgeon" in said(client.get(url))
    assert client.post(url, {}).status_code == 403


def test_a_site_is_closed_by_hand_and_only_when_nothing_is_left(
    client: Client, coordinator: Person
) -> None:
    part(batch="L0T42A")
    saved = notice()
    url = reverse("trace-notice-close", args=[saved.pk, builders.site("north").pk])
    assert "1 to be decided" in said(client.post(url, follow=True))
    carrier = NoticeCarrier.objects.get()
    client.post(
        reverse("trace-carrier", args=[carrier.pk]),
        {"version": "1", "step": "is_none", "on": str(TODAY), "note": "label says B"},
    )
    notice_page = reverse("trace-notice", args=[saved.pk])
    assert "Close at North Hospital" in said(client.get(notice_page))
    assert "is closed at North Hospital" in said(client.post(url, {"note": "done"}, follow=True))
    assert NoticeClosing.objects.get().note == "done"
    evidence = said(client.get(reverse("trace-notice-evidence", args=[saved.pk])))
    assert "label says B" in evidence
    assert "Connie" in evidence


def test_another_site_s_carriers_are_neither_listed_nor_opened(client: Client) -> None:
    row = part(batch="LOT42A", at=builders.site("south"))
    saved = notice()
    page = said(client.get(reverse("trace-notice", args=[saved.pk])))
    assert row.construct.procedure.injury.patient.key not in page
    assert "Nobody at your sites" in page
    carrier = NoticeCarrier.objects.get()
    assert client.get(reverse("trace-carrier", args=[carrier.pk])).status_code == 404


def test_evidence_is_taken_along_and_that_is_written_down(client: Client) -> None:
    part(batch="LOT42A")
    saved = notice()
    for kind in ("csv", "xlsx"):
        answer = client.get(reverse(f"trace-notice-{kind}", args=[saved.pk]))
        content = b"".join(answer) if answer.streaming else answer.content
        assert content.startswith(b"\xef\xbb\xbfnotice,patient" if kind == "csv" else b"PK")
    assert AuditEntry.objects.filter(table="registry_safetynotice", action="read").count() == 2


def test_evidence_is_a_pdf_with_every_step(client: Client) -> None:
    row = part(batch="LOT42A")
    saved = notice()
    answer = client.get(reverse("trace-notice-pdf", args=[saved.pk]))
    assert answer["Content-Type"] == "application/pdf"
    text = " ".join(one.extract_text() for one in PdfReader(BytesIO(answer.content)).pages)
    assert row.construct.procedure.injury.patient.key in text
    assert "difference is 0" in text
    assert "found" in text
    taken = AuditEntry.objects.get(table="registry_safetynotice", action="read")
    assert taken.reason == f"evidence of safety notice {saved.reference} as a PDF"


def test_carriers_are_shown_by_their_state(client: Client) -> None:
    certain, near = part(batch="LOT42A"), part(batch="L0T42A")
    saved = notice()
    url = reverse("trace-notice", args=[saved.pk])
    page = said(client.get(url, {"state": "undecided"}))
    assert str(near.construct.procedure.injury.patient.identity) in page
    assert str(certain.construct.procedure.injury.patient.identity) not in page
