"""Protocols in the set-up: listing, reading, and making a new version."""

import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.models import Protocol, ProtocolStep, ProtocolVersion, Review
from registry.models import Person
from tests import builders

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, administrator: Person) -> Client:
    client.force_login(administrator)
    return client


def text(answer: Any) -> str:
    """Return the words of a page, without its marks."""
    plain = re.sub(r"<[^>]+>", " ", answer.content.decode())
    return re.sub(r"\s+", " ", unescape(plain))


def shared() -> Protocol:
    row: Protocol = Protocol.objects.get(name="After fixation")
    return row


def where_new() -> str:
    return reverse("setup-protocol-new", args=[shared().pk])


def where_own() -> str:
    return reverse("setup-protocol-own", args=[shared().versions.last().pk])


def typed(page: Any, **changes: str) -> dict[str, Any]:
    """Return what a browser would send of a page's form, with some fields typed over."""
    form, steps = page.context["form"], page.context["steps"]
    sent: dict[str, Any] = {}
    for one in (form, steps.management_form, *steps.forms):
        for field in one:
            value = field.value()
            if value is not None and value is not False:
                sent[field.html_name] = "on" if value is True else value
    given = {"effective_from": "2027-01-01", "source_note": "the meeting of May"}
    return {**sent, **given, **changes}


def send(client: Client, where: str, button: str = "save", **changes: str) -> Any:
    """Press a button; what is saved is looked at first."""
    sent = typed(client.get(where), **changes)
    return press(client, where, sent, button)


def press(client: Client, where: str, sent: dict[str, Any], button: str = "save") -> Any:
    answer = client.post(where, {**sent, ("look" if button == "save" else button): ""})
    looked = answer.context["looked"]
    if button != "save" or not looked:
        return answer
    return client.post(where, {**sent, "looked": looked["mark"], "save": ""}, follow=True)


def test_the_list_shows_each_protocol_with_its_versions(here: Client) -> None:
    said = text(here.get(reverse("setup-protocols")))
    assert "Hook plate, at every site without its own" in said
    assert "Version 1 of After fixation , from 1 Jan 2000 in force" in said
    assert reverse("setup-protocols") in here.get(reverse("setup")).content.decode()


def test_without_a_protocol_the_list_says_what_one_is_for(here: Client) -> None:
    for model in (ProtocolStep, ProtocolVersion, Protocol):
        model.objects.all().delete()
    assert "No protocol yet" in text(here.get(reverse("setup-protocols")))


def test_a_version_shows_its_steps_in_words(here: Client) -> None:
    said = text(here.get(reverse("setup-protocol", args=[shared().versions.get().pk])))
    assert "6 weeks 6w 6 weeks 14 days before to 14 days after Zanca film" in said
    assert "by the service itself" in said


def test_saving_makes_a_new_version_and_its_page_says_what_changed(here: Client) -> None:
    answer = send(here, where_new(), **{"steps-1-window_after_days": "9"})
    assert "Saved: After fixation, version 2." in text(answer)
    made = shared().versions.get(number=2)
    assert (str(made.effective_from), made.steps.count()) == ("2027-01-01", 7)
    assert made.steps.get(code="6w").film_views == ["zanca"]
    said = text(here.get(reverse("setup-protocol", args=[made.pk])))
    assert "2 weeks: window 4 days before to 7 days after 4 days before to 9 days after" in said
    assert "to come" in said
    assert "by Ada" in said
    assert shared().versions.get(number=1).steps.get(code="2w").window_after_days == 7


def test_sides_own_items_and_milestones_are_kept_with_the_step(here: Client) -> None:
    sent = {
        "steps-1-film_ap": "other",
        "steps-1-free_items": "Sling: sling worn as agreed",
        "steps-1-milestone_0_at_most_deg": "80",
        "steps-1-milestone_1_words": "no lifting",
        "steps-1-milestone_1_source": "common practice, no source",
    }
    send(here, where_new(), **sent)
    step = shared().versions.get(number=2).steps.get(code="2w")
    assert (step.film_views, step.film_sides) == (["ap"], {"ap": "other"})
    assert step.free_items == [{"code": "sling", "words": "sling worn as agreed"}]
    assert [one["at_most_deg"] for one in step.milestones] == [80, None]
    assert step.milestones[1]["movement"] == ""
    said = text(here.get(reverse("setup-protocol", args=[step.version_id])))
    assert "AP film of the other side, wound check" in said
    assert "no lifting (common practice, no source)" in said


