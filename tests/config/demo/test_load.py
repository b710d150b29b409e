"""The invented service in the database: by the same rules as a real one."""

from typing import Any

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command

from analytics.selectors.frames import opted_out
from analytics.simulation import setting
from analytics.simulation.cohort import generate
from analytics.simulation.truth import TRUTH
from config.demo import truth_table
from config.demo.load import Wanted, is_empty, load
from followup.models import Appointment, ContactAttempt, Film, HardwareDecision, Review, Task
from followup.services import hardware, removal_tasks, sweeping
from registry.errors import BadInput
from registry.models import Patient, Person, Procedure, Site
from registry.models.base import ClinicalRow
from registry.models.identities import Identity
from registry.rules.construct_checks import Verdict
from registry.selectors.duplicates import PossiblePairs
from registry.services import audit
from registry.services.construct_checks import results_of
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
SMALL = Wanted(procedures=100)


def loaded(wanted: Wanted = SMALL, *, whole: bool = True) -> list[int]:
    steps: list[int] = []
    load(wanted, now=NOW, today=TODAY, whole=whole, progress=steps.append)
    return steps


def test_in_production_nobody_is_made_with_a_password_that_all_know(settings: Any) -> None:
    settings.PRODUCTION = True
    with pytest.raises(CommandError, match="This service is in production"):
        call_command("load_demo")
    assert not Person.objects.exists()


def test_every_row_keeps_the_rules_of_its_model() -> None:
    loaded()
    checked = 0
    for model in apps.get_models():
        if issubclass(model, ClinicalRow):
            links = {field.name for field in model._meta.concrete_fields if field.is_relation}
            for row in model.everything.all():
                # What the database holds itself, links and constraints, is not asked again.
                row.clean_fields(exclude=links)
                checked += 1
    assert checked > 3000


def test_the_next_night_finds_nothing_to_plan_to_move_to_lapse_or_to_raise() -> None:
    loaded()
    coordinator = Person.objects.get(username="coordinator")
    before = list(Review.objects.order_by("id").values())
    sweeping.sweep(now=NOW, today=TODAY)
    assert list(Review.objects.order_by("id").values()) == before
    at = {"by": coordinator, "now": NOW, "today": TODAY}
    assert hardware.raise_planned_removals(**at) == 0
    assert hardware.bring_back_deferred(**at) == 0
    assert removal_tasks.open_for_ignored(**at) == 0


def test_every_room_has_something_to_show_on_the_first_day() -> None:
    loaded(Wanted())
    assert Procedure.objects.filter(kind="fixation").count() == setting.DEMO_PROCEDURES
    assert set(Review.objects.values_list("state", flat=True)) == {
        "planned",
        "booked",
        "attended",
        "missed",
        "lapsed",
        "not_needed",
    }
    assert Appointment.objects.filter(on=TODAY, state="booked").exists()
    assert ContactAttempt.objects.exists()
    assert Film.objects.filter(readings__isnull=True).exists()
    assert set(HardwareDecision.objects.values_list("state", flat=True)) == {
        "raised",
        "discussed",
        "planned",
        "deferred",
        "declined",
        "done",
    }
    assert not HardwareDecision.objects.filter(steps__isnull=True).exists()
    assert Task.objects.filter(kind="physiotherapy", words__contains="behind; needed").exists()
    assert Procedure.objects.filter(kind="revision_fixation").exists()
    assert set(Patient.objects.values_list("status", flat=True)) == {
        "active",
        "died",
        "withdrawn",
        "moved",
    }
    per_person = {
        key: set(Procedure.objects.filter(injury__patient=key, kind="fixation"))
        for key in Patient.objects.values_list("pk", flat=True)
    }
    assert max(len(operations) for operations in per_person.values()) == 2
    assert PossiblePairs(Person.objects.get(username="coordinator")).count() > 0


def test_departures_are_those_that_the_construct_checks_find() -> None:
    loaded()
    for operation in Procedure.objects.filter(construct__isnull=False):
        found = {
            one.id
            for one in results_of(operation.construct, operation)
            if one.verdict == Verdict.DEPARTURE
        }
        assert set(operation.construct.departures.values_list("check_id", flat=True)) == found


def test_everybody_simulated_is_entered_once_and_who_was_typed_again_twice() -> None:
    wanted = Wanted(procedures=120, seed=3)
    loaded(wanted)
    simulated = generate(120, sites=wanted.sites, seed=3, until=TODAY)
    entries = sorted(
        f"{case.identity['family_name']} {case.identity['given_name']}".casefold()
        for case in simulated
        if case.returns_to is None or case.typed_again
    )
    assert sorted(Identity.objects.values_list("sort_name", flat=True)) == entries


def test_progress_is_told_and_the_trail_holds() -> None:
    assert loaded(Wanted(procedures=250), whole=False) == [200, 50]
    audit.seal_all()
    found = audit.verify()
    assert (found.broken, found.unsealed) == (None, 0)
    assert found.checked > 8000


def test_invented_cases_never_go_among_others() -> None:
    builders.site("own")
    assert not is_empty()
    with pytest.raises(BadInput, match="an empty one only"):
        loaded()
    assert not Patient.objects.exists()


def test_a_size_that_makes_no_sense_leaves_nothing() -> None:
    with pytest.raises(BadInput, match="at least one procedure"):
        loaded(Wanted(procedures=0))
    assert is_empty()


def test_the_truth_stands_beside_the_estimate_of_each_construct_type() -> None:
    loaded(Wanted(procedures=150))
    tables = truth_table.sections(list(Site.objects.all()), now=NOW, today=TODAY)
    assert [table[1] for table in tables] == [truth_table.HEAD, truth_table.HEAD]
    for table in tables:
        codes = [line[0] for line in table[2:]]
        assert set(codes) <= set(TRUTH)
        operated = sum(int(line[-1]) for line in table[2:])
        assert operated == 150 - sum(opted_out(TODAY).values())


def test_the_command_prints_what_was_put_in_and_what_the_rows_give(
    capsys: pytest.CaptureFixture[str],
) -> None:
    call_command("make_cohort", procedures=30, sites=1, seed=2)
    said = capsys.readouterr().out
    assert "30 cases in" in said
    assert "LP: loss of reduction by the end of follow-up, 15%: invented" in said
    assert "what was put in, and what the rows give" in said
    with pytest.raises(CommandError, match="an empty one only"):
        call_command("make_cohort", procedures=30)
