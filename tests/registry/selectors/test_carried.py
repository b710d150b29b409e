"""What a patient carries, at the sites of whoever asks."""

from datetime import date

import pytest

from registry.models import Person
from registry.selectors.carried import carried_by
from tests import builders
from tests.implanted import later, part

pytestmark = pytest.mark.django_db


def test_parts_come_the_latest_first_and_say_where_they_are(surgeon: Person) -> None:
    operation = builders.procedure()
    first = part(operation)
    (found,) = carried_by(surgeon, operation.injury.patient)
    assert (found.part, found.place, found.removed_on) == (first, "in place", None)
    later(operation, "implant_removal", date(2026, 10, 1))
    (found,) = carried_by(surgeon, operation.injury.patient)
    assert (found.place, found.removed_on) == ("removed", date(2026, 10, 1))


def test_after_a_revision_it_is_not_known_what_was_left(surgeon: Person) -> None:
    operation = builders.procedure()
    old = part(operation)
    again = later(operation, "revision_fixation")
    new = part(again)
    found = carried_by(surgeon, operation.injury.patient)
    assert [(one.part, one.place) for one in found] == [
        (new, "in place"),
        (old, "not known: revised since"),
    ]


def test_parts_at_other_sites_are_not_told(outsider: Person) -> None:
    operation = builders.procedure()
    part(operation)
    assert carried_by(outsider, operation.injury.patient) == []
