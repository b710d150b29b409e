from datetime import date
from typing import Any
from urllib.parse import parse_qsl

import pytest

from analytics.endpoints.catalogue import DEFINITIONS, LOSS
from analytics.models import EndpointChoice
from analytics.selectors.cohorts import (
    CohortRule,
    Unchosen,
    cut,
    definition_for,
    refuse_other_surgeon,
    reoperations_of,
    rule_from,
)
from analytics.selectors.frames import Frames, build
from analytics.services.definitions import choose_definition
from registry.errors import BadInput
from tests import builders
from tests.analytics import cohort
from tests.builders import TODAY


def frames(cases: list[dict[str, Any]]) -> Frames:
    given = cohort.data(
        cases,
        [cohort.film(2, procedure_id=number) for number in range(1, len(cases) + 1)],
        [cohort.harm(9, procedure_id=number) for number in range(1, len(cases) + 1)],
    )
    return Frames(
        cases=given.cases,
        readings=given.readings,
        complications=given.complications,
        reoperations=given.cases.reset_index()
        .rename(columns={"procedure_id": "index_id"})
        .loc[:, ["index_id"]],
        reviews=given.readings.iloc[:0],
        cutoff=given.cutoff,
    )


def test_an_empty_address_asks_whether_it_held_at_twelve_months() -> None:
    assert rule_from({}) == CohortRule(endpoint=LOSS, horizon="12m", by="construct_type")


def test_an_address_and_its_rule_are_one() -> None:
    rule = CohortRule(
        endpoint="union",
        definition_id="union-film",
        horizon="6m",
        by="site",
        operated_from=date(2024, 1, 1),
        operated_to=date(2024, 12, 31),
        site="north",
        surgeon_id=7,
        neer="IIB",
        kind="lateral_clavicle",
    )
    assert rule_from(dict(parse_qsl(rule.address()))) == rule


def test_an_address_can_be_asked_for_with_changes() -> None:
    assert dict(parse_qsl(CohortRule().address(horizon="6w", page=2)))["horizon"] == "6w"


@pytest.mark.parametrize(
    ("address", "name", "words"),
    [
        ({"endpoint": "joy"}, "endpoint", "'joy' is not an endpoint"),
        ({"definition": "union-film"}, "definition", "is not a definition of loss_of_reduction"),
        ({"horizon": "5y"}, "horizon", "'5y' is not one of 6w, 3m"),
        ({"by": "surgeon_id"}, "by", "'surgeon_id' is not one of construct_type"),
        ({"surgeon": "me"}, "surgeon", "'me' is not a surgeon's number"),
        ({"surgeon": "\N{SUPERSCRIPT TWO}"}, "surgeon", "is not a surgeon's number"),
        ({"neer": "VII"}, "neer", "'VII' is not one of I, IIA"),
        ({"rockwood": "VII"}, "rockwood", "'VII' is not one of I, II, III"),
        ({"kind": "knee"}, "kind", "'knee' is not one of lateral_clavicle, ac_joint"),
        ({"from": "yesterday"}, "from", "'yesterday' is not a date; write year-month-day"),
        ({"to": "2025-02-30"}, "to", "'2025-02-30' is not a date"),
    ],
)
def test_each_part_that_cannot_be_read_is_named(
    address: dict[str, str], name: str, words: str
) -> None:
    with pytest.raises(BadInput) as refused:
        rule_from(address)
    assert words in str(refused.value.faults[name])


@pytest.mark.parametrize(
    ("rule", "expected"),
    [
        (CohortRule(), [1, 2, 3]),
        (CohortRule(site="south"), [3]),
        (CohortRule(site="west"), []),
        (CohortRule(surgeon_id=2), [2]),
        (CohortRule(neer="V"), [2]),
        (CohortRule(rockwood="IV"), [3]),
        (CohortRule(kind="ac_joint"), [3]),
        (CohortRule(operated_from=date(2025, 1, 1)), [2, 3]),
        (CohortRule(operated_to=date(2025, 1, 1)), [1, 2]),
    ],
)
def test_a_rule_cuts_the_cases_and_all_that_hangs_on_them(
    rule: CohortRule, expected: list[int]
) -> None:
    given = frames(
        [
            {"performed_on": date(2024, 1, 1), "surgeon_id": None},
            {"performed_on": date(2025, 1, 1), "surgeon_id": 2, "neer": "V"},
            {
                "performed_on": date(2026, 1, 1),
                "site": "south",
                "neer": None,
                "rockwood": "IV",
                "injury_kind": "ac_joint",
            },
        ]
    )
    data = cut(given, rule, {"north", "south"})
    assert data.cases.index.tolist() == expected
    assert data.readings["procedure_id"].tolist() == expected
    assert data.complications["procedure_id"].tolist() == expected
    assert reoperations_of(given, data)["index_id"].tolist() == expected


