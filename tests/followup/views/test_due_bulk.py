"""Ticking rows, seeing what would happen, doing it: without any script."""

import re
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Appointment, Clinic, Message, Review
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.listed import due

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, coordinator: Person) -> Client:
    client.force_login(coordinator)
    return client


def send(client: Client, name: str, **values: Any) -> str:
    answer = client.post(reverse(name), values, follow=True)
    return " ".join(answer.content.decode().split())


def wishes(page: str) -> list[str]:
    return re.findall(r'name="wish" value="([^"]+)"', page)


def ticks(page: str) -> list[str]:
    return re.findall(r'name="row" value="([^"]+)"', page)


def day(where: Clinic, on: str = "2026-12-01") -> dict[str, str]:
    return {"clinic": str(where.pk), "day": on}


def test_a_clinic_list_is_chosen_previewed_and_booked(here: Client) -> None:
    first, second = due("First"), due("Second")
    where = builders.clinic(first.site, slots=1)
    rows = ticks(here.get(reverse("due")).content.decode())
    assert rows == [f"{first.pk}:{first.version}", f"{second.pk}:{second.version}"]
    asked = send(here, "due-book-several", row=rows)
    assert "Show what would happen" in asked
    assert not wishes(asked)
    preview = send(here, "due-book-several", row=rows, **day(where))
    assert "1 of 2 ticked, in order of urgency. Nothing is done yet." in preview
    assert "nothing: no slot of this clinic is left on this day" in preview
    assert not Appointment.objects.exists()
    done = send(here, "due-book-several", wish=wishes(preview), confirm="yes", **day(where))
    assert "Book a clinic list: 1 done" in done
    slot = Appointment.objects.get()
    assert (slot.review, slot.clinic) == (first, where)


def test_what_changed_since_the_preview_is_refused_and_said(here: Client) -> None:
    review, other = due("Changed"), due("Other")
    where = builders.clinic(review.site)
    preview = send(here, "due-book-several", row=[review.pk, other.pk], **day(where))
    Review.objects.filter(pk=review.pk).update(version=9)
    done = send(here, "due-book-several", wish=wishes(preview), confirm="yes", **day(where))
    assert "1 done, 1 refused" in done
    assert "was changed meanwhile by somebody else" in done
    assert Appointment.objects.get().review == other


def test_a_day_without_the_clinic_is_said_before_anything_is_done(here: Client) -> None:
    review = due()
    where = builders.clinic(review.site)
    shown = send(here, "due-book-several", row=[review.pk], **day(where, "2026-12-02"))
    assert "is not held on a Wednesday" in shown
    assert not wishes(shown)


def test_another_sites_clinic_is_no_choice(here: Client) -> None:
    review, foreign = due(), builders.clinic(builders.site("south"))
    shown = send(here, "due-book-several", row=[review.pk], **day(foreign))
    assert "Select a valid choice" in shown


def test_all_on_the_page_are_meant_by_one_tick(here: Client) -> None:
    one, other = due("One"), due("Other")
    preview = send(here, "due-end-several", every="yes", shown=[one.pk, other.pk], reason="abroad")
    assert len(wishes(preview)) == 2
    done = send(here, "due-end-several", wish=wishes(preview), confirm="yes", reason="abroad")
    assert "Not needed: 2 done" in done
    assert set(Review.objects.filter(state="not_needed").values_list("ended_reason")) == {
        ("abroad",)
    }


def test_ending_without_a_reason_ends_nothing(here: Client) -> None:
    review = due()
    shown = send(
        here, "due-end-several", wish=[f"{review.pk}:{review.version}"], confirm="yes", reason=" "
    )
    assert "This field is required" in shown
    assert not Review.objects.filter(state="not_needed").exists()


def test_reminders_are_previewed_and_sent(here: Client) -> None:
    one, silent = due("One", email="one@mail.invalid"), due("Silent")
    preview = send(here, "due-remind-several", row=[one.pk, silent.pk])
    assert "by e-mail" in preview
    assert "nothing: has no address for e-mail" in preview
    assert not Message.objects.exists()
    done = send(here, "due-remind-several", wish=wishes(preview), confirm="yes")
    assert "Send reminders: 1 done" in done
    assert Message.objects.get().review == one


@pytest.mark.parametrize("name", ["due-book-several", "due-remind-several", "due-end-several"])
@pytest.mark.parametrize(
    "sent",
    [{}, {"row": ["x", "9" * 40]}, {"wish": ["1:2:3:4", ":", "\N{SUPERSCRIPT TWO}:1"]}],
    ids=["nothing", "no numbers", "no wishes"],
)
def test_without_a_row_that_is_meant_nothing_happens(
    here: Client, name: str, sent: dict[str, Any]
) -> None:
    due()
    assert "Tick the rows that are meant first" in send(here, name, **sent)


def test_a_row_of_another_site_is_as_if_it_were_not_there(here: Client) -> None:
    foreign = due("Foreign", site="south")
    shown = send(here, "due-end-several", row=[foreign.pk], reason="abroad")
    assert "Foreign" not in shown
    assert "Tick the rows that are meant first" in shown
