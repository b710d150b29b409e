"""What leaves the team is held against what left before: an attacker subtracts all that the pages give."""

import csv
import io
from collections.abc import Iterator
from datetime import date
from itertools import combinations, product
from typing import Any

import pytest
from django.test import Client
from django.urls import reverse

from analytics.answers.outcomes import ALL, groups_of
from analytics.models import Release, ReleasedPopulation
from analytics.rules.suppression import HIDDEN
from analytics.selectors import cohorts
from analytics.selectors.cohorts import CohortRule, rule_from
from analytics.services import packs, releases, snapshots
from registry.errors import BadInput
from registry.models import Patient, Person
from tests import builders
from tests.analytics.records import calls_its_own
from tests.builders import NOW, TODAY

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("defaults")]
# How many were operated on by site, year and construct type: some cells are few on purpose.
NUMBERS = {
    ("north", 2024, "LP"): 14,
    ("north", 2024, "HP"): 9,
    ("north", 2025, "LP"): 10,
    ("north", 2025, "HP"): 3,
    ("south", 2024, "LP"): 11,
    ("south", 2024, "HP"): 2,
    ("south", 2025, "LP"): 6,
    ("south", 2025, "HP"): 8,
}
SITES = ("", "north", "south")
YEARS = (("", ""), ("2024-01-01", "2024-12-31"), ("2025-01-01", "2025-12-31"), ("2025-01-01", ""))
BY = ("construct_type", "site", "sex")


@pytest.fixture
def cohort(time_machine: Any) -> Person:
    time_machine.move_to(NOW, tick=False)
    for code in ("north", "south"):
        calls_its_own(code)
    for (site, year, construct), number in NUMBERS.items():
        for place in range(number):
            operated(site, year, construct, place)
    return builders.person("both", north="quality_lead", south="quality_lead")


def operated(site: str, year: int, construct: str, place: int) -> None:
    patient = builders.patient(
        builders.site(site), sex="female" if place % 3 else "male", birth_earliest=date(1970, 1, 1)
    )
    day = date(year, 3, 1 + place)
    hurt = builders.injury(patient, injured_earliest=day, injured_latest=day)
    builders.procedure(hurt, {"construct_type": construct}, performed_on=day)


def lines(answer: Any) -> list[dict[str, str]]:
    rows = list(csv.reader(io.StringIO(answer.content.decode())))
    head, *found = [row for row in rows if not row[0].startswith("#")]
    return [dict(zip(head, row, strict=True)) for row in found]


def addresses() -> Iterator[str]:
    for site, (begins, ends), by in product(SITES, YEARS, BY):
        yield f"definition=rise-3mm&site={site}&from={begins}&to={ends}&by={by}&horizon=12m"


def truth(address: str, group: str) -> frozenset[str]:
    """Return of whom a line is, which no attacker knows."""
    query = dict(part.split("=") for part in address.split("&"))
    rule = rule_from(query)
    frames = snapshots.frames_of(snapshots.current(now=NOW, today=TODAY))
    cases = cohorts.cut(frames, rule, {"north", "south"}).cases
    if group != ALL:
        cases = cases.loc[groups_of(cases, rule.by).astype(str) == group]
    return frozenset(cases["patient_key"])


def between(told: str) -> tuple[int, int]:
    number = int(told)
    return (0, 0) if number == 0 else (max(8, number - 2), number + 2)


# Pages whose tables say how many were operated on, each of the same filters.
PAGES = {"outcomes-csv": "", "following-csv": "&table=completeness", "harms-burden-csv": ""}


