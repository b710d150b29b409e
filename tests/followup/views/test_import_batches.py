"""The receipt of an import, those who are alike side by side, and taking it back, in the browser."""

from collections.abc import Iterator
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from followup.models.imports import ImportDraft
from followup.services import import_runs, import_work
from registry.models import ImportBatch, Patient, Person
from tests import builders
from tests.builders import NOW
from tests.followup.case_files import case
from tests.followup.sent_files import landed, sent_ours
from tests.followup.services.test_import_runs import stop_at_second_part, twins

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture(autouse=True)
def today(settings: Any, tmp_path: Any) -> Iterator[None]:
    settings.MEDIA_ROOT = tmp_path
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def people(draft: ImportDraft) -> str:
    return reverse("import-people", args=[draft.token])


def test_a_pair_lies_side_by_side_with_its_score_and_the_thresholds(here: Client) -> None:
    landed(sent_ours(case(1)))
    page = text(here.get(people(sent_ours(twins()[1]))))
    assert "Is this the same person?" in page
    assert "A score of 30 and more" in page
    assert "from 10 to 30 only a person can decide" in page
    assert "the same family name, given name" in page
    assert "<dt>Born</dt><dd>1986-04-13</dd>" in page
    assert "<dt>Born</dt><dd>1986-04-12</dd>" in page
    assert Patient.objects.get().key in page


def test_who_may_not_see_names_sees_none_of_the_record(client: Client) -> None:
    landed(sent_ours(case(1)))
    draft = sent_ours(twins()[1])
    client.force_login(builders.person("adam", north="administrator"))
    page = text(client.get(people(draft)))
    assert "yours is not a role that sees names" in page
    assert "1986-04-12" not in page


def test_a_decision_checks_the_file_again(here: Client) -> None:
    draft = sent_ours(*twins())
    pair = draft.pairs.get()
    done = here.post(people(draft), {f"pair_{pair.pk}": "other"}, follow=True)
    assert "1 decision kept." in text(done)
    assert "Import the whole file: 2 cases" in text(done)


def test_what_waits_lands_after_its_decision(here: Client) -> None:
    draft = sent_ours(*twins())
    batch = landed(draft)
    receipt = here.get(reverse("import-batch", args=[batch.pk]))
    assert "Decide about what waits" in text(receipt)
    assert here.post(people(draft), {}, follow=True).status_code == 200
    done = here.post(people(draft), {f"pair_{draft.pairs.get().pk}": "other"}, follow=True)
    assert "Added</a></dt><dd>2</dd>" in text(done)
    assert Patient.objects.count() == 2


def test_an_import_is_taken_back_with_a_reason(here: Client) -> None:
    batch = landed(sent_ours(case(1)))
    address = reverse("import-batch", args=[batch.pk])
    assert "Take this import back" in text(here.get(address))
    assert here.post(address, {"reason": ""}).status_code == 200
    done = here.post(address, {"reason": "of another hospital"}, follow=True)
    assert "cases.csv was taken back." in text(done)
    assert "of another hospital" in text(done)
    assert not Patient.objects.exists()
    assert "is &#x27;taken back&#x27;" in text(here.post(address, {"reason": "again"}))


def test_what_builds_on_an_import_is_named_instead_of_a_button(here: Client) -> None:
    batch = landed(sent_ours(case(1)))
    Patient.objects.update(version=2, changed_by=builders.person("selma", north="surgeon"))
    page = text(here.get(reverse("import-batch", args=[batch.pk])))
    assert "It cannot be taken back any more" in page
    assert "patient changed on" in page


def test_the_lines_of_a_receipt_are_shown_by_their_fate(here: Client) -> None:
    batch = landed(sent_ours(case(1), case(2, injury_date="2025-02-30")))
    address = reverse("import-batch", args=[batch.pk])
    assert "injury_date: &#x27;2025-02-30&#x27; is not a possible date" in text(here.get(address))
    assert "Added: line by line (1)" in text(here.get(f"{address}?fate=landed"))
    assert "Refused: line by line (1)" in text(here.get(f"{address}?fate=nonsense"))


def test_another_sites_receipt_is_not_there(here: Client, outsider: Person) -> None:
    batch = landed(sent_ours(case(1)))
    stranger = Client()
    stranger.force_login(outsider)
    address = reverse("import-batch", args=[batch.pk])
    assert stranger.get(address).status_code == 404
    assert stranger.post(address, {"reason": "x"}).status_code == 404
    assert ImportBatch.objects.get().state == "done"


def test_what_a_fault_stopped_offers_to_go_on_and_to_be_taken_back(
    here: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    draft = sent_ours(*(case(n) for n in range(1, 6)))
    batch = import_runs.start(draft, by=Person.objects.get(username="connie"), now=NOW)
    stop_at_second_part(monkeypatch)
    import_work.work(draft, now=NOW, today=NOW.date())
    monkeypatch.undo()
    receipt = text(here.get(reverse("import-batch", args=[batch.pk])))
    assert "Go on with the import where it stopped" in receipt
    assert "Take this import back" in receipt
    assert "hx-get" not in receipt
    check = reverse("import-check", args=[draft.token])
    assert "Go on with the import where it stopped" in text(here.get(check))
    done = here.post(check, follow=True)
    assert "Added</a></dt><dd>5</dd>" in text(done)
    assert Patient.objects.count() == 5
