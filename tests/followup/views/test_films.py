"""The reader's room: films that wait, and what is measured on one."""

import re
from datetime import date
from html import unescape
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from followup.forms.findings import code_of
from followup.models import Film, Reading, UnionRule
from followup.rules.findings import KINDS
from followup.selectors.findings import found_in
from followup.services import films
from registry.models import Injury, Person
from tests import builders
from tests.builders import NOW, TODAY
from tests.followup.pictured import image

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def here(client: Client, film_reader: Person) -> Client:
    client.force_login(film_reader)
    return client


def text(answer: Any) -> str:
    """Return the words of a page, without its marks."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", answer.content.decode())))


def film(of: Injury | None = None, **values: Any) -> Film:
    hurt = of or builders.procedure().injury
    given = {
        "taken_on": TODAY,
        "view": "zanca",
        "posture": "upright",
        "calibration": "marker",
        "shows_both_sides": True,
        **values,
    }
    return films.record_film(injury=hurt, values=given, by=hurt.recorded_by, now=NOW, today=TODAY)


def where(shown: Film) -> str:
    return reverse("films-read", args=[shown.pk])


def typed(**changes: str) -> dict[str, str]:
    """Return what a browser sends for a calibrated film of both sides."""
    return {
        "version": "0",
        "ccd_injured_mm": "9.4",
        "ccd_injured_mm_why": "",
        "ccd_other_mm": "8.8",
        "ccd_other_mm_why": "",
        "translation_pct": "",
        "translation_pct_why": "",
        "union": "partial",
        "hardware": "intact",
        **changes,
    }


def test_a_film_reader_lands_on_the_films_that_nobody_has_read(here: Client) -> None:
    shown = film()
    page = here.get("/", follow=True)
    assert page.redirect_chain[-1][0] == reverse("films")
    assert "1 film to read" in text(page)
    assert "Zanca, 25 Nov 2026" in text(page)
    assert shown.injury.patient.key in text(page)
    assert where(shown) in page.content.decode()


def test_a_film_with_a_picture_is_opened_there(here: Client) -> None:
    plain, pictured = film(), image(film(taken_on=date(2026, 11, 24)))
    page = here.get(reverse("films"))
    assert text(page).count("with its picture") == 1
    links = re.findall(r'href="([^"]+)" data-walk-link', page.content.decode())
    assert links == [reverse("image-measure", args=[pictured.pk]), where(plain)]


def test_empty_lists_say_what_comes_here(here: Client) -> None:
    assert "No film waits to be read" in text(here.get(reverse("films")))
    assert "You have read them all" in text(here.get(reverse("films"), {"show": "others"}))


def test_a_reading_is_saved_and_the_film_leaves_the_list(here: Client, film_reader: Person) -> None:
    shown = film()
    page = here.post(where(shown), typed(), follow=True)
    assert "Saved: your reading of Zanca" in text(page)
    assert "No film waits to be read" in text(page)
    reading = Reading.objects.get()
    assert (str(reading.ccd_injured_mm), str(reading.ccd_other_mm)) == ("9.4", "8.8")
    assert (reading.union, reading.hardware, reading.reader) == ("partial", "intact", film_reader)
    assert reading.blind
    assert reading.missing == {
        "ccd_side_ratio_pct": "not_applicable",
        "cortices_bridged": "not_done",
    }
    assert (reading.fracture_line, reading.findings.count()) == ("not_done", 0)


def test_a_surgeon_who_may_open_the_course_does_not_read_blind(
    client: Client, surgeon: Person
) -> None:
    client.force_login(surgeon)
    shown = film()
    course = reverse("patient", args=[shown.injury.patient.key])
    assert course in client.get(where(shown)).content.decode()
    client.post(where(shown), typed())
    assert not Reading.objects.get().blind


def test_a_reader_sees_neither_name_nor_construct_nor_anothers_numbers(
    here: Client, surgeon: Person
) -> None:
    shown = film()
    films.record_reading(
        film=shown,
        values={"ccd_injured_mm": "13.7"},
        reader=surgeon,
        by=surgeon,
        now=NOW,
        today=TODAY,
    )
    name = shown.injury.patient.identity.family_name
    assert (
        where(shown) + "?show=others"
        in here.get(reverse("films"), {"show": "others"}).content.decode()
    )
    page = here.get(where(shown) + "?show=others").content.decode()
    for word in ("13.7", name, "Locking plate", reverse("patient", args=["x"])[:-2]):
        assert word not in page


def test_a_film_is_asked_only_for_what_it_can_show(here: Client) -> None:
    plain = film(calibration="none")
    page = here.get(where(plain)).content.decode()
    assert 'name="ccd_side_ratio_pct"' in page
    assert 'name="ccd_injured_mm"' not in page
    sent = typed(ccd_side_ratio_pct="12.5", ccd_side_ratio_pct_why="")
    here.post(where(plain), sent)
    reading = Reading.objects.get()
    assert (str(reading.ccd_side_ratio_pct), reading.ccd_injured_mm) == ("12.5", None)
    alone = here.get(where(film(shows_both_sides=False))).content.decode()
    assert 'name="ccd_injured_mm"' in alone
    assert 'name="ccd_other_mm"' not in alone


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"ccd_injured_mm": ""}, "CC distance, injured side, mm: Write the number, or say"),
        ({"ccd_injured_mm": "9.4", "ccd_injured_mm_why": "unknown"}, "has a value and is marked"),
        ({"ccd_injured_mm": "90"}, "CC distance, injured side, mm: 90"),
        ({"ccd_injured_mm": "wide"}, "CC distance, injured side, mm: Enter a number"),
        ({"union": ""}, "Union: This field is required"),
        ({"hardware": ""}, "Hardware on the film: Choose one"),
        ({"finding_plate_broken": "bent"}, "Plate broken: Select a valid choice"),
        ({"finding_plate_broken": "present"}, "Hardware on the film: It is called 'in place', but"),
        ({"hardware": "gone"}, "Hardware on the film: Select a valid choice"),
    ],
)
def test_a_faulty_reading_is_refused_by_its_field_and_keeps_what_was_typed(
    here: Client, changes: dict[str, str], words: str
) -> None:
    page = here.post(where(film()), typed(**{"ccd_other_mm": "8.8", **changes}))
    assert words in text(page)
    assert 'value="8.8"' in page.content.decode()
    assert not Reading.objects.exists()


def test_what_cannot_be_measured_is_saved_with_the_reason(here: Client) -> None:
    here.post(where(film()), typed(ccd_other_mm="", ccd_other_mm_why="not_done"))
    assert Reading.objects.get().missing["ccd_other_mm"] == "not_done"


def test_an_unlikely_length_is_asked_about_once_and_kept_with_a_flag(here: Client) -> None:
    shown = film()
    asked = here.post(where(shown), typed(ccd_injured_mm="38"))
    assert "I have checked the unusual values" in text(asked)
    here.post(where(shown), typed(ccd_injured_mm="38", checked="on"))
    assert Reading.objects.get().flags == ["ccd_injured_mm"]


def test_reading_again_starts_from_ones_own_and_keeps_the_earlier(here: Client) -> None:
    shown = film()
    here.post(where(shown), typed())
    page = here.get(where(shown))
    assert "You read this film on 25 Nov 2026" in text(page)
    assert 'value="9.4"' in page.content.decode()
    here.post(where(shown), typed(version="1", ccd_injured_mm="9.9"))
    first, second = Reading.objects.order_by("id")
    assert (first.superseded_by, second.superseded_by) == (second, None)


def test_two_windows_of_one_reader_show_both_readings(here: Client) -> None:
    shown = film()
    here.post(where(shown), typed())
    answer = here.post(where(shown), typed(ccd_injured_mm="10.1"))
    assert answer.status_code == 409
    assert "<td>9.4</td><td>10.1</td>" in answer.content.decode()
    assert 'name="version" value="1"' in answer.content.decode()
    assert Reading.objects.count() == 1
    here.post(where(shown), typed(version="1", ccd_injured_mm="10.1"))
    stale = here.post(where(shown), typed(version="1", ccd_injured_mm="11.0"))
    assert stale.status_code == 409
    assert str(Reading.objects.get(superseded_by=None).ccd_injured_mm) == "10.1"


def kinds(**answers: str) -> dict[str, str]:
    """Return findings as a browser sends them: every kind was shown."""
    given = {f"finding_{kind}": answers.get(kind, "") for kind in KINDS}
    return {**given, "findings_shown": " ".join(KINDS)}


def found(reading: Reading) -> dict[str, str]:
    return {one.kind: code_of(one) for one in found_in(reading)}


def test_findings_are_saved_and_the_form_opens_with_them_again(here: Client) -> None:
    shown = film()
    answers = kinds(
        screw_backed_out="present:lateral", acromial_erosion="present:2", plate_broken="absent"
    )
    here.post(where(shown), {**typed(hardware="loose"), **answers})
    assert found(Reading.objects.get()) == {
        "screw_backed_out": "present:lateral",
        "plate_broken": "absent",
        "acromial_erosion": "present:2",
    }
    page = here.get(where(shown)).content.decode()
    for code in ("present:lateral", "present:2"):
        assert f'<option value="{code}" selected>' in page
    again = {**typed(version="1", hardware="loose"), **kinds(screw_backed_out="present:both")}
    here.post(where(shown), again)
    old, new = Reading.objects.order_by("id")
    assert found(new) == {"screw_backed_out": "present:both"}
    assert len(found(old)) == 3


def test_one_tick_calls_absent_all_that_was_shown_and_nothing_else_was_said_of(
    here: Client,
) -> None:
    shown = film()
    here.post(where(shown), {**typed(), **kinds(ossification="present"), "rest_absent": "on"})
    expected = {**dict.fromkeys(KINDS, "absent"), "ossification": "present"}
    assert found(Reading.objects.get()) == expected
    # A page that showed fewer kinds says nothing of the others.
    fewer = {**kinds(), "findings_shown": "plate_broken", "rest_absent": "on"}
    here.post(where(shown), {**typed(version="1"), **fewer})
    assert found(Reading.objects.get(superseded_by=None)) == {"plate_broken": "absent"}


def test_hardware_that_was_left_open_follows_from_the_findings(here: Client) -> None:
    broken, whole = film(), film()
    open_here = {**typed(hardware=""), **kinds(screw_broken="present", screw_loosened="present")}
    here.post(where(broken), open_here)
    here.post(where(whole), {**typed(hardware=""), **kinds(), "rest_absent": "on"})
    assert [one.hardware for one in Reading.objects.order_by("id")] == ["broken", "intact"]


def test_union_that_was_left_open_is_proposed_by_the_sites_rule_and_kept_by_the_reader(
    here: Client,
) -> None:
    shown = film()
    counted = typed(union="", cortices_bridged="3", fracture_line="not_visible")
    page = here.post(where(shown), counted)
    assert "By this site's rule it is united (3 of 4 cortices bridged, 3 asked for)" in text(page)
    assert '<option value="united" selected>' in page.content.decode()
    assert not Reading.objects.exists()
    UnionRule.objects.create(site=shown.site, min_bridged_cortices=4)
    assert "it is partly united" in text(here.post(where(shown), counted))
    page = here.post(where(shown), {**counted, "union": "united"}, follow=True)
    assert "Your union is kept; by the site's rule partly united" in text(page)
    reading = Reading.objects.get()
    assert (reading.union, reading.cortices_bridged) == ("united", 3)
    assert reading.fracture_line == "not_visible"


def test_cortices_that_cannot_be_counted_are_not_a_count_of_none(here: Client) -> None:
    shown = film()
    here.post(where(shown), typed(cortices_bridged="unknown", fracture_line="unknown"))
    reading = Reading.objects.get()
    assert (reading.cortices_bridged, reading.missing["cortices_bridged"]) == (None, "unknown")
    page = here.get(where(shown)).content.decode()
    assert '<option value="unknown" selected>cannot be judged</option>' in page


def offered(page: Any) -> tuple[list[str], list[str]]:
    """Return the kinds that a page asks for at once, and those that it keeps apart."""
    at_once, _, apart = page.content.decode().partition("Other findings")
    wanted = re.compile(r'<select name="finding_(\w+)"')
    return wanted.findall(at_once), wanted.findall(apart)


def test_a_blind_reader_is_offered_the_same_whatever_was_implanted(here: Client) -> None:
    pages = []
    for kind in ("HP", "CC-B"):
        hurt = builders.procedure(construct={"construct_type": kind}).injury
        pages.append(offered(here.get(where(film(hurt)))))
    assert pages[0] == pages[1] == (list(KINDS), [])


def test_who_may_open_the_course_is_asked_for_what_fits_the_construct(
    client: Client, surgeon: Person
) -> None:
    client.force_login(surgeon)
    hurt = builders.procedure(construct={"construct_type": "CC-B"}).injury
    at_once, apart = offered(client.get(where(film(hurt))))
    assert "anchor_moved" in at_once
    assert {"screw_broken", "hook_migrated"} <= set(apart)
    assert set(at_once) | set(apart) == set(KINDS)


def test_saving_can_lead_to_the_next_film(here: Client) -> None:
    first, second = film(taken_on=date(2026, 7, 1)), film()
    answer = here.post(where(first), {**typed(), "next": ""})
    assert answer.headers["Location"] == where(second)
    page = here.post(where(second), {**typed(), "next": ""}, follow=True)
    assert "That was the last film of the list" in text(page)


def test_only_readers_enter_and_another_sites_film_is_not_there(
    client: Client, coordinator: Person, film_reader: Person
) -> None:
    foreign = film(
        builders.procedure(builders.injury(builders.patient(builders.site("south")))).injury
    )
    client.force_login(coordinator)
    assert client.get(reverse("films")).status_code == 403
    assert client.get(where(foreign)).status_code == 403
    client.force_login(film_reader)
    assert client.get(where(foreign)).status_code == 404
    assert client.post(where(foreign), typed()).status_code == 404


@pytest.mark.parametrize("query", [{}, {"show": "others"}])
def test_the_list_is_paged_and_costs_the_same_for_ten_and_for_two_hundred(
    here: Client, surgeon: Person, counted: Any, query: dict[str, str]
) -> None:
    hurt, cost = builders.procedure().injury, []
    for number in (10, 200):
        for _ in range(Film.objects.count(), number):
            shown = film(hurt)
            if query:
                films.record_reading(
                    film=shown, values={}, reader=surgeon, by=surgeon, now=NOW, today=TODAY
                )
        with counted() as queries:
            page = here.get(reverse("films"), query)
        cost.append(len(queries))
    assert cost[0] == cost[1]
    assert "200 films to read" in text(page)
    assert "Page 1 of 4" in text(page)


def test_the_films_of_a_list_are_counted_once(here: Client, counted: Any) -> None:
    film(builders.procedure().injury)
    with counted() as queries:
        page = here.get(reverse("films"))
    assert "First readings" in text(page)
    asked = [one["sql"] for one in queries if "COUNT(*)" in one["sql"]]
    assert len([one for one in asked if 'FROM "followup_film"' in one]) == 1
