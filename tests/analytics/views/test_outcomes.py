import csv
import io
import json
import re
from html import unescape
from typing import Any

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from analytics.answers.outcomes import COLUMNS
from analytics.models import EndpointChoice
from analytics.services.definitions import choose_definition
from analytics.views import strips
from followup.models import Reading
from registry.models import Person
from tests import builders
from tests.analytics.records import calls_its_own, complication, held, lost, operation, reading
from tests.builders import TODAY

pytestmark = [pytest.mark.usefixtures("defaults"), pytest.mark.usefixtures("today")]


@pytest.fixture
def today(time_machine: Any) -> None:
    time_machine.move_to(builders.NOW)


@pytest.fixture
def meeting(client: Client, quality_lead: Person) -> Client:
    client.force_login(quality_lead)
    return client


def text(answer: Any) -> str:
    """Return the words of a page, without its marks."""
    plain = re.sub(r"<(script|style).*?</\1>|<[^>]+>", " ", answer.content.decode(), flags=re.S)
    return re.sub(r"\s+", " ", unescape(plain))


def figure(answer: Any, name: str) -> dict[str, Any]:
    found = re.search(rf'<script id="{name}".*?>(.*?)</script>', answer.content.decode(), re.S)
    assert found is not None
    drawn: dict[str, Any] = json.loads(found.group(1))
    return drawn


def test_the_page_shows_each_rate_with_its_denominators_interval_and_bounds(
    meeting: Client,
) -> None:
    for _ in range(3):
        held(construct="HP")
    lost(construct="LP")
    operation(construct="LP")
    answer = meeting.get(reverse("outcomes"))
    assert answer.status_code == 200
    said = text(answer)
    assert "By 12 months, 1 of 4 judged (25.0%; 95% interval 4.6% to 69.9%)" in said
    assert "1 of 5 eligible could not be judged" in said
    assert "20.0% to 40.0%" in said
    assert "Observational: not a treatment effect" in said
    assert [trace["y"][0] for trace in figure(answer, "rates")["data"] if "text" in trace] == [
        "<b>all</b>  1/4",
        "<b>LP</b>  1/1",
        "<b>HP</b>  0/3",
    ]


def test_an_empty_service_is_told_what_will_stand_here(meeting: Client) -> None:
    calls_its_own()
    for name in ("outcomes", "harms"):
        answer = meeting.get(reverse(name))
        assert "No index procedure in this cohort" in text(answer)
        assert "plotly" in answer.content.decode()


@pytest.mark.parametrize(
    "query",
    ["", "?endpoint=union", "?definition=ratio-25", "?by=neer", "?horizon=6w", "?neer=V"],
)
def test_operations_without_any_film_have_a_page(meeting: Client, query: str) -> None:
    operation()
    for name in ("outcomes", "harms", "outcomes-csv", "harms-csv", "outcomes-cases"):
        assert meeting.get(reverse(name) + query).status_code == 200


def test_the_address_reproduces_the_view(meeting: Client) -> None:
    held()
    query = "?horizon=6m&by=site&definition=rise-3mm&from=2025-01-01&neer=IIB"
    one, two = (meeting.get(reverse("outcomes") + query) for _ in range(2))
    assert figure(one, "rates") == figure(two, "rates")
    said = text(one)
    assert "index procedures from 01 Jan 2025 of Neer class IIB" in said
    assert "rise-3mm, version 1" in said
    assert "6 months" in said


def test_what_cannot_be_read_in_an_address_is_said_and_the_default_shown(meeting: Client) -> None:
    held()
    answer = meeting.get(reverse("outcomes") + "?horizon=5y&by=shoe")
    assert answer.status_code == 200
    said = text(answer)
    assert "'5y' is not one of 6w, 3m, 6m, 12m, 24m" in said
    assert "'shoe' is not one of construct_type" in said
    assert "The default is shown" in said


def test_where_the_sites_chose_none_the_page_asks_and_shows_them_all(meeting: Client) -> None:
    held()
    lost()
    EndpointChoice.objects.all().delete()
    said = text(meeting.get(reverse("outcomes")))
    assert "Choose a definition. No primary definition is chosen at the sites in view." in said
    assert "(rise-3mm) 2 2 1 50.0% (9.5% to 90.5%)" in said
    assert "By 12 months, 1 of 2 judged" not in said
    choose_definition(site=builders.site(), definition_id="ratio-25", on=TODAY, by=None)
    said = text(meeting.get(reverse("outcomes")))
    assert "Choose a definition" not in said
    assert "CC distance 25 % or more above the other side" in said