@pytest.mark.parametrize("pages", [["outcomes-csv"], list(PAGES)], ids=["one page", "all pages"])
def test_an_attacker_who_subtracts_all_pairs_of_filters_finds_nobody(
    cohort: Person, pages: list[str]
) -> None:
    client = Client()
    client.force_login(cohort)
    told: list[tuple[frozenset[str], str]] = []
    held_back = 0
    for address, page in product(addresses(), pages):
        asked = f"{address}{PAGES[page]}&audience=outside"
        answer = client.get(f"{reverse(page)}?{asked}")
        if answer.status_code == 400:
            assert "stays in the team" in answer.content.decode()
            held_back += 1
            continue
        held_back += b"hidden as well" in answer.content
        told += [
            (truth(address, line["group"]), line["operated"])
            for line in lines(answer)
            if line["operated"] not in (HIDDEN, "0")
        ]
    assert held_back, "nothing of this was dangerous: the attack proves nothing"
    assert len(told) > 15
    for (one, first), (two, second) in combinations(told, 2):
        assert not 1 <= len(one ^ two) <= 7, "two lines differ by a few people"
        if two < one:
            # What can be worked out of the rest is never a number of a few, nor nearly so.
            low = between(first)[0] - between(second)[1]
            high = between(first)[1] - between(second)[0]
            assert not (low >= 1 and high <= 7)
    sets = {one for one, _ in told}
    for whole in sets:
        parts = [one for one in sets if one < whole]
        for one, two in combinations(parts, 2):
            if not one & two:
                assert not 1 <= len(whole - one - two) <= 7, "two parts leave a few of a whole"


def test_the_yearly_pack_is_made_and_so_is_the_next_years(cohort: Person) -> None:
    first = made(cohort, "definition=rise-3mm")
    assert first.state == "ready", first.reason
    assert Release.objects.filter(what=f"pack {first.pk}").count() == 1
    for place in range(14):
        operated("north", 2026, "LP", place)
    for place in range(3):
        operated("south", 2026, "HP", place)
    second = made(cohort, "definition=rise-3mm")
    assert second.state == "ready", second.reason
    # The few hook plates of the year would stand out against the pack before.
    assert {"HP"} <= releases_hide(cohort)


def releases_hide(by: Person) -> set[str]:
    rows = Client()
    rows.force_login(by)
    answer = rows.get("/outcomes/table.csv?definition=rise-3mm&audience=outside")
    assert "hidden as well: HP" in answer.content.decode()
    assert lines(answer)[-1]["operated"] == "80"
    return {line["group"] for line in lines(answer) if line["operated"] == HIDDEN}


def made(by: Person, address: str) -> Any:
    pack = packs.ask(
        sites=list(builders.Site.objects.all()), address=address, for_outside=True, by=by, now=NOW
    )
    packs.make_waiting(now=NOW, today=TODAY)
    pack.refresh_from_db()
    return pack


def test_the_same_table_again_is_no_new_release(cohort: Person) -> None:
    client = Client()
    client.force_login(cohort)
    address = "/outcomes/table.csv?definition=rise-3mm&audience=outside"
    one = client.get(address).content
    assert client.get(address).content == one
    assert Release.objects.count() == 1
    assert not set(Patient.objects.values_list("key", flat=True)) & {
        member for row in ReleasedPopulation.objects.all() for member in row.members
    }


def test_one_patient_more_is_refused_for_outside_and_exact_for_the_team(cohort: Person) -> None:
    client = Client()
    client.force_login(cohort)
    address = "/outcomes/table.csv?definition=rise-3mm"
    assert client.get(f"{address}&audience=outside").status_code == 200
    operated("north", 2025, "LP", 20)
    refused = client.get(f"{address}&audience=outside")
    assert refused.status_code == 400
    assert "differs by 1 to 7 patients" in refused.content.decode()
    assert lines(client.get(address))[-1]["operated"] == str(sum(NUMBERS.values()) + 1)


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (CohortRule(surgeon_id=1), "one surgeon"),
        (CohortRule(operated_from=date(2025, 1, 2)), "begins on 1 January"),
        (CohortRule(operated_to=date(2025, 12, 30)), "ends on 31 December"),
    ],
)
def test_what_is_cut_too_finely_does_not_leave(rule: CohortRule, said: str) -> None:
    with pytest.raises(BadInput, match=said):
        releases.refuse_off_grid(rule)
    releases.refuse_off_grid(
        CohortRule(operated_from=date(2025, 1, 1), operated_to=date(2025, 12, 31))
    )
