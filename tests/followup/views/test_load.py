"""The pages of the clinics' load, as a coordinator uses them."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from followup.models import LoadProposal, Review
from registry.models import Person
from tests import builders
from tests.builders import NOW
from tests.followup.waiting import TUESDAY, waiting

pytestmark = pytest.mark.django_db
LATER = TUESDAY + timedelta(weeks=1)


@pytest.fixture
def desk(coordinator: Person) -> Iterator[Client]:
    client = Client()
    client.force_login(coordinator)
    with time_machine.travel(NOW, tick=False):
        yield client


def text(answer: Any) -> str:
    return " ".join(answer.content.decode().split())


def test_an_overload_stands_out_in_words_and_in_rust(desk: Client) -> None:
    builders.clinic(slots=2, name="Tuesdays")
    for _ in range(5):
        waiting()
    page = text(desk.get(reverse("load")))
    assert '<span class="act-now">in 1 week; worst 2026-W49, 3 too many</span>' in page
    assert '<span class="act-now">3 too many</span>' in page
    assert "More due than slots in 1 of them: 2026-W49 by 3." in page
    assert "No slot of the last 12 months was kept or missed yet" in page
    assert "2026-W53" in page
    assert "<title>2026-W49: 2 slots, 0 booked, 5 due, not booked; 3 too many</title>" in page


def test_without_a_clinic_the_page_says_what_is_missing(desk: Client) -> None:
    assert "No clinic yet" in text(desk.get(reverse("load")))


def test_one_clinic_or_all_can_be_looked_at(desk: Client) -> None:
    one = builders.clinic(name="Tuesdays")
    builders.clinic(name="Fridays", weekday=4)
    address = reverse("load")
    assert "Tuesdays, week by week" in text(desk.get(f"{address}?clinic={one.pk}"))
    assert "All clinics of North Hospital together" in text(desk.get(f"{address}?clinic=all"))
    assert desk.get(f"{address}?site=99").status_code == 404
    assert desk.get(f"{address}?site=x&clinic=x").status_code == 200


@pytest.mark.parametrize("monday", ["2026-11-16", "2027-05-24", "soon", "9999-12-31", "2026-13-01"])
def test_a_week_that_is_not_shown_is_not_there(desk: Client, monday: str) -> None:
    address = reverse("load-week", args=[builders.site().pk, monday])
    assert desk.get(address).status_code == 404


def test_one_act_moves_a_review_from_the_page_of_its_week(desk: Client) -> None:
    builders.clinic(slots=2)
    review = waiting()
    week = reverse("load-week", args=[review.site_id, "2026-11-30"])
    page = text(desk.get(week))
    assert '<option value="2026-12-08">Tue 08 Dec 2026 (2 free)</option>' in page
    sent = {"version": review.version, "to_on": LATER.isoformat()}
    answer = desk.post(reverse("review-move", args=[review.pk]), sent, follow=True)
    assert answer.redirect_chain == [(week, 302)]
    assert "moved from Tue 01 Dec to Tue 08 Dec 2026" in text(answer)
    assert Review.objects.get(pk=review.pk).proposed_on == LATER


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"version": "1", "to_on": "2027-03-02"}, "is outside the window, which goes from"),
        ({"version": "0", "to_on": "2026-12-08"}, "changed by somebody else"),
        ({"version": "1", "to_on": "someday"}, "Write a possible date as year-month-day"),
        ({"version": "1"}, "Choose a day."),
    ],
)
def test_a_move_that_cannot_be_is_refused_in_words(
    desk: Client, sent: dict[str, str], words: str
) -> None:
    builders.clinic()
    review = waiting()
    answer = desk.post(reverse("review-move", args=[review.pk]), sent)
    assert words in text(answer)
    assert "Nothing was saved yet" in text(answer)
    assert Review.objects.get(pk=review.pk).proposed_on == TUESDAY


def test_a_proposal_is_computed_looked_at_and_applied(desk: Client) -> None:
    builders.clinic(slots=3)
    for _ in range(5):
        waiting()
    made = desk.post(reverse("load-level", args=[builders.site().pk]))
    proposal = LoadProposal.objects.get()
    assert made.headers["Location"] == reverse("load-proposal", args=[proposal.pk])
    page = text(desk.get(made.headers["Location"]))
    assert "5 reviews are due and not booked in the 8 weeks; 2 of them move" in page
    assert '5, <span class="act-now">2 too many</span>' in page
    assert "Apply: move them" in page
    assert "nobody has decided on it" in text(desk.get(reverse("load")))
    done = desk.post(reverse("load-apply", args=[proposal.pk]), {"version": 1}, follow=True)
    assert "Applied: 2 moved." in text(done)
    assert "Apply: move them" not in text(done)
    again = desk.post(reverse("load-apply", args=[proposal.pk]), {"version": 1}, follow=True)
    assert "This proposal was applied by Connie already." in text(again)


def test_where_nobody_has_to_move_there_is_nothing_to_apply(desk: Client) -> None:
    builders.clinic(slots=3)
    waiting()
    made = desk.post(reverse("load-level", args=[builders.site().pk]), follow=True)
    assert "1 review is due and not booked in the 8 weeks; 0 of them move" in text(made)
    assert "Nobody has to move." in text(made)
    assert "Apply: move them" not in text(made)
    assert "Discard" in text(made)


def test_a_proposal_can_be_discarded(desk: Client) -> None:
    builders.clinic(slots=1)
    waiting()
    waiting()
    desk.post(reverse("load-level", args=[builders.site().pk]))
    proposal = LoadProposal.objects.get()
    done = desk.post(reverse("load-discard", args=[proposal.pk]), {"version": 1}, follow=True)
    assert "Nothing moved." in text(done)
    assert not Review.objects.filter(proposed_on=LATER).exists()


def test_a_surgeon_sees_the_load_and_moves_nothing(surgeon: Person) -> None:
    builders.clinic(slots=1)
    review = waiting()
    client = Client()
    client.force_login(surgeon)
    with time_machine.travel(NOW, tick=False):
        week = client.get(reverse("load-week", args=[review.site_id, "2026-11-30"]))
        assert "Move inside the window" not in text(week)
        assert "Compute a proposal" not in text(client.get(reverse("load")))
        assert client.post(reverse("load-level", args=[review.site_id])).status_code == 403