def test_what_it_changes_is_shown_before_it_is_saved(here: Client) -> None:
    said = text(send(here, where_new(), "look", **{"steps-6-DELETE": "on"}))
    assert "24 months, 90 days before to 180 days after" in said
    assert "Nothing is saved yet" in said
    assert shared().versions.count() == 1


def test_nothing_is_saved_that_was_not_looked_at_as_it_is(here: Client) -> None:
    builders.procedure()
    sent = typed(here.get(where_new()), **{"steps-6-DELETE": "on"})
    page = here.post(where_new(), {**sent, "save": ""})
    said = text(page)
    assert "1 operation at your sites follows After fixation, version 1 and stays on it" in said
    assert "7 open reviews would follow" in said
    assert "as typed here (lower bar)" in said
    other = {**sent, "source_note": "another meeting", "looked": page.context["looked"]["mark"]}
    here.post(where_new(), {**other, "save": ""})
    assert shared().versions.count() == 1
    here.post(where_new(), {**sent, "looked": page.context["looked"]["mark"], "save": ""})
    assert shared().versions.count() == 2
    assert set(Review.objects.values_list("step__version__number", flat=True)) == {1}


def test_a_step_is_added_without_losing_what_was_typed(here: Client) -> None:
    where = where_new()
    page = send(here, where, "add", source_note="", **{"steps-0-name": "Typed once"})
    assert "Typed once" in page.content.decode()
    assert "Nothing was saved yet" not in text(page)
    sent = typed(
        page,
        **{
            "steps-7-code": "5y",
            "steps-7-name": "5 years",
            "steps-7-offset_value": "60",
            "steps-7-offset_unit": "months",
            "steps-7-window_before_days": "60",
            "steps-7-window_after_days": "60",
        },
    )
    press(here, where, sent)
    steps = shared().versions.get(number=2).steps
    assert list(steps.values_list("code", flat=True))[-1] == "5y"
    assert steps.get(code="baseline").name == "Typed once"


def test_a_removed_step_is_not_in_the_new_version(here: Client) -> None:
    send(here, where_new(), **{"steps-1-DELETE": "on", "steps-1-name": ""})
    codes = shared().versions.get(number=2).steps.values_list("code", flat=True)
    assert "2w" not in codes
    assert len(codes) == 6


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"source_note": ""}, "What changes, and on whose authority: This field is required"),
        ({"effective_from": "1999-12-31"}, "Version 1 begins on 01 Jan 2000"),
        ({"effective_from": "soon"}, "Write a possible date"),
        ({"steps-1-code": "6w"}, "6 weeks: Code: Another step has this code"),
        ({"steps-1-horizon": "6w"}, "6 weeks: Counts for the horizon: Another step counts for"),
        ({"steps-1-window_after_days": "60"}, "Opens days before: The windows of '2w' and '6w'"),
        ({"steps-1-offset_value": "-1"}, "2 weeks: Due after: Ensure this value is greater"),
        ({"steps-1-offset_unit": "years"}, "2 weeks: Unit: Select a valid choice"),
        ({"steps-1-film_zanca": "left"}, "2 weeks: Zanca film: Select a valid choice"),
        ({"steps-1-free_items": "sling worn"}, "in our own words: 'sling worn' has no colon"),
        ({"steps-1-milestone_0_words": ""}, "2 weeks: In words: Say in words"),
        ({"steps-1-milestone_0_at_most_deg": "191"}, "191 degrees cannot be; it goes from 0 to"),
        ({"steps-2-milestone_2_at_least_deg": "9"}, "Say which movement the degrees are of"),
        (
            {
                "steps-1-milestone_1_movement": "flexion",
                "steps-1-milestone_1_mode": "passive",
                "steps-1-milestone_1_at_least_deg": "30",
                "steps-1-milestone_1_words": "soon",
                "steps-1-milestone_1_source": "ours",
            },
            "Milestone 2 is of passive flexion, as another is",
        ),
        ({"steps-TOTAL_FORMS": "x"}, "at least one step"),
        ({f"steps-{n}-DELETE": "on" for n in range(7)}, "at least one step"),
    ],
)
def test_a_faulty_version_is_refused_by_the_field_and_keeps_what_was_typed(
    here: Client, changes: dict[str, str], words: str
) -> None:
    page = send(here, where_new(), **{"source_note": "typed once", **changes})
    assert words in text(page)
    assert "typed once" in page.content.decode() or changes.get("source_note") == ""
    assert shared().versions.count() == 1


