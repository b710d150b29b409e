"""Which protocol applies, and what the set-up shows of protocols."""

from datetime import date, timedelta
from typing import Any

import pytest

from followup.models import Protocol, ProtocolVersion
from followup.selectors import protocols as selector
from followup.services import protocols
from registry.models import ConstructType, Person, Site
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")

STEP = {
    "code": "6w",
    "name": "6 weeks",
    "offset_value": 6,
    "offset_unit": "weeks",
    "window_before_days": 7,
    "window_after_days": 7,
    "film_views": ["zanca"],
}


def own(
    by: Person,
    site: Site | None,
    kind: ConstructType | None = None,
    begins: date = TODAY,
) -> ProtocolVersion:
    return protocols.add_protocol(
        protocol=Protocol(
            name=f"{site} {kind}", purpose="fixation", site=site, construct_type=kind
        ),
        effective_from=begins,
        source_note="our policy",
        steps=[STEP],
        by=by,
        now=NOW,
    )


def shared() -> ProtocolVersion:
    row: ProtocolVersion = ProtocolVersion.objects.get(protocol__name="After fixation", number=1)
    return row


def another(by: Person, version: ProtocolVersion, begins: date) -> ProtocolVersion:
    return protocols.add_version(
        protocol=version.protocol,
        effective_from=begins,
        source_note="our policy",
        steps=[STEP],
        by=by,
        now=NOW,
    )


def applied(kind: str, on: date = TODAY) -> str:
    found = selector.version_for(
        site_id=builders.site().pk,
        construct_type_id=builders.construct_type(kind).pk,
        purpose="fixation",
        on=on,
    )
    return str(found)


def test_the_site_comes_before_the_construct_type_and_both_before_either(
    administrator: Person,
) -> None:
    assert applied("HP") == "After fixation with a hook plate, version 1"
    own(administrator, builders.site())
    assert applied("HP") == "North Hospital None, version 1"
    own(administrator, builders.site(), ConstructType.objects.get(code="HP"))
    assert applied("HP") == "North Hospital Hook plate, version 1"
    assert applied("LP") == "North Hospital None, version 1"


def test_a_protocol_that_has_not_begun_leaves_the_place_to_the_next(administrator: Person) -> None:
    own(administrator, builders.site(), begins=TODAY + timedelta(days=1))
    assert applied("LP") == "After fixation, version 1"
    assert applied("LP", TODAY + timedelta(days=1)) == "North Hospital None, version 1"


def test_versions_are_replaced_in_force_or_to_come(administrator: Person) -> None:
    another(administrator, shared(), TODAY)
    another(administrator, shared(), TODAY + timedelta(days=40))
    lines = selector.protocol_lines(administrator, TODAY)
    line = next(one for one in lines if one.protocol.name == "After fixation")
    assert [(one.version.number, one.standing) for one in line.versions] == [
        (3, "to come"),
        (2, "in force"),
        (1, "replaced"),
    ]
    assert selector.standing_of(line.versions[2].version, TODAY).standing == "replaced"
    before = selector.version_before(line.versions[0].version)
    assert before is not None
    assert before.number == 2
    assert selector.version_before(line.versions[2].version) is None


def test_another_sites_own_protocol_is_not_seen(administrator: Person) -> None:
    own(administrator, builders.site())
    own(administrator, builders.site("south"))
    lines = {str(one.protocol): one for one in selector.protocol_lines(administrator, TODAY)}
    assert "South Hospital None" not in lines
    assert lines["North Hospital None"].applies_to == (
        "every construct without its own, at North Hospital"
    )
    assert lines["After fixation with a hook plate"].applies_to == (
        "Hook plate, at every site without its own"
    )


def test_a_shared_protocol_is_changed_by_whoever_administers_every_site(
    administrator: Person,
) -> None:
    version = shared()
    assert selector.may_change(administrator, version.protocol)
    builders.site("south")
    assert not selector.may_change(administrator, version.protocol)
    assert selector.may_change(administrator, own(administrator, builders.site()).protocol)
    lines = selector.protocol_lines(administrator, TODAY)
    assert {str(one.protocol): one.may_change for one in lines} == {
        "North Hospital None": True,
        "After fixation": False,
        "After fixation with a hook plate": False,
        "After implant removal": False,
    }


def test_who_made_a_version_comes_from_the_trail(administrator: Person) -> None:
    assert selector.maker_of(shared()) == "the service itself"
    assert selector.maker_of(another(administrator, shared(), TODAY)) == "Ada"


def test_the_steps_of_a_version_are_plain_values() -> None:
    steps = selector.steps_of(shared())
    assert (steps[0].code, steps[0].film_views, steps[0].scores) == ("baseline", ("zanca",), ())
    assert selector.steps_of(None) == ()


def test_the_list_costs_the_same_for_three_and_for_a_hundred(
    administrator: Person, counted: Any
) -> None:
    cost = []
    for more in (0, 40):
        for index in range(more):
            kind = builders.construct_type(f"K{index}")
            own(administrator, builders.site(), kind)
        # What a person may do is asked once in a request, and so here.
        somebody = Person.objects.get(pk=administrator.pk)
        with counted() as queries:
            selector.protocol_lines(somebody, TODAY)
        cost.append(len(queries))
    assert cost[0] == cost[1]