def test_sites_that_differ_are_asked_which_is_meant(client: Client) -> None:
    both = builders.person("both", north="quality_lead", south="quality_lead")
    client.force_login(both)
    for code, name in (("north", "rise-3mm"), ("south", "ratio-25")):
        choose_definition(site=builders.site(code), definition_id=name, on=TODAY, by=None)
        held(code)
    said = text(client.get(reverse("outcomes")))
    assert "have not chosen the same primary definition (north: rise-3mm; south: ratio-25)" in said
    assert "By 12 months" in text(client.get(reverse("outcomes") + "?site=south"))
    assert "By 12 months" in text(client.get(reverse("outcomes") + "?definition=doubled"))


def test_files_and_cases_ask_for_a_definition_too(meeting: Client) -> None:
    held()
    EndpointChoice.objects.all().delete()
    file = meeting.get(reverse("outcomes-csv"))
    assert file.status_code == 400
    assert "Name one of rise-3mm, rise-3mm-confirmed, ratio-25" in file.content.decode()
    asked = meeting.get(reverse("outcomes-cases") + "?which=events&horizon=6m")
    assert "Which definition do you mean?" in text(asked)
    assert (
        "?which=events&amp;horizon=6m&amp;endpoint=loss_of_reduction&amp;definition=ratio-25"
        in (asked.content.decode())
    )
    assert meeting.get(reverse("harms")).status_code == 200


def test_every_definition_is_shown_beside_the_one_that_stands(meeting: Client) -> None:
    held()
    lost()
    answer = meeting.get(reverse("outcomes"))
    said = text(answer)
    assert "By 12 months the rate runs from 0.0% (CC distance more than 3 mm above" in said
    assert "CC distance more than 3 mm above the first film (rise-3mm) 2 2 1" in said
    assert "shown above" in said
    points = [trace for trace in figure(answer, "strip")["data"] if "marker" in trace]
    assert [point["marker"]["symbol"] for point in points].count("circle") == 1
    rows = meeting.get(reverse("outcomes-definitions-csv")).content.decode()
    assert "rise-3mm,1,all,2,2,2,0,1,0,0.5," in rows
    assert "ratio-25,1,all,2,2,0,2,0,0,,,,0.0,1.0" in rows


