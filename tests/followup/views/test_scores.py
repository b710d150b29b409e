"""Answers of an instrument by the numbers of its items."""

from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Review, Score
from registry.models import Person
from tests import builders
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]

# 11 + 15 + 26 + 13.67: see the example beside the rule.
CONSTANT = {
    **{"item_1": "11", "item_2": "1", "item_3": "3", "item_4": "3", "item_5": "8"},
    **{"item_6": "125", "item_7": "100", "item_8": "3", "item_9": "3", "item_10": "6.2"},
}


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(NOW, tick=False)


@pytest.fixture
def here(client: Client, surgeon: Person) -> Client:
    client.force_login(surgeon)
    return client


@pytest.fixture
def review(surgeon: Person) -> Review:
    found: Review = builders.procedure().reviews.get(step__code="6m")
    return found


def where(review: Review, code: str) -> str:
    return reverse("clinic-score", args=[review.pk, code])


def send(client: Client, review: Review, code: str, **items: str) -> Any:
    sent = {"taken_on": "2026-11-25", "mode": "clinic", **items}
    return client.post(where(review, code), sent)


def test_the_page_says_the_range_the_missing_rule_and_the_source_and_no_licensed_wording(
    here: Client, review: Review
) -> None:
    shown = here.get(where(review, "quickdash")).content.decode()
    for words in (
        "QuickDASH: 0 to 100, 0 is best. At least 10 of 11 answers",
        "Institute for Work &amp; Health",
        "Item 11, 1 to 5",
    ):
        assert words in shown
    assert "Item 12" not in shown


def test_the_visit_leads_to_it(here: Client, review: Review) -> None:
    shown = here.get(reverse("clinic-visit", args=[review.pk])).content.decode()
    for code in ("quickdash", "dash", "constant", "ases", "oss"):
        assert where(review, code) in shown


def test_the_parts_of_the_constant_score_are_computed_and_kept(
    here: Client, review: Review
) -> None:
    answer = send(here, review, "constant", **CONSTANT)
    assert answer.url == reverse("clinic-visit", args=[review.pk])
    kept = Score.objects.get()
    assert (kept.instrument, float(kept.value)) == ("constant", 65.67)
    assert kept.items["10"] == 6.2
    assert "Constant-Murley: 65.67." in here.get(answer.url).content.decode()


def test_too_few_answers_are_kept_and_the_page_says_why_there_is_no_total(
    here: Client, review: Review
) -> None:
    answer = send(here, review, "quickdash", item_1="2", item_2="3")
    assert Score.objects.get().value is None
    assert (
        "a total is not computable: 2 of 11 items answered; at least 10 are needed."
        in here.get(answer.url).content.decode()
    )


@pytest.mark.parametrize(
    ("items", "says"),
    [
        ({"item_1": "6"}, "less than or equal to 5"),
        ({"item_1": "2.5"}, "Enter a whole number"),
        ({}, "No item is answered yet"),
        ({"item_1": "2", "taken_on": "2026-11-26"}, "in the future"),
    ],
)
def test_what_cannot_be_is_refused_by_its_field_and_nothing_is_saved(
    here: Client, review: Review, items: dict[str, str], says: str
) -> None:
    answer = send(here, review, "quickdash", **items)
    assert answer.status_code == 200
    assert says in answer.content.decode()
    assert not Score.objects.exists()


def test_an_answer_of_nought_is_an_answer(here: Client, review: Review) -> None:
    send(here, review, "oss", **{f"item_{number}": "0" for number in range(1, 13)})
    assert Score.objects.get().value == 0


def test_the_older_oxford_form_is_turned_round(here: Client, review: Review) -> None:
    shown = here.get(where(review, "oss_12_60")).content.decode()
    assert "answers are turned round and kept on this scale" in shown
    send(here, review, "oss_12_60", **{f"item_{number}": "1" for number in range(1, 13)})
    kept = Score.objects.get()
    assert (kept.instrument, kept.value) == ("oss", 48)


def test_an_instrument_that_is_not_known_is_not_there(here: Client, review: Review) -> None:
    assert here.get(where(review, "grip")).status_code == 404


def test_a_coordinator_and_another_site_have_no_part_in_it(
    client: Client, review: Review, coordinator: Person
) -> None:
    client.force_login(coordinator)
    assert client.get(where(review, "quickdash")).status_code == 403
    client.force_login(builders.person("sol", south="surgeon"))
    assert client.get(where(review, "quickdash")).status_code == 404
    assert send(client, review, "quickdash", item_1="2").status_code == 404
    assert not Score.objects.exists()
