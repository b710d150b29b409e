"""Who may see which rows of the follow-up."""

from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser

from followup.models import (
    Appointment,
    Clinic,
    Complication,
    ContactAttempt,
    Film,
    HardwareDecision,
    MotionExam,
    Protocol,
    ProtocolStep,
    ProtocolVersion,
    Reading,
    Review,
    Score,
)
from followup.selectors.visible import visible
from registry.models import Person
from registry.services import voiding
from tests import builders, world
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")

CLINICAL = (
    Appointment,
    Clinic,
    Complication,
    ContactAttempt,
    Film,
    HardwareDecision,
    MotionExam,
    Reading,
    Review,
    Score,
)


def sites_of(rows: Any) -> set[str]:
    return set(rows.values_list("site__code", flat=True))


def test_every_kind_of_row_is_seen_at_ones_own_site_only() -> None:
    world.one_of_each("north")
    world.one_of_each("south")
    both = builders.person("beth", north="coordinator", south="surgeon")
    north, south = builders.person("connie", north="coordinator"), builders.person("otto")
    builders.person("otto", south="surgeon")
    for model in CLINICAL:
        assert sites_of(visible(north, model)) == {"north"}, model
        assert sites_of(visible(south, model)) == {"south"}, model
        assert sites_of(visible(both, model)) == {"north", "south"}, model


def test_a_role_that_does_not_permit_the_act_sees_nothing(quality_lead: Person) -> None:
    world.one_of_each("north")
    for model in CLINICAL:
        assert not visible(quality_lead, model).exists(), model


def test_the_act_decides_and_not_the_person(film_reader: Person) -> None:
    world.one_of_each("north")
    assert visible(film_reader, Film, "read_film").exists()
    assert not visible(film_reader, Film, "record_visit").exists()


def test_a_stranger_sees_nothing() -> None:
    world.one_of_each("north")
    for who in (AnonymousUser(), builders.person("nobody")):
        for model in (*CLINICAL, Protocol, ProtocolVersion, ProtocolStep):
            assert not visible(who, model).exists(), (who, model)


def test_a_void_row_is_seen_by_nobody(coordinator: Person) -> None:
    operation = builders.procedure()
    assert visible(coordinator, Review).count() == 7
    voiding.void_row(
        row=operation,
        reason="entered twice",
        expected_version=1,
        by=operation.recorded_by,
        now=NOW,
    )
    assert visible(coordinator, Review).count() == 0


def test_a_shipped_protocol_is_seen_by_all_who_set_up_and_an_own_one_at_its_site() -> None:
    world.one_of_each("north")
    world.one_of_each("south")
    administrator = builders.person("ada", north="administrator")
    protocols = visible(administrator, Protocol, "set_up")
    assert set(protocols.values_list("name", flat=True)) == {
        "After fixation",
        "After implant removal",
        "After fixation with a hook plate",
        "Protocol of north",
    }
    versions = visible(administrator, ProtocolVersion, "set_up")
    steps = visible(administrator, ProtocolStep, "set_up")
    assert set(versions.values_list("protocol", flat=True)) == {row.pk for row in protocols}
    assert set(steps.values_list("version__protocol", flat=True)) == {row.pk for row in protocols}


def test_who_sets_nothing_up_sees_no_protocol(coordinator: Person) -> None:
    for model in (Protocol, ProtocolVersion, ProtocolStep):
        assert not visible(coordinator, model, "set_up").exists()
