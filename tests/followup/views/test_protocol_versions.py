"""Comparing versions, and moving patients from one to another."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Protocol, ProtocolVersion, Review, VersionMove
from followup.services import protocols
from registry.models import Person
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

COMPARE = "setup-protocols-compare"
STEP = {
    "code": "12m",
    "name": "12 months",
    "offset_value": 13,
    "offset_unit": "months",
    "window_before_days": 30,
    "window_after_days": 30,
}


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW)


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


@pytest.fixture
def second(administrator: Person) -> ProtocolVersion:
    return protocols.add_version(
        protocol=Protocol.objects.get(name="After fixation"),
        effective_from=TODAY,
        source_note="our policy",
        steps=[STEP],
        by=administrator,
        now=NOW,
    )


def first() -> ProtocolVersion:
    row: ProtocolVersion = ProtocolVersion.objects.get(protocol__name="After fixation", number=1)
    return row


def text(answer: Any) -> str:
    plain = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(plain))


def where(target: ProtocolVersion) -> str:
    return f"{reverse('setup-protocol-move', args=[first().pk])}?to={target.pk}"


def test_any_two_versions_stand_on_one_axis_with_what_changes_in_words(here: Client) -> None:
    other = ProtocolVersion.objects.get(protocol__name="After fixation with a hook plate")
    page = here.get(reverse(COMPARE), {"a": first().pk, "b": other.pk})
    said = text(page)
    assert "6 months, hook out?: milestones" in said
    assert "After fixation with a hook plate, version 1 (from 01 Jan 2000) (lower bar)" in said
    assert page.content.decode().count("pp-lane-1") > 5
    assert "differs" in said


def test_before_two_are_chosen_only_the_choice_is_there(here: Client) -> None:
    assert "<svg viewBox" not in here.get(reverse(COMPARE)).content.decode()
    assert "Select a valid choice" in text(here.get(reverse(COMPARE), {"a": 0, "b": first().pk}))


def test_a_version_page_shows_its_picture(here: Client) -> None:
    page = here.get(reverse("setup-protocol", args=[first().pk])).content.decode()
    assert 'role="img"' in page
    assert "counts for 24 months" in page


def test_a_move_is_shown_before_it_is_made(here: Client, second: ProtocolVersion) -> None:
    builders.procedure()
    said = text(here.get(where(second)))
    assert "1 operation at your sites follows After fixation, version 1" in said
    assert "All steps 1 0 0 6 0 0" in said
    assert not VersionMove.objects.exists()


def test_patients_are_moved_with_a_reason_and_told_of(
    here: Client, second: ProtocolVersion
) -> None:
    operation = builders.procedure()
    seen_at = here.get(where(second)).context["form"]["seen_at"].value()
    answer = here.post(where(second), {"seen_at": seen_at, "reason": "the meeting of May"})
    said = text(answer)
    assert "1 operation moved to After fixation, version 2" in said
    assert "Nobody at your sites follows After fixation, version 1 any more" in said
    assert operation.reviews.get(step__code="12m").step.version == second
    assert VersionMove.objects.get().reason == "the meeting of May"


def test_who_was_skipped_is_named_with_the_reason(here: Client, second: ProtocolVersion) -> None:
    operation = builders.procedure()
    answer = here.post(
        where(second), {"seen_at": "2020-01-01T00:00:00+00:00", "reason": "the meeting"}
    )
    said = text(answer)
    assert str(operation.injury.patient.key)[:8] in said
    assert "one of its reviews was changed after you looked" in said
    assert "1 still follow After fixation, version 1" in said
    assert set(Review.objects.values_list("step__version__number", flat=True)) == {1}


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"reason": ""}, "Why, and on whose authority: This field is required"),
        ({"seen_at": "yesterday"}, "Look at what it would do once more"),
        ({"seen_at": "2026-11-25T10:00:00"}, "Look at what it would do once more"),
    ],
)
def test_a_faulty_move_is_refused(
    here: Client, second: ProtocolVersion, sent: dict[str, str], words: str
) -> None:
    builders.procedure()
    given = {"seen_at": NOW.isoformat(), "reason": "the meeting", **sent}
    assert words in text(here.post(where(second), given))
    assert not VersionMove.objects.exists()


def test_a_version_that_is_no_target_cannot_be_chosen(here: Client) -> None:
    for target in (first(), ProtocolVersion.objects.get(protocol__purpose="removal")):
        page = here.post(where(target), {"seen_at": NOW.isoformat(), "reason": "the meeting"})
        assert "Select a valid choice" in text(page)


def test_another_sites_version_is_not_there(here: Client, second: ProtocolVersion) -> None:
    theirs = Protocol.objects.create(name="Theirs", purpose="fixation", site=builders.site("south"))
    version = ProtocolVersion.objects.create(
        protocol=theirs, number=1, effective_from=TODAY, made_at=NOW
    )
    assert here.get(reverse("setup-protocol-move", args=[version.pk])).status_code == 404
    assert "Select a valid choice" in text(here.get(where(version)))
    compared = here.get(reverse(COMPARE), {"a": version.pk, "b": second.pk})
    assert "Select a valid choice" in text(compared)


def test_only_an_administrator_moves_patients(
    client: Client, surgeon: Person, second: ProtocolVersion
) -> None:
    client.force_login(surgeon)
    assert client.get(where(second)).status_code == 403
    assert client.get(reverse(COMPARE)).status_code == 403
