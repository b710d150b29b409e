"""What hangs on an injury, found by walking the links, and who sees what was moved."""

import pytest

from followup.models import MotionExam
from registry.models import Injury, Person
from registry.selectors import moves as selector
from registry.services import moves
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_everything_below_is_counted_by_kind_whatever_room_it_is_in() -> None:
    operation = builders.procedure(builders.injury())
    found = {one.label: one.many for one in selector.hanging_on(operation.injury)}
    assert found["Procedures"] == 1
    assert found["Constructs"] == 1
    assert found["Classifications"] == 1
    assert found["Reviews"] == operation.reviews.count()
    assert selector.hanging_on(builders.injury(classes={})) == []


def test_the_links_to_an_injury_are_those_of_every_room() -> None:
    linking = {link.model for link in selector.links_to(Injury)}
    assert MotionExam in linking
    assert "IncomingImage" in {model.__name__ for model in linking}


def test_moves_are_seen_where_the_injury_is(coordinator: Person, outsider: Person) -> None:
    injury = builders.injury()
    one = moves.change_side(
        injury=injury,
        with_motion=True,
        reason="x",
        expected_version=1,
        by=coordinator,
        now=NOW,
        today=TODAY,
    )
    assert list(selector.moves_here(coordinator)) == [one]
    assert list(selector.moves_here(outsider)) == []


def test_a_line_names_nobody_whom_one_may_not_see(coordinator: Person, outsider: Person) -> None:
    injury, to = builders.injury(), builders.patient(at=builders.site("south"))
    one = moves.move_to_patient(
        injury=injury,
        to=to,
        reason="x",
        expected_version=1,
        to_version=to.version,
        by=coordinator,
        now=NOW,
        today=TODAY,
    )
    came_from = one.from_patient
    whole = selector.lines_of(builders.person("both", north="coordinator", south="surgeon"), [one])
    assert [(line.from_name, line.to_name) for line in whole] == [
        (str(came_from.identity), str(to.identity))
    ]
    assert selector.lines_of(builders.person("nobody"), [one])[0].named == set()
