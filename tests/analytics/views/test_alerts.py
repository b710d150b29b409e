from datetime import timedelta
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import AlertMail, AlertMailChoice, LossAlert
from followup.models import FilmImage, Task
from registry.models import Person
from tests.analytics.losses import alerted
from tests.analytics.views.test_outcomes import text
from tests.builders import NOW, TODAY
from tests.world import GREYS, kept_image

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


def send(client: Client, alert: LossAlert, **typed: Any) -> Any:
    sent = {"version": alert.version, "plan": "observe", "due_on": "2026-12-20", **typed}
    return client.post(reverse("films-lost-one", args=[alert.pk]), sent)


def test_the_list_shows_both_films_the_sentence_and_the_way_to_a_plan(
    here: Client, surgeon: Person
) -> None:
    alert = alerted("13.2", surgeon=surgeon)
    answer = here.get(reverse("films-lost"))
    said = text(answer)
    assert "Whose reduction may be lost?" in said
    assert "First film" in said
    assert "This film" in said
    assert "4.2 mm above the first film, more than the 3 mm" in said
    drawn = answer.content.decode()
    assert reverse("films-lost-one", args=[alert.pk]) in drawn
    assert reverse("outcomes-case", args=[alert.procedure_id]) in drawn
    assert alert.procedure.injury.patient.identity.family_name not in drawn


def test_where_the_film_has_a_picture_it_is_shown(here: Client, surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    image = kept_image(FilmImage(film=alert.film, site=alert.site), GREYS, surgeon)
    assert (
        reverse("image-frame", args=[image.pk, 1])
        in here.get(reverse("films-lost")).content.decode()
    )


def test_clinic_and_films_say_how_many_wait(here: Client, surgeon: Person) -> None:
    for name in ("clinic", "films"):
        assert "nobody's, as far as films were read" in text(here.get(reverse(name)))
    alerted(surgeon=surgeon)
    for name in ("clinic", "films"):
        assert "1 film waits for your plan" in text(here.get(reverse(name)))


def test_a_plan_is_saved_and_the_alert_leaves_the_list(here: Client, surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    answer = send(here, alert, plan="imaging", note="CT")
    assert answer.status_code == 302
    said = text(here.get(reverse("films-lost")))
    assert "Nobody waits for your plan" in said
    assert "Further imaging" in said
    assert Task.objects.get().words.endswith("CT")
    again = text(here.get(reverse("films-lost-one", args=[alert.pk])))
    assert "Acknowledged with a plan , Selma" in again or "Acknowledged with a plan, Selma" in again


def test_a_plan_without_a_choice_or_for_yesterday_saves_nothing(
    here: Client, surgeon: Person
) -> None:
    alert = alerted(surgeon=surgeon)
    assert "Choose what is to happen" in text(send(here, alert, plan=""))
    over = (TODAY - timedelta(days=1)).isoformat()
    assert "This day is over" in text(send(here, alert, due_on=over))
    alert.refresh_from_db()
    assert alert.state == "open"


def test_who_comes_second_is_shown_both_plans_and_nothing_is_lost(
    here: Client, surgeon: Person
) -> None:
    alert = alerted(surgeon=surgeon)
    send(here, alert)
    answer = send(here, alert, plan="revise", note="soon")
    assert answer.status_code == 409
    said = text(answer)
    assert "Somebody else saved this first" in said
    assert "soon" in answer.content.decode()
    alert.refresh_from_db()
    assert alert.plan == "observe"
    assert send(here, alert, plan="revise").status_code == 302


def test_what_is_no_longer_so_says_why_and_takes_no_plan(here: Client, surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    LossAlert.objects.update(state="taken_back", closed_at=NOW, closed_because="Held: read again.")
    said = text(here.get(reverse("films-lost-one", args=[alert.pk])))
    assert "No longer so since" in said
    assert "Held: read again." in said
    assert "Acknowledge with this plan" not in said
    assert "cannot become" in text(send(here, alert, version=alert.version))


def test_the_whole_site_is_asked_for(here: Client) -> None:
    alert = alerted(surgeon=None, site="north")
    LossAlert.objects.update(surgeon=alert.procedure.recorded_by)
    assert "Nobody waits" in text(here.get(reverse("films-lost")))
    assert alert.procedure.injury.patient.key in text(
        here.get(reverse("films-lost"), {"whose": "site"})
    )


def test_one_says_how_often_one_is_told_and_the_second_to_save_is_told(
    here: Client, surgeon: Person
) -> None:
    where = reverse("films-lost-mails")
    assert "At once when one is lost" in text(here.get(where))
    assert here.post(where, {"version": 0, "choice": "none"}).status_code == 302
    assert AlertMailChoice.objects.get(person=surgeon).choice == "none"
    assert here.post(where, {"version": 0, "choice": "digest"}).status_code == 409
    assert here.post(where, {"version": 1, "choice": ""}).status_code == 200
    assert AlertMailChoice.objects.get(person=surgeon).choice == "none"


def test_an_e_mail_that_did_not_go_is_told_on_the_list(here: Client, surgeon: Person) -> None:
    alert = alerted(surgeon=surgeon)
    AlertMail.objects.create(
        site=alert.site, person=surgeon, kind="notice", key="k", state="failed", wanted_at=NOW
    )
    assert "1 e-mail to you did not go" in text(here.get(reverse("films-lost")))
