"""What the hospital's system sent, as each may see it."""

import pytest

from registry.models import Person
from registry.selectors import hospital_messages as selector
from tests import builders, hospital

pytestmark = pytest.mark.django_db


def test_messages_are_seen_at_ones_own_sites_by_fate(coordinator: Person, outsider: Person) -> None:
    patient = builders.patient(family_name="Testfamily")
    waits = hospital.taken(hospital.adt("A08", "909090"))
    done = hospital.taken(hospital.adt("A08", hospital.number_of(patient)))
    assert list(selector.messages_seen(coordinator, "waiting")) == [waits]
    assert list(selector.messages_seen(coordinator, "all")) == [done, waits]
    assert list(selector.messages_seen(outsider, "all")) == []
    assert selector.counts(coordinator) == {"waiting": 1, "nothing": 1}


def test_an_administrator_sees_keys_and_no_names(
    administrator: Person, coordinator: Person
) -> None:
    patient = builders.patient(family_name="Testfamily")
    row = hospital.taken(hospital.adt("A08", hospital.number_of(patient)))
    (line,) = selector.lines(administrator, [row])
    assert (line.whose, line.may_open) == (patient.key, False)
    assert selector.said_by(administrator, row) == selector.UNSEEN
    (line,) = selector.lines(coordinator, [row])
    assert (line.whose, line.may_open) == ("Testfamily, Ada", True)
    assert selector.said_by(coordinator, row).lines


def test_what_cannot_be_read_is_shown_as_it_came(coordinator: Person) -> None:
    row = hospital.taken(b"nonsense\rmore")
    found = selector.said_by(coordinator, row)
    assert (found.lines, found.rows) == ((), ("nonsense", "more"))


def test_proposals_are_who_is_like_what_is_said_or_who_was_searched_for(
    coordinator: Person,
) -> None:
    like = builders.patient(family_name="Testfamily")
    other = builders.patient(family_name="Otherfamily", sex="male")
    row = hospital.taken(hospital.adt("A08", "909090"))
    said = selector.said_by(coordinator, row).said
    assert [one.patient for one in selector.proposals(coordinator, said, "")][:1] == [like]
    assert [one.patient for one in selector.proposals(coordinator, said, "otherf")] == [other]
    assert selector.proposals(coordinator, None, "") == []
