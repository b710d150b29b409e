"""Taking a wrong row out of every count, with what falls with it."""

import pytest

from followup.models import Review
from registry.errors import BadInput, StaleVersion
from registry.models import (
    Classification,
    Construct,
    ConstructDeparture,
    Injury,
    Patient,
    Procedure,
)
from registry.models.base import ClinicalRow
from registry.services import voiding
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def void(row: ClinicalRow, version: int = 1, reason: str = "entered twice") -> None:
    voiding.void_row(
        row=row, reason=reason, expected_version=version, by=builders.person("recorder"), now=NOW
    )


@pytest.mark.usefixtures("defaults")
def test_a_voided_operation_takes_its_construct_departures_and_reviews_with_it() -> None:
    facts = {"lateral_screw_count": 4, "lateral_screws_locking": "yes"}
    operation = builders.procedure(construct=facts)
    void(operation)
    for model in (Procedure, Construct, ConstructDeparture, Review):
        assert not model.objects.exists()
        assert set(model.everything.values_list("void_reason", flat=True)) == {"entered twice"}


def test_after_voiding_the_operation_can_be_entered_anew() -> None:
    operation = builders.procedure()
    void(operation)
    assert builders.procedure(operation.injury).pk != operation.pk


def test_an_injury_with_an_operation_is_not_voided_over_it() -> None:
    operation = builders.procedure()
    with pytest.raises(BadInput, match="still stands on this"):
        void(operation.injury)
    assert Injury.objects.exists()


def test_a_voided_injury_takes_its_classes_with_it() -> None:
    void(builders.injury())
    assert not Injury.objects.exists()
    assert not Classification.objects.exists()


def test_an_operation_that_was_revised_is_not_voided_under_its_revision() -> None:
    first = builders.procedure()
    builders.procedure(first.injury, kind="revision_fixation", revises=first)
    with pytest.raises(BadInput, match="A later operation"):
        void(first)


def test_a_patient_with_an_injury_is_not_voided() -> None:
    hurt = builders.injury()
    with pytest.raises(BadInput, match="An injury"):
        void(hurt.patient)


def test_a_voided_patient_is_gone_from_every_list() -> None:
    void(builders.patient())
    assert not Patient.objects.exists()


def test_voiding_needs_a_reason_and_the_present_version() -> None:
    hurt = builders.injury()
    with pytest.raises(BadInput, match="Say why"):
        void(hurt, reason="")
    with pytest.raises(StaleVersion):
        void(hurt, version=3)
    assert Injury.objects.exists()
    assert Classification.objects.exists()