def test_a_site_that_is_not_ones_own_has_no_cases_whatever_the_address_says() -> None:
    given = frames([{"site": "north"}, {"site": "south"}])
    assert cut(given, CohortRule(site="south"), {"north"}).cases.empty
    assert cut(given, CohortRule(), {"north"}).cases.index.tolist() == [1]
    assert cut(given, CohortRule(), set()).cases.empty


def test_a_rule_is_said_in_words() -> None:
    assert CohortRule(rockwood="V").words() == "index procedures of Rockwood class V"
    assert CohortRule().words() == "index procedures"
    rule = CohortRule(operated_from=date(2024, 1, 1), site="north", neer="V", kind="ac_joint")
    assert rule.words() == (
        "index procedures from 01 Jan 2024 at site north of Neer class V AC joints only"
    )


@pytest.mark.django_db
def test_the_sites_choice_is_the_definition_where_the_address_names_none() -> None:
    north, south = builders.site("north"), builders.site("south")
    both = {"north", "south"}
    named = CohortRule(definition_id="doubled")
    assert definition_for(named, both) == DEFINITIONS["doubled"]
    for site in (north, south):
        choose_definition(site=site, definition_id="ratio-25", on=TODAY, by=None)
    assert definition_for(CohortRule(), both) == DEFINITIONS["ratio-25"]
    choose_definition(site=south, definition_id="doubled", on=TODAY, by=None)
    assert definition_for(CohortRule(site="south"), both) == DEFINITIONS["doubled"]


@pytest.mark.django_db
def test_where_sites_chose_none_or_differ_nothing_is_taken_in_silence() -> None:
    north, south = builders.site("north"), builders.site("south")
    both = {"north", "south"}
    with pytest.raises(
        Unchosen, match=r"No primary definition is chosen .* Name one of rise-3mm, "
    ):
        definition_for(CohortRule(), both)
    choose_definition(site=north, definition_id="ratio-25", on=TODAY, by=None)
    with pytest.raises(Unchosen, match=r"\(north: ratio-25; south: none\)"):
        definition_for(CohortRule(), both)
    choose_definition(site=south, definition_id="doubled", on=TODAY, by=None)
    with pytest.raises(Unchosen, match=r"\(north: ratio-25; south: doubled\)") as refused:
        definition_for(CohortRule(), both)
    assert set(refused.value.faults) == {"definition"}


@pytest.mark.django_db
def test_a_choice_of_what_no_longer_ships_is_none() -> None:
    choose_definition(site=builders.site("north"), definition_id="ratio-25", on=TODAY, by=None)
    EndpointChoice.objects.update(definition_id="withdrawn")
    with pytest.raises(Unchosen, match="north: withdrawn"):
        definition_for(CohortRule(), {"north"})


@pytest.mark.django_db
def test_an_endpoint_with_one_definition_needs_no_choice() -> None:
    assert definition_for(CohortRule(endpoint="union"), set()) == DEFINITIONS["union-film"]


@pytest.mark.parametrize(
    ("endpoint", "horizon", "fault"),
    [
        ("nonunion_6m", "3m", "nonunion_6m cannot be known by 3m; choose 6m or 12m or 24m"),
        ("delayed_union", "6m", "delayed_union cannot be known by 6m; choose 12m or 24m"),
    ],
)
def test_what_cannot_be_known_by_a_horizon_is_refused(
    endpoint: str, horizon: str, fault: str
) -> None:
    with pytest.raises(BadInput, match=fault):
        rule_from({"endpoint": endpoint, "horizon": horizon})
    assert rule_from({"endpoint": endpoint, "horizon": "12m"}).endpoint == endpoint


@pytest.mark.django_db
def test_a_cohort_is_cut_from_the_frames_of_the_rows() -> None:
    assert cut(build(None, TODAY), CohortRule(surgeon_id=4, neer="V"), {"north"}).cases.empty


@pytest.mark.django_db
def test_another_surgeons_figures_are_for_those_who_may_see_surgeons_at_every_site() -> None:
    north, south = builders.site("north"), builders.site("south")
    surgeon = builders.person("selma", north="surgeon", south="surgeon")
    lead = builders.person("lead", north="quality_lead", south="surgeon")
    own, other = CohortRule(surgeon_id=surgeon.pk), CohortRule(surgeon_id=surgeon.pk + 100)
    refuse_other_surgeon(own, surgeon, [north, south])
    refuse_other_surgeon(CohortRule(), surgeon, [north, south])
    refuse_other_surgeon(other, lead, [north])
    for who, sites in ((surgeon, [north]), (lead, [north, south])):
        with pytest.raises(BadInput, match="your own figures"):
            refuse_other_surgeon(other, who, sites)
