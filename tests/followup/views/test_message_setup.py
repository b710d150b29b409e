"""A site's rules and words for messages, with a preview for a real case."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Message, MessagePolicy, MessageTemplate
from registry.models import Person, Site
from tests import builders
from tests.builders import booked
from tests.outbox import followed, policy

pytestmark = pytest.mark.usefixtures("defaults")
SHORT = "On {date} at {time} at {clinic}. Ring {phone}."


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def place(name: str, *more: str) -> str:
    return reverse(name, args=[builders.site().pk, *more])


def words(purpose: str = "appointment_booked", length: str = "short", language: str = "en") -> str:
    return place("setup-messages-words", purpose, length, language)


def given(**values: Any) -> dict[str, Any]:
    return {"subject": "", "body": SHORT, "version": 0, **values}


def rules(**values: Any) -> dict[str, Any]:
    """Return what the form of the rules sends: the shipped ones, and what is changed."""
    shipped = MessagePolicy(site=builders.site())
    sent = {
        field.name: getattr(shipped, field.name)
        for field in MessagePolicy._meta.fields
        if field.name not in ("id", "site") and getattr(shipped, field.name) is not False
    }
    return {**sent, **values}


def test_every_site_is_listed_with_its_rules(here: Client) -> None:
    page = here.get(reverse("setup-messages")).content.decode()
    assert "the shipped rules" in page
    policy(most_a_week=9)
    assert "9 in seven days" in here.get(reverse("setup-messages")).content.decode()


def test_the_number_that_patients_ring_is_the_sites(here: Client) -> None:
    assert "None is given yet" in here.get(place("setup-messages-site")).content.decode()
    Site.objects.update(telephone="0555 010 100")
    page = here.get(place("setup-messages-site")).content.decode()
    assert "None is given yet" not in page
    assert reverse("setup-site", args=[builders.site().pk]) in page


def test_rules_are_saved_and_an_older_version_is_not(here: Client) -> None:
    answer = here.post(place("setup-messages-rules"), rules(sends_text="on", most_a_week=5))
    assert answer.status_code == 302
    kept = MessagePolicy.objects.get()
    assert (kept.sends_text, kept.sends_letter, kept.most_a_week) == (True, False, 5)
    late = here.post(place("setup-messages-rules"), rules(version=7, most_a_week=6))
    assert late.status_code == 409
    assert MessagePolicy.objects.get().most_a_week == 5


def test_a_week_below_a_day_is_refused_by_its_field(here: Client) -> None:
    answer = here.post(place("setup-messages-rules"), rules(most_a_day=4, most_a_week=2))
    assert "A week holds at least what a day does: 4." in answer.content.decode()
    assert not MessagePolicy.objects.exists()


def test_rules_without_quiet_hours_are_refused_by_their_field(here: Client) -> None:
    sent = rules(email_quiet_from="00:00", email_quiet_until="00:00")
    page = here.post(place("setup-messages-rules"), sent).content.decode()
    assert "Without quiet hours, e-mail would go at night. Give two different times" in page
    assert not MessagePolicy.objects.exists()


def test_words_are_listed_by_purpose_length_and_language(here: Client) -> None:
    page = here.get(place("setup-messages-site")).content.decode()
    assert page.count("shipped</td>") == 16
    assert "Ihr Termin" in page


def test_words_are_saved_as_a_new_version(here: Client, administrator: Person) -> None:
    assert here.post(words(), given()).status_code == 302
    made = MessageTemplate.objects.get(site=builders.site())
    assert (made.purpose, made.length, made.language) == ("appointment_booked", "short", "en")
    assert (made.number, made.body, made.made_by) == (1, SHORT, administrator)


def test_who_comes_late_sees_what_it_now_reads(here: Client) -> None:
    here.post(words(), given())
    page = here.post(words(), given(body="Mine, {date} {time}")).content.decode()
    assert "It now reads: On {date} at {time}" in page
    assert 'name="version" value="1"' in page
    assert MessageTemplate.objects.filter(site=builders.site()).count() == 1


def test_an_unknown_placeholder_is_named_and_nothing_is_saved(here: Client) -> None:
    page = here.post(words(), given(body="{date} {time} {plate}")).content.decode()
    assert "{plate} is not known here. Known are: {site}, {phone}" in page
    assert not MessageTemplate.objects.filter(site=builders.site()).exists()


def test_words_of_another_language_are_added(here: Client) -> None:
    sent = given(purpose="appointment_booked", length="short", language="fr")
    assert here.post(place("setup-messages-words-add"), sent).status_code == 302
    assert MessageTemplate.objects.get(language="fr").site == builders.site()


def test_without_sight_of_patients_the_preview_is_of_an_invented_case(here: Client) -> None:
    review = followed()
    page = here.get(words(), {"case": review.procedure.injury.patient.key}).content.decode()
    assert "With an invented case." in page
    assert "You see no patients of this site" in page
    assert review.procedure.injury.patient.identity.family_name not in page


def test_the_preview_shows_a_real_case_and_saves_nothing(here: Client) -> None:
    builders.person("ada", north="coordinator")
    policy()
    Site.objects.update(telephone="0555 010 100")
    review = followed()
    slot = booked(review)
    patient = review.procedure.injury.patient
    before = Message.objects.count()
    sent = given(case=patient.identity.family_name, review=review.pk, preview="yes")
    page = here.post(words(), sent).content.decode()
    told = f"On 1 December 2026 at 09:00 at {slot.clinic.name}. Ring 0555 010 100."
    assert told in page
    assert f"{len(told)} characters: 1 text message" in page
    assert str(patient.identity) in page
    assert not MessageTemplate.objects.filter(site=builders.site()).exists()
    assert Message.objects.count() == before


def test_nobody_of_another_site_is_found_for_a_preview(here: Client) -> None:
    builders.person("ada", north="coordinator")
    builders.site("south")
    theirs = followed("south")
    page = here.get(words(), {"case": theirs.procedure.injury.patient.key}).content.decode()
    assert "Nobody with an open review here is called that." in page


def test_a_purpose_that_is_none_is_not_there(here: Client) -> None:
    assert here.get(words("birthday")).status_code == 404
    assert here.get(words(length="huge")).status_code == 404