def test_a_large_cohort_goes_through_the_definitions_when_asked(
    meeting: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    held()
    monkeypatch.setattr(strips, "SMALL", 1)
    assert "Show the rate under every definition" in text(meeting.get(reverse("outcomes")))
    shown = text(meeting.get(reverse("outcomes") + "?show=definitions"))
    assert "Definitions as CSV" in shown
    # What was made once is shown without asking again.
    assert "Definitions as CSV" in text(meeting.get(reverse("outcomes")))


def test_the_terms_of_the_definition_are_said(meeting: Client) -> None:
    held()
    said = text(meeting.get(reverse("outcomes")))
    assert "a removal does not: what a film shows after it still counts" in said
    assert "less than 2 mm since the first film is within measurement error" in said


@pytest.mark.parametrize("endpoint", ["nonunion_6m", "delayed_union", "union"])
def test_union_late_union_and_nonunion_have_their_page(meeting: Client, endpoint: str) -> None:
    done = operation()
    reading(done, 2)
    reading(done, 200, union="none")
    reading(done, 300, union="united")
    answer = meeting.get(reverse("outcomes") + f"?endpoint={endpoint}")
    assert answer.status_code == 200
    assert "By 12 months, 1 of 1 judged" in text(answer)
    early = text(meeting.get(reverse("outcomes") + f"?endpoint={endpoint}&horizon=3m"))
    assert ("cannot be known by 3m" in early) is (endpoint != "union")


def test_the_file_has_the_pages_numbers_and_says_how_it_was_made(meeting: Client) -> None:
    held()
    lost()
    answer = meeting.get(reverse("outcomes-csv"))
    assert answer["Content-Disposition"] == (
        'attachment; filename="outcomes-loss_of_reduction-12m.csv"'
    )
    lines = list(csv.reader(io.StringIO(answer.content.decode())))
    made = {line[0]: line[1] for line in lines if line[0].startswith("# ")}
    assert made["# definition"] == "rise-3mm, version 1"
    assert made["# cutoff"] == "2026-11-25"
    head, *rows = [line for line in lines if not line[0].startswith("# ")]
    assert head == list(COLUMNS)
    assert [row[:5] for row in rows] == [["LP", "2", "2", "2", "1"], ["all", "2", "2", "2", "1"]]


def test_a_file_of_an_address_that_cannot_be_read_is_refused_in_words(meeting: Client) -> None:
    answer = meeting.get(reverse("outcomes-csv") + "?horizon=5y")
    assert answer.status_code == 400
    assert "'5y' is not one of" in answer.content.decode()


def test_a_number_opens_to_its_cases_each_with_its_verdict(meeting: Client) -> None:
    held()
    gone = lost()
    answer = meeting.get(reverse("outcomes"))
    (link,) = {
        unescape(one)
        for one in re.findall(r'href="([^"]*group=LP&amp;which=events)"', answer.content.decode())
        if "definition=" not in one
    }
    said = text(meeting.get(link))
    assert "1 case: events, LP" in said
    assert gone.injury.patient.key in said
    assert "14.0 mm against 9.0 mm: 5.0 mm above the first film" in said
    first, last = Reading.objects.order_by("id").filter(film__injury=gone.injury)
    judged = f"How it was judged : {gone.injury.patient.key}"
    assert f"above the first film). {judged} {first.pk}, {last.pk}" in said


@pytest.mark.parametrize("page", ["outcomes", "harms"])
def test_the_codes_of_construct_types_are_said_in_words(meeting: Client, page: str) -> None:
    held(construct="HP")
    said = text(meeting.get(reverse(page)))
    assert "HP: Hook plate." in said
    assert "CC-B" not in said
    assert "Hook plate" not in text(meeting.get(reverse(page) + "?by=site"))


@pytest.mark.parametrize("page", ["outcomes", "harms"])
def test_every_number_of_a_page_opens_to_as_many_cases(meeting: Client, page: str) -> None:
    for construct in ("LP+A1", "A&B", "C,D"):
        done = lost(construct=construct)
        complication(done, 60, "nerve")
        operation(construct=construct)
    shown = meeting.get(reverse(page)).content.decode()
    opens = re.findall(r'href="(/outcomes/cases/[^"]+)">(\d+)</a>', shown)
    assert {"LP%2BA1", "A%26B", "C%2CD"} <= set(re.findall(r"group=([^&]+)&amp;", shown))
    for address, number in opens:
        listed = meeting.get(unescape(address))
        assert listed.status_code == 200, address
        assert f"{number} case" in text(listed), address


def test_the_reasons_for_not_judging_open_to_their_cases(meeting: Client) -> None:
    held()
    done = operation()
    answer = meeting.get(reverse("outcomes-cases") + "?which=reason:no_baseline")
    said = text(answer)
    assert done.injury.patient.key in said
    assert "no measurable film in the baseline window" in said
    assert meeting.get(reverse("outcomes-cases") + "?which=reason:moved").status_code == 200


@pytest.mark.parametrize("query", ["?group=XX", "?which=secrets", "?group=LP&which=keys"])
def test_a_number_that_is_not_on_the_page_is_not_found(meeting: Client, query: str) -> None:
    held()
    assert meeting.get(reverse("outcomes-cases") + query).status_code == 404


def test_harms_are_shown_by_kind_and_planned_removals_apart(meeting: Client) -> None:
    done = held(construct="HP")
    complication(done, 60, "subacromial_osteolysis")
    builders.procedure(
        done.injury,
        None,
        kind="implant_removal",
        revises=done,
        planned_removal=True,
        performed_on=done.performed_on.replace(month=10),
    )
    answer = meeting.get(reverse("harms"))
    said = text(answer)
    assert "Subacromial osteolysis" in said
    assert "Kind Group Operated Eligible Evaluable Events" in said
    assert "Planned removal Unplanned removal Revision fixation Washout" in said
    assert "HP 1 1 : 100.0% (20.7% to 100.0%) 0 0 0 0 0 " in said
    assert "By 12 months, 1 of 1" in said
    rows = meeting.get(reverse("harms-csv")).content.decode()
    assert "subacromial_osteolysis,all,1,1,1,1" in rows


def test_harms_are_no_outcome_of_the_first_page(meeting: Client) -> None:
    assert meeting.get(reverse("outcomes") + "?endpoint=nerve").status_code == 404


@pytest.mark.parametrize(
    "name", ["outcomes", "outcomes-csv", "outcomes-cases", "harms", "harms-csv"]
)
def test_only_roles_that_see_outcomes_open_them(
    client: Client, coordinator: Person, name: str
) -> None:
    assert client.get(reverse(name)).status_code == 302
    client.force_login(coordinator)
    assert client.get(reverse(name)).status_code == 403
    assert client.post(reverse(name)).status_code in (403, 405)


def test_a_site_that_is_not_ones_own_is_said_to_be_none(meeting: Client) -> None:
    builders.site("south")
    for code in ("south", "nowhere"):
        page = meeting.get(reverse("outcomes") + f"?site={code}").content.decode()
        assert f"&#x27;{code}&#x27; is none of your sites (north)" in page
        assert meeting.get(reverse("outcomes-csv") + f"?site={code}").status_code == 400


def test_another_sites_cases_are_in_no_number_and_no_list(
    client: Client, quality_lead: Person, outsider: Person
) -> None:
    mine, foreign = held("north"), lost("south")
    client.force_login(quality_lead)
    for query in ("", "?site=south", "?by=site", "?which=operated&site=south"):
        for name in ("outcomes", "outcomes-csv", "outcomes-cases", "harms", "harms-csv"):
            answer = client.get(reverse(name) + query)
            if answer.status_code == 200:
                assert foreign.injury.patient.key not in answer.content.decode()
    rows = client.get(reverse("outcomes-csv")).content.decode()
    assert "all,1,1,1,0" in rows
    client.force_login(outsider)
    assert "all,1,1,1,1" in client.get(reverse("outcomes-csv")).content.decode()
    listed = client.get(reverse("outcomes-cases") + "?which=operated").content.decode()
    assert foreign.injury.patient.key in listed
    assert mine.injury.patient.key not in listed


def test_when_it_happened_is_shown_when_asked_and_then_kept(meeting: Client) -> None:
    cache.clear()
    for _ in range(5):
        held()
    lost()
    asked = meeting.get(reverse("outcomes"))
    assert "Show both curves" in text(asked)
    shown = meeting.get(reverse("outcomes") + "?show=timing")
    said = text(shown)
    assert "between two films, 88 days apart in the median" in said
    assert "All 6 1 5 16.7% " in said
    assert {trace["yaxis"] for trace in figure(shown, "timing-curves")["data"]} == {"y", "y2"}
    assert "between two films, 88 days apart" in text(meeting.get(reverse("outcomes")))
    rows = meeting.get(reverse("outcomes-timing-csv")).content.decode()
    assert "all,12m,365,6,5,0.1666" in rows


def test_nonunion_is_known_to_the_day_and_has_no_timing(meeting: Client) -> None:
    operation()
    query = "?endpoint=nonunion_6m"
    assert "when was it found" not in text(meeting.get(reverse("outcomes") + query))
    assert meeting.get(reverse("outcomes-timing-csv") + query).status_code == 404


def test_a_complication_asked_for_here_is_answered_with_where_it_stands(meeting: Client) -> None:
    held()
    answer = meeting.get(reverse("outcomes") + "?endpoint=nonunion&horizon=24m&by=site")
    assert answer.status_code == 404
    said = text(answer)
    assert "Nonunion is a complication that somebody recorded" in said
    assert "Loss of reduction Union Nonunion at 6 months Delayed union" in said
    ways = [unescape(way) for way in re.findall(r'href="(\?[^"]*)"', answer.content.decode())]
    assert "?endpoint=nonunion_6m&horizon=24m&by=site" in ways
    harms = re.search(r'href="(/harms/\?[^"]*)"', answer.content.decode())
    assert harms is not None
    assert unescape(harms[1]) == "/harms/?horizon=24m&by=site&harm=nonunion"
    for way in ways:
        assert meeting.get(reverse("outcomes") + way).status_code == 200
    assert meeting.get(unescape(harms[1])).status_code == 200


@pytest.mark.parametrize("name", ["compare", "literature"])
def test_each_page_offers_what_it_can_be_asked_about(meeting: Client, name: str) -> None:
    held()
    answer = meeting.get(reverse(name) + "?endpoint=nerve")
    assert answer.status_code == 404
    ways = [unescape(way) for way in re.findall(r'href="(\?[^"]*)"', answer.content.decode())]
    assert ways
    for way in ways:
        assert meeting.get(reverse(name) + way).status_code == 200
