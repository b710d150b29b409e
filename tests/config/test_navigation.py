"""Everybody lands in the room that is theirs, and sees only the rooms that they may enter."""

import pytest
from django.test import Client
from django.urls import reverse

from config.navigation import ACTS, LANDING, QUESTIONS, ROOMS
from registry.rules.roles import TABLE
from tests import builders

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(("role", "page"), LANDING.items())
def test_each_role_lands_on_its_own_page(client: Client, role: str, page: str) -> None:
    client.force_login(builders.person("somebody", north=role))
    assert client.get("/").headers["Location"] == reverse(page)


def test_whoever_is_coordinator_and_surgeon_lands_on_what_is_due(client: Client) -> None:
    client.force_login(builders.person("somebody", north="surgeon+coordinator"))
    assert client.get("/").headers["Location"] == reverse("due")


def test_without_a_role_the_page_says_whom_to_ask(client: Client) -> None:
    client.force_login(builders.person("somebody"))
    answer = client.get("/")
    assert answer.status_code == 200
    assert "administrator" in answer.content.decode()


@pytest.mark.parametrize("role", sorted({role for roles in TABLE.values() for role in roles}))
def test_the_navigation_names_the_rooms_that_open_and_no_other(client: Client, role: str) -> None:
    client.force_login(builders.person("somebody", north=role))
    page = client.get("/", follow=True).content.decode()
    head = page.split("<main", 1)[0]
    for room in (*ROOMS, *ACTS):
        link = f'href="{reverse(room.url_name)}"'
        assert (link in head) == (role in TABLE[room.action]), room.word


def test_the_questions_of_the_meeting_link_one_another_and_mark_the_page(client: Client) -> None:
    client.force_login(builders.person("somebody", north="quality_lead"))
    page = client.get(reverse("snapshots")).content.decode()
    nav = page.split('class="questions"', 1)[1].split("</nav>", 1)[0]
    for question in QUESTIONS:
        assert f'href="{reverse(question.url_name)}"' in nav
    assert nav.count("aria-current") == 1
    assert f'aria-current="page">{QUESTIONS[-1].word}' in nav
