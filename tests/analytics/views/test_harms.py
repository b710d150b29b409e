import re
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.selectors import outcomes as selector
from registry.models import Person
from tests import builders
from tests.analytics.records import complication, held, reading

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def some() -> None:
    """A hook taken out as planned, a plate with two complications and its removal, one well."""
    hook, plate = held(construct="HP"), held(construct="LP")
    held(construct="LP")
    complication(plate, 60, "hardware_irritation", grade="II")
    complication(plate, 90, "nerve", grade="III")
    reading(hook, 100, union="united")
    for done, planned in ((hook, True), (plate, False)):
        builders.procedure(
            done.injury,
            None,
            kind="implant_removal",
            revises=done,
            planned_removal=planned,
            performed_on=done.performed_on.replace(month=10),
        )


def test_patients_events_grades_and_person_time_stand_by_kind(meeting: Client) -> None:
    some()
    said = text(meeting.get(reverse("harms")))
    assert "Any complication all 3 1 33.3% (6.1% to 79.2%) 2 66.7 (8.1 to 240.8)" in said
    assert "II: 1; III: 1 60 (60 to 60)" in said
    assert "Nerve injury or numbness all 3 1" in said


def test_planned_removals_and_the_story_of_the_hardware_stand_apart(meeting: Client) -> None:
    some()
    said = text(meeting.get(reverse("harms")))
    assert "HP 1 1 : 100.0% (20.7% to 100.0%) 0 0 0 0 0" in said
    assert "LP 2 0 1 : 50.0% (9.5% to 90.5%) 0 0 0 1 : 50.0%" in said
    assert "Index procedures HP LP All Operated 1 2 3" in said
    assert "Removed as planned for the construct 1 0 1 Removed otherwise 0 1 1" in said
    assert "122 (122 to 122)" in said


def test_one_kind_can_be_drawn(meeting: Client) -> None:
    some()
    page = meeting.get(reverse("harms") + "?harm=nerve")
    assert "Cumulative incidence: Nerve injury" in page.content.decode().replace(
        "\\u003Cbr\\u003E", " "
    )
    wrong = text(meeting.get(reverse("harms") + "?harm=luck"))
    assert "'luck' is not one of infection_superficial" in wrong


def test_every_number_opens_to_as_many_cases(meeting: Client) -> None:
    some()
    page = meeting.get(reverse("harms")).content.decode()
    opens = re.findall(r'href="(/outcomes/cases/[^"]+)">(\d+)</a>', page)
    sorts = {"which=ever", "which=later%3Aany", "which=hardware%3Atroubled_out"}
    assert all(any(sort in address for address, _ in opens) for sort in sorts)
    for address, number in opens:
        listed = meeting.get(unescape(address))
        assert listed.status_code == 200, address
        assert f"{number} case" in text(listed), address


@pytest.mark.parametrize("which", ["later:luck", "hardware:secrets", "later:", "ever:x"])
def test_a_number_that_is_not_on_the_page_is_not_found(meeting: Client, which: str) -> None:
    some()
    query = f"?endpoint=any_complication&which={which}"
    assert meeting.get(reverse("outcomes-cases") + query).status_code == 404


@pytest.mark.parametrize(
    ("name", "line"),
    [
        ("harms-burden-csv", "nerve,all,3,1,1,"),
        ("harms-later-csv", "LP,any but a planned removal,2,1,0.5,"),
        ("harms-hardware-csv", "all,3,1,0,1,0,0,0,1,1,0,1,0,1,122.0,122.0,122.0"),
    ],
)
def test_each_table_is_taken_away(meeting: Client, name: str, line: str) -> None:
    some()
    assert line in meeting.get(reverse(name)).content.decode()
    assert meeting.get(reverse(name) + "?horizon=5y").status_code == 400


def test_only_roles_that_see_outcomes_open_them(client: Client, coordinator: Person) -> None:
    client.force_login(coordinator)
    for name in ("harms", "harms-burden-csv", "harms-later-csv", "harms-hardware-csv"):
        assert client.get(reverse(name)).status_code == 403


def test_what_a_snapshot_gives_is_worked_out_once(
    meeting: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    some()
    first = text(meeting.get(reverse("harms")))
    monkeypatch.setattr(selector, "harm_answer", lambda view: pytest.fail("worked out again"))
    assert text(meeting.get(reverse("harms"))) == first
