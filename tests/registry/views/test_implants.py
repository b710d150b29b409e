"""Which implants are used here? What is a scanned draft?"""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from registry.models import ImplantModel, Person
from registry.services.implants import LabelGiven, add_part, part_of
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, SCREW

pytestmark = pytest.mark.django_db
LIST = reverse("setup-implants")


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def draft() -> ImplantModel:
    built = builders.procedure().construct
    given = part_of(LabelGiven(f"(01){SCREW}(10)B7"), TODAY)
    model: ImplantModel = add_part(
        construct=built, given=given, by=built.recorded_by, now=NOW
    ).implant_model
    return model


def article(**changes: Any) -> dict[str, Any]:
    return {
        "version": "1",
        "kind": "screw",
        "description": "locking screw 2.3 mm",
        "device_identifier": SCREW,
        "is_active": "on",
        **changes,
    }


def words(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_the_list_counts_finds_and_shows_drafts_first(here: Client) -> None:
    ImplantModel.objects.create(
        kind="plate", description="lateral plate", device_identifier=PLATE, plate_holes=7
    )
    waiting = draft()
    shown = words(here.get(LIST))
    assert "Which implants are used here?" in shown
    assert shown.index("Not described yet") < shown.index("lateral plate")
    assert "1 draft</span> came with scanned parts" in shown
    assert "7 holes" in shown
    assert reverse("setup-implant-join", args=[waiting.pk]) in shown
    assert "lateral plate" not in words(here.get(LIST, {"show": "drafts"}))
    assert "Not described yet" not in words(here.get(LIST, {"q": "9506000134352"}))
    assert "Nothing found" in words(here.get(LIST, {"q": "spring"}))


def test_many_are_paged(here: Client) -> None:
    ImplantModel.objects.bulk_create(
        ImplantModel(kind="screw", description=f"screw {n:03d}") for n in range(60)
    )
    assert "Page 1 of 2" in words(here.get(LIST))
    assert "q=screw&amp;page=2" in words(here.get(LIST, {"q": "screw"}))
    assert "screw 059" in words(here.get(LIST, {"q": "screw", "page": "2"}))


def test_an_article_is_added_and_switched_off(here: Client) -> None:
    here.post(reverse("setup-implant-add"), article())
    row = ImplantModel.objects.get()
    here.post(reverse("setup-implant", args=[row.pk]), article(is_active=""))
    row.refresh_from_db()
    assert not row.is_active
    assert "switched off" in words(here.get(LIST))


def test_a_draft_is_described(here: Client) -> None:
    row = draft()
    where = reverse("setup-implant", args=[row.pk])
    assert f"What is this article: {SCREW}?" in words(here.get(where))
    assert "This is of a plate alone" in words(here.post(where, article(plate_holes="6")))
    assert here.post(where, article(screw_diameter_mm="2.3")).status_code == 302
    row.refresh_from_db()
    assert (row.is_draft, row.description) == (False, "locking screw 2.3 mm")


def test_a_draft_is_said_to_be_a_listed_one(here: Client) -> None:
    known = ImplantModel.objects.create(
        kind="screw", description="locking screw 2.3 mm", device_identifier=PLATE
    )
    row = draft()
    where = reverse("setup-implant-join", args=[row.pk])
    assert "Type a part of its identifier" in words(here.get(where))
    assert "locking screw 2.3 mm" in words(here.get(where, {"q": "locking"}))
    assert here.post(where, {"version": "1", "known": known.pk}).status_code == 302
    row.refresh_from_db()
    assert row.same_as == known
    refused = words(here.post(where, {"version": "2", "known": known.pk}))
    assert "is listed already" in refused


def test_an_older_version_is_shown_beside_the_newer(here: Client) -> None:
    here.post(reverse("setup-implant-add"), article())
    where = reverse("setup-implant", args=[ImplantModel.objects.get().pk])
    here.post(where, article(description="first"))
    late = here.post(where, article(description="second"))
    assert late.status_code == 409
    assert "first" in words(late)
