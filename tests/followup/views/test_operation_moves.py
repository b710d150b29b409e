"""The pages that give an operation to the injury that it was of."""

from typing import Any

import pytest
from django.test import Client

from followup.services import films
from registry.models import AuditEntry, Injury, Person, Procedure, RecordMove
from tests import builders, operations
from tests.builders import NOW, TODAY
from tests.looked import looked_for

pytestmark = pytest.mark.usefixtures("defaults")


@pytest.fixture
def client(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


@pytest.fixture
def operation(db: None) -> Procedure:
    return builders.procedure()


def text(answer: Any) -> str:
    return str(answer.content.decode())


def sent(page: Any, **more: str) -> dict[str, Any]:
    """Return what the form of a page sends as it stands."""
    form = page.context["form"]
    given = {name: form.get_initial_for_field(field, name) for name, field in form.fields.items()}
    return {name: value for name, value in {**given, **more}.items() if value not in (None, "")}


def film_of(operation: Procedure, day: Any = TODAY) -> None:
    films.record_film(
        injury=operation.injury,
        values={"taken_on": day, "view": "zanca"},
        by=operation.recorded_by,
        now=NOW,
        today=TODAY,
    )


def test_the_patients_page_leads_to_the_injuries_that_can_be_chosen(
    client: Client, operation: Procedure
) -> None:
    other = builders.injury(operation.injury.patient, side="right")
    key = operation.injury.patient.key
    assert f"/operations/{operation.pk}/move/" in text(client.get(f"/patients/{key}/"))
    page = text(client.get(f"/operations/{operation.pk}/move/"))
    assert f"/operations/{operation.pk}/move/to/{other.pk}/" in page
    assert f"/operations/{operation.pk}/move/to/{operation.injury_id}/" not in page
    assert f"/operations/{operation.pk}/move/new/{key}/" in page


def test_somebody_elses_injury_is_searched_for(client: Client, operation: Procedure) -> None:
    whose = builders.patient(family_name="Rightful")
    theirs = builders.injury(whose)
    address = f"/operations/{operation.pk}/move/"
    assert f"?of={whose.key}" in text(looked_for(client, "rightful", address))
    assert "Nobody else" in text(looked_for(client, "zzz", address))
    assert f"/move/to/{theirs.pk}/" in text(client.get(address, {"of": whose.key}))
    elsewhere = builders.patient(at=builders.site("south"))
    assert client.get(address, {"of": elsewhere.key}).status_code == 404
    read = AuditEntry.objects.filter(action="read", row_id=str(whose.pk))
    assert read.exists()


def test_what_goes_and_what_stays_is_shown_and_moved_and_undone(
    client: Client, operation: Procedure
) -> None:
    to = builders.injury(operation.injury.patient)
    film_of(operation)
    address = f"/operations/{operation.pk}/move/to/{to.pk}/"
    page = client.get(address)
    assert "Reviews: " in text(page)
    assert "Class: Neer IIB" in text(page)
    assert "Film: Zanca, 25 Nov 2026" in text(page)
    assert "This field is required" in text(client.post(address, sent(page)))
    answer = client.post(address, sent(page, reason="the note"), follow=True)
    assert "Moved: Fixation, 05 Jun 2026 is of Left shoulder, 2026 now" in text(answer)
    operation.refresh_from_db()
    assert (operation.injury, to.films.count()) == (to, 1)
    listed = text(client.get("/moves/"))
    assert "Fixation, 05 Jun 2026: left shoulder, 2026 to left shoulder, 2026" in listed
    one = RecordMove.objects.get()
    assert "Undone: Fixation" in text(client.post(f"/moves/{one.pk}/undo/", follow=True))
    operation.refresh_from_db()
    assert operation.injury != to


def test_the_other_side_is_told_and_confirmed(client: Client, operation: Procedure) -> None:
    to = builders.injury(operation.injury.patient, side="right")
    address = f"/operations/{operation.pk}/move/to/{to.pk}/"
    page = client.get(address)
    assert "recorded of the left shoulder; that injury is of the right" in text(page)
    refused = text(client.post(address, sent(page, reason="x")))
    assert "Confirm that the right one was operated" in refused
    client.post(address, sent(page, reason="x", side_confirmed="on"))
    operation.refresh_from_db()
    assert operation.injury == to


def test_what_was_recorded_meanwhile_is_shown_before_it_goes(
    client: Client, operation: Procedure
) -> None:
    to = builders.injury(operation.injury.patient)
    address = f"/operations/{operation.pk}/move/to/{to.pk}/"
    page = client.get(address)
    film_of(operation)
    again = client.post(address, sent(page, reason="x"))
    assert "recorded on this injury meanwhile" in text(again)
    assert "Film: Zanca, 25 Nov 2026" in text(again)
    form = again.context["form"]
    second = {**sent(page, reason="x"), "offered": form.data["offered"]}
    assert client.post(address, second).status_code == 302


def test_a_newer_version_is_told_and_the_next_try_is_over_it(
    client: Client, operation: Procedure
) -> None:
    to = builders.injury(operation.injury.patient)
    address = f"/operations/{operation.pk}/move/to/{to.pk}/"
    page = client.get(address)
    answer = client.post(address, sent(page, reason="x", version="9"))
    assert "was changed by somebody else" in text(answer)
    assert answer.context["form"].data["version"] == operation.version
    assert RecordMove.objects.count() == 0


def test_a_removal_says_what_it_revises_there(client: Client, operation: Procedure) -> None:
    removal = operations.later(operation.injury, "implant_removal", operation, TODAY)
    other = builders.procedure(builders.injury(operation.injury.patient))
    address = f"/operations/{removal.pk}/move/to/{other.injury_id}/"
    page = client.get(address)
    assert "What it revises there" in text(page)
    assert "which stays" in text(client.post(address, sent(page, reason="x")))
    client.post(address, sent(page, reason="x", revises=str(other.pk)))
    removal.refresh_from_db()
    assert removal.revises == other


def test_what_stands_in_the_way_of_a_removal_is_said_before_it_is_tried(
    client: Client, operation: Procedure
) -> None:
    removal = operations.later(operation.injury, "implant_removal", operation, TODAY)
    bare = builders.injury(operation.injury.patient)
    key = operation.injury.patient.key
    for where in (f"to/{bare.pk}", f"new/{key}"):
        page = text(client.get(f"/operations/{removal.pk}/move/{where}/"))
        assert "It revises Fixation, 05 Jun 2026, which stays" in page
        assert "Move it, with what goes along" not in page
    bare_page = text(client.get(f"/operations/{operation.pk}/move/to/{bare.pk}/"))
    assert "Was it of the left shoulder, 2026?" in bare_page


def test_an_injury_is_made_for_it(client: Client, operation: Procedure) -> None:
    whose = builders.patient()
    address = f"/operations/{operation.pk}/move/new/{whose.key}/"
    page = client.get(address)
    bad = client.post(address, sent(page, reason="x", side="left", injury_date="2026-13"))
    assert bad.status_code == 200
    late = sent(page, reason="x", side="left", injury_date="2026-06-20")
    assert "is before the injury" in text(client.post(address, late))
    assert Injury.objects.count() == 1
    good = sent(page, reason="x", side="left", injury_date="2026-06")
    assert "has an injury of its own now" in text(client.post(address, good, follow=True))
    operation.refresh_from_db()
    assert (operation.injury.patient, operation.injury.kind) == (whose, "lateral_clavicle")


def test_no_more_queries_for_more_that_was_found(
    client: Client, operation: Procedure, django_assert_max_num_queries: Any
) -> None:
    to = builders.injury(operation.injury.patient)
    address = f"/operations/{operation.pk}/move/to/{to.pk}/"
    for _ in range(3):
        film_of(operation)
    with django_assert_max_num_queries(400) as few:
        client.get(address)
    for _ in range(30):
        film_of(operation)
    with django_assert_max_num_queries(len(few)):
        client.get(address)
