"""Asking for a pack, looking at it, and taking it away."""

import gzip
import json
import re
from hashlib import sha256
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.models import Pack, PackFile
from analytics.services import packs
from registry.models import Person
from tests import builders
from tests.analytics.records import held, lost
from tests.analytics.services.test_meetings import met
from tests.analytics.services.test_packs import asked, made
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.usefixtures("defaults", "today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def test_a_pack_of_a_cohort_is_asked_for_from_its_address(here: Client) -> None:
    builders.procedure()
    where = reverse("pack-ask") + "?horizon=6m&neer=IIB"
    assert "index procedures of Neer class IIB" in text(here.get(where))
    page = here.post(where, {}, follow=True)
    assert "A worker makes it" in text(page)
    pack = Pack.objects.get()
    assert "horizon=6m" in pack.address
    assert pack.state == "asked"


def test_a_pack_for_a_meeting_is_of_its_sites(here: Client, quality_lead: Person) -> None:
    builders.person("quentin", south="quality_lead")
    meeting = met(quality_lead)
    page = here.get(reverse("pack-ask") + f"?meeting={meeting.pk}").content.decode()
    assert f'value="{meeting.pk}" selected' in page
    here.post(reverse("pack-ask"), {"meeting": meeting.pk, "for_outside": "on"})
    pack = Pack.objects.get()
    assert (pack.meeting, pack.for_outside) == (meeting, True)
    assert [site.code for site in pack.sites.all()] == ["north"]
    assert str(pack) in text(here.get(reverse("meeting", args=[meeting.pk])))


@pytest.mark.parametrize("question", ["?horizon=9m", "?site=south"])
def test_an_address_that_cannot_be_read_makes_no_pack(here: Client, question: str) -> None:
    page = here.post(reverse("pack-ask") + question, {})
    assert "The address could not be read" in text(page)
    assert not Pack.objects.exists()


def test_another_ones_meeting_cannot_be_chosen(here: Client, outsider: Person) -> None:
    meeting = met(outsider, TODAY, "south")
    page = here.post(reverse("pack-ask"), {"meeting": meeting.pk})
    assert "Select a valid choice" in text(page)
    assert not Pack.objects.exists()


def test_a_ready_pack_is_shown_with_its_drawings_and_taken_away(
    here: Client, quality_lead: Person
) -> None:
    for _ in range(6):
        held()
    lost()
    pack = made(asked(quality_lead))
    page = here.get(reverse("pack", args=[pack.pk]))
    said, html = text(page), page.content.decode()
    assert "Did it hold?" in said
    assert "1 of 7" in said
    assert html.count("<svg") == html.count("</svg>") > 2
    assert 'style="' not in html
    pages = here.get(reverse("pack-pages", args=[pack.pk]))
    assert pages.content.startswith(b"%PDF-")
    assert "pack-" in pages["Content-Disposition"]
    tables = here.get(reverse("pack-tables", args=[pack.pk]))
    assert tables.content.startswith(b"PK")


def test_page_pages_and_tables_show_surgeons_to_those_who_may_see_them_alone(
    here: Client, quality_lead: Person, surgeon: Person
) -> None:
    held()
    pack = made(asked(quality_lead))
    Pack.objects.filter(pk=pack.pk).update(surgeons="all")
    document = json.dumps({**json.loads(packs.content_of(pack, "document")), "title": "With names"})
    for kind, content in (
        ("pdf_named", b"%PDF-named"),
        ("tab_named", b"PK-named"),
        ("doc_named", gzip.compress(document.encode(), mtime=0)),
    ):
        PackFile.objects.create(
            pack=pack, kind=kind, content=content, content_hash=sha256(content).hexdigest()
        )
    where = [reverse(name, args=[pack.pk]) for name in ("pack", "pack-pages", "pack-tables")]
    page, pages, tables = (here.get(one).content for one in where)
    assert b"With names" in page
    assert (pages, tables) == (b"%PDF-named", b"PK-named")
    here.force_login(surgeon)
    page, pages, tables = (here.get(one).content for one in where)
    assert b"With names" not in page
    assert b"named" not in pages
    assert b"named" not in tables


@pytest.mark.parametrize("name", ["pack-pages", "pack-tables"])
def test_what_is_not_ready_cannot_be_taken(here: Client, quality_lead: Person, name: str) -> None:
    assert here.get(reverse(name, args=[asked(quality_lead).pk])).status_code == 404


def test_a_pack_that_failed_says_why_and_is_asked_for_again(
    here: Client, quality_lead: Person
) -> None:
    pack = asked(quality_lead)
    Pack.objects.filter(pk=pack.pk).update(state="failed", reason="the disk was full")
    assert "the disk was full" in text(here.get(reverse("pack", args=[pack.pk])))
    page = here.post(reverse("pack-again", args=[pack.pk]), follow=True)
    assert "Asked for again" in text(page)
    assert Pack.objects.get().state == "asked"
    page = here.post(reverse("pack-again", args=[pack.pk]), follow=True)
    assert "cannot become 'asked'" in text(page)


def test_packs_are_listed_and_one_being_made_says_how_far_it_is(
    here: Client, quality_lead: Person
) -> None:
    pack = asked(quality_lead)
    Pack.objects.filter(pk=pack.pk).update(state="being_made", sections_done=2, sections_all=5)
    assert "Being made 2 of 5 sections" in text(here.get(reverse("packs")))


def test_a_pack_of_another_site_is_not_there(client: Client, surgeon: Person) -> None:
    client.force_login(surgeon)
    other = builders.person("both", north="quality_lead", south="quality_lead")
    sites = [builders.site("north"), builders.site("south")]
    pack = packs.ask(sites=sites, address="", for_outside=False, by=other, now=NOW)
    for name in ("pack", "pack-pages", "pack-tables"):
        assert client.get(reverse(name, args=[pack.pk])).status_code == 404
