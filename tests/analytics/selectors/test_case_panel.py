from datetime import timedelta
from typing import Any

import pytest

from analytics.endpoints.catalogue import DEFINITIONS, LOSS, apply, definitions_of
from analytics.endpoints.verdicts import table
from analytics.models import EndpointChoice
from analytics.selectors import frames
from analytics.selectors.case_panel import definition_at, mdc_at, mdcs_at, panel_of
from config.demo.load import Wanted, load
from followup.models.readings import ReadingPolicy
from registry.models import Procedure
from registry.models.patients import Consent
from registry.services import patients, voiding
from registry.services.enrolment import ConsentGiven
from tests import builders
from tests.analytics.records import held, lost, reading
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
STATES = {"lost": {"lost"}, "held": {"held", "first film only"}, "": {"no film", "not evaluable"}}


def test_the_sites_own_definition_comes_first_and_every_other_after_it() -> None:
    panel = panel_of(lost(), TODAY)
    assert panel.own is not None
    assert panel.own.definition.id == "rise-3mm"
    assert panel.own.state == "lost"
    others = {one.definition.id for one in panel.others}
    assert others == {one.id for one in definitions_of(LOSS)} - {"rise-3mm"}


def test_a_site_that_chose_none_has_no_verdict_of_its_own() -> None:
    done = held()
    EndpointChoice.objects.all().delete()
    panel = panel_of(done, TODAY)
    assert panel.own is None
    assert len(panel.others) == len(definitions_of(LOSS))
    assert definition_at(done.site_id) is None


def test_a_panel_costs_the_same_however_many_films_and_cases_there_are(counted: Any) -> None:
    one = held()
    costs = []
    for more in (0, 12):
        for number in range(more):
            reading(one, 20 + number, "9.2")
            lost()
        fresh = Procedure.objects.select_related("site").get(pk=one.pk)
        with counted() as queries:
            panel_of(fresh, TODAY)
        costs.append(len(queries))
    assert costs == [5, 5]


def test_a_revision_a_removal_and_the_end_of_the_follow_up_are_on_the_axis() -> None:
    done = held()
    days = {"revision_fixation": 400, "implant_removal": 420}
    for kind, day in days.items():
        builders.procedure(
            done.injury,
            {"construct_type": "HP"} if kind == "revision_fixation" else None,
            kind=kind,
            revises=done,
            performed_on=done.performed_on + timedelta(days=day),
        )
    assert [words for _, words in panel_of(done, TODAY).happenings] == ["revision", "hardware out"]


def test_whoever_is_in_no_figure_by_choice_is_still_looked_after() -> None:
    done = lost()
    patients.add_consent(
        patient=done.injury.patient,
        site=done.site,
        given=ConsentGiven("registry", "opted_out", TODAY, "by letter"),
        by=done.recorded_by,
        now=NOW,
        today=TODAY,
    )
    assert Consent.objects.exists()
    assert done.pk not in frames.build(None, TODAY).cases.index
    panel = panel_of(done, TODAY)
    assert panel.own is not None
    assert panel.own.state == "lost"


def test_a_voided_operation_is_no_case() -> None:
    done = lost()
    voiding.void_row(row=done, reason="twice", expected_version=1, by=done.recorded_by, now=NOW)
    assert frames.of_cases([done.pk], TODAY).cases.empty


def test_what_lies_after_the_day_is_not_known_on_it() -> None:
    done = lost()
    before = done.performed_on + timedelta(days=60)
    (row,) = table(apply(DEFINITIONS["rise-3mm"], frames.of_cases([done.pk], before))).to_dict(
        "records"
    )
    assert row["verdict"] == "held"


def test_the_detectable_change_is_the_sites_own_and_else_the_shipped_one() -> None:
    here, there = builders.site(), builders.site("south")
    ReadingPolicy.objects.create(site=there, mdc_mm="1.5")
    found = mdcs_at([here.pk, there.pk])
    assert found[here.pk](DEFINITIONS["rise-3mm"]) == 2.0
    assert found[there.pk](DEFINITIONS["rise-3mm"]) == 1.5
    assert mdc_at(there.pk)(DEFINITIONS["ratio-25"]) == 1.5
    assert mdc_at(there.pk)(DEFINITIONS["fixation-failure"]) is None


def test_every_case_of_the_invented_service_is_judged_here_as_in_its_figures() -> None:
    load(Wanted(procedures=80), now=NOW, today=TODAY, whole=False)
    figures = frames.build(None, TODAY)
    keys = figures.cases.index.tolist()
    assert len(keys) > 60
    few = frames.of_cases(keys, TODAY)
    for definition in definitions_of(LOSS):
        theirs = table(apply(definition, figures.whole))
        assert table(apply(definition, few)).equals(theirs), definition.id
    own = table(apply(DEFINITIONS["rise-3mm"], figures.whole))
    assert {"lost", "held", ""} == set(own["verdict"])
    for procedure in Procedure.objects.filter(pk__in=keys).select_related("site"):
        panel = panel_of(procedure, TODAY)
        row: Any = own.loc[procedure.pk]
        assert panel.own is not None
        assert panel.own.state in STATES[row["verdict"]]
        first = panel.own.first_lost
        assert (first.film_id if first else -1) == row["event_film"]
