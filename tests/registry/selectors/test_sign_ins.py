"""What happened at the door, for those who administer the people it happened to."""

import pytest

from registry.models.sign_ins import SignInEventKind
from registry.selectors.sign_ins import events_here
from registry.services.sign_ins import write_down
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def test_an_administrator_sees_their_own_people_and_names_of_nobody() -> None:
    north, south = (
        builders.person("selma", north="surgeon"),
        builders.person("otto", south="surgeon"),
    )
    for person in (north, south, None):
        write_down(SignInEventKind.FAILED, person=person, now=NOW)
    ada = builders.person("ada", north="administrator")
    assert [one.person for one in events_here(ada)] == [None, north]
    assert not events_here(north).exists()