def test_a_step_that_collects_nothing_is_refused(here: Client) -> None:
    sent = typed(here.get(where_new()))
    for name in ("scores", "wound_check", "complication_screen"):
        sent.pop(f"steps-1-{name}", None)
    page = press(here, where_new(), sent)
    assert "2 weeks: AP film: A step collects something" in text(page)


def test_two_administrators_see_both_versions(here: Client) -> None:
    mine = typed(here.get(where_new()), **{"steps-1-window_after_days": "9"})
    send(here, where_new(), source_note="theirs", **{"steps-1-window_after_days": "8"})
    answer = press(here, where_new(), mine)
    assert answer.status_code == 409
    said = text(answer)
    assert "theirs the meeting of May" in said
    assert "4 days before to 8 days after 4 days before to 9 days after" in said
    assert 'name="version" value="2"' in answer.content.decode()
    press(here, where_new(), {**mine, "version": "2"})
    assert shared().versions.get(number=3).steps.get(code="2w").window_after_days == 9


def test_a_site_makes_a_protocol_of_its_own(here: Client) -> None:
    site = builders.site()
    own = {"name": "North's own", "site": str(site.pk), "construct_type": ""}
    page = send(here, where_own(), **own)
    assert "Saved: North's own, version 1." in text(page)
    made = Protocol.objects.get(name="North's own")
    assert (made.site, made.construct_type, made.purpose) == (site, None, "fixation")
    again = send(here, where_own(), **own)
    assert "Construct type: 'North's own' is for the same operations" in text(again)


def test_a_protocol_cannot_be_made_for_a_site_that_is_not_mine(here: Client) -> None:
    foreign = builders.site("south")
    send(here, where_own(), name="Theirs", site=str(foreign.pk), construct_type="")
    assert not Protocol.objects.filter(site=foreign).exists()


def test_a_shared_protocol_is_left_alone_by_whoever_sets_up_one_site_of_two(here: Client) -> None:
    builders.site("south")
    assert "somebody who administers every site" in text(here.get(reverse("setup-protocols")))
    answer = here.get(where_new())
    assert answer.status_code == 403
    assert "Make a protocol of your own from it" in text(answer)


@pytest.mark.parametrize("name", ["setup-protocols", "setup-protocol", "setup-protocol-new"])
def test_only_an_administrator_sets_protocols_up(
    client: Client, surgeon: Person, name: str
) -> None:
    client.force_login(surgeon)
    number = {"setup-protocol": [shared().versions.get().pk], "setup-protocol-new": [shared().pk]}
    assert client.get(reverse(name, args=number.get(name, []))).status_code == 403


def test_another_sites_protocol_is_not_there(here: Client) -> None:
    theirs = Protocol.objects.create(name="Theirs", purpose="fixation", site=builders.site("south"))
    version = ProtocolVersion.objects.create(
        protocol=theirs, number=1, effective_from="2026-01-01", made_at=builders.NOW
    )
    assert here.get(reverse("setup-protocol", args=[version.pk])).status_code == 404
    assert here.get(reverse("setup-protocol-own", args=[version.pk])).status_code == 404
    assert here.get(reverse("setup-protocol-new", args=[theirs.pk])).status_code == 404


def test_the_pages_cost_the_same_for_few_and_many(here: Client, counted: Any) -> None:
    version = shared().versions.get()
    cost = []
    for number in (1, 60):
        for index in range(version.number, number):
            ProtocolVersion.objects.create(
                protocol=shared(),
                number=index + 1,
                effective_from="2026-01-01",
                made_at=builders.NOW,
            )
        with counted() as queries:
            here.get(reverse("setup-protocols"))
            here.get(reverse("setup-protocol", args=[version.pk]))
        cost.append(len(queries))
    assert cost[0] == cost[1]
