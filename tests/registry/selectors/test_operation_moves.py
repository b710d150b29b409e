"""Operations that hang together, and where one of them could go."""

from datetime import date

import pytest

from registry.models import Person, Procedure
from registry.selectors.operation_moves import chain_of, injuries_to_move_to, staying
from registry.services import records
from tests import builders, operations
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")


def test_a_chain_is_an_operation_with_all_that_revises_it_void_ones_too() -> None:
    index = builders.procedure()
    revision = operations.later(index.injury, "revision_fixation", index, date(2026, 7, 1))
    removal = operations.later(index.injury, "implant_removal", revision, date(2026, 9, 1))
    washout = operations.later(index.injury, "washout", None, date(2026, 6, 20))
    records.void(removal, by=index.recorded_by, now=NOW, expected_version=1, reason="x")
    assert chain_of(index) == [index, revision, removal]
    assert chain_of(revision) == [revision, removal]
    assert chain_of(washout) == [washout]
    assert list(staying(chain_of(revision))) == [index, washout]


def test_only_other_injuries_at_its_site_that_one_may_correct_are_offered(
    coordinator: Person, outsider: Person
) -> None:
    operation: Procedure = builders.procedure()
    patient = operation.injury.patient
    other = builders.injury(patient, side="right")
    builders.injury(patient, site=builders.site("south"))
    void = builders.injury(patient)
    records.void(void, by=patient.recorded_by, now=NOW, expected_version=1, reason="x")
    assert list(injuries_to_move_to(coordinator, operation, patient)) == [other]
    assert not injuries_to_move_to(outsider, operation, patient).exists()
