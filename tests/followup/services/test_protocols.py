"""Protocols change by a new version only."""

from datetime import date
from typing import Any

import pytest

from followup.models import Protocol, ProtocolStep, ProtocolVersion
from followup.selectors.protocols import version_for
from followup.services import protocols
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.usefixtures("defaults")

NEXT_YEAR = date(2027, 1, 1)


def step(code: str = "6w", weeks: int = 6, **values: Any) -> dict[str, Any]:
    return {
        "code": code,
        "name": f"{weeks} weeks",
        "offset_value": weeks,
        "offset_unit": "weeks",
        "window_before_days": 7,
        "window_after_days": 7,
        **values,
    }


def shared() -> Protocol:
    row: Protocol = Protocol.objects.get(purpose="fixation", site=None, construct_type=None)
    return row


def add(by: Person, **values: Any) -> ProtocolVersion:
    given = {
        "protocol": shared(),
        "effective_from": NEXT_YEAR,
        "source_note": "the surgeons' meeting of May 2026",
        "steps": [step()],
        "by": by,
        "now": NOW,
        **values,
    }
    return protocols.add_version(**given)


def test_loading_what_ships_twice_adds_nothing() -> None:
    before = Protocol.objects.count(), ProtocolStep.objects.count()
    builders.load_defaults()
    assert (Protocol.objects.count(), ProtocolStep.objects.count()) == before


def test_a_new_version_leaves_the_earlier_one_and_its_steps_alone(administrator: Person) -> None:
    first = shared().versions.get()
    before = list(first.steps.values())
    made = add(administrator)
    assert (made.number, made.steps.get().code) == (2, "6w")
    assert list(first.steps.values()) == before
    entry = AuditEntry.objects.get(table="followup_protocolversion", row_id=str(made.pk))
    assert (entry.person_id, entry.reason) == (administrator.pk, made.source_note)


def test_a_new_version_is_for_operations_from_its_day_on(administrator: Person) -> None:
    made = add(administrator)
    kind = builders.construct_type("LP")

    def number(on: date) -> int:
        version = version_for(
            site_id=builders.site().pk, construct_type_id=kind.pk, purpose="fixation", on=on
        )
        assert version is not None
        return version.number

    assert (number(date(2026, 12, 31)), number(NEXT_YEAR)) == (1, made.number)


def test_reviews_that_are_planned_keep_their_version(administrator: Person) -> None:
    operation = builders.procedure()
    add(administrator, effective_from=operation.performed_on)
    assert set(operation.reviews.values_list("step__version__number", flat=True)) == {1}


def test_whoever_started_from_an_older_version_is_told_so(administrator: Person) -> None:
    add(administrator, expected_latest=1)
    with pytest.raises(StaleVersion, match="it is now 2"):
        add(administrator, expected_latest=1)
    assert shared().versions.count() == 2


def test_a_version_does_not_begin_before_the_one_it_follows(administrator: Person) -> None:
    add(administrator)
    with pytest.raises(BadInput, match="Version 2 begins on 01 Jan 2027"):
        add(administrator, effective_from=date(2026, 12, 31))
    assert add(administrator).number == 3


@pytest.mark.parametrize(
    ("steps", "words"),
    [
        ([], "at least one step"),
        ([step(), step(weeks=12)], "same code"),
        ([step(), step("7w", 7)], "overlap"),
        ([step(film_views=["ap"], film_sides={"zanca": "both"})], "'zanca' film of this step"),
        ([step(film_views=["ap"], film_sides={"ap": "left"})], "'left' cannot be the side"),
        ([step(free_items=[{"code": "A b", "words": "sling"}])], "'6w': 'A b' cannot be the code"),
        ([step(milestones=[{"words": "soon"}])], "'6w': milestone 1 has words"),
    ],
)
def test_steps_that_cannot_be_are_refused_whole(
    administrator: Person, steps: list[dict[str, Any]], words: str
) -> None:
    with pytest.raises(BadInput, match=words):
        add(administrator, steps=steps)
    assert shared().versions.count() == 1


def test_a_sites_own_protocol_comes_before_the_shared_one(administrator: Person) -> None:
    north = builders.site()
    made = protocols.add_protocol(
        protocol=Protocol(name="North's own", purpose="fixation", site=north),
        effective_from=date(2026, 1, 1),
        source_note="our policy",
        steps=[step()],
        by=administrator,
        now=NOW,
    )
    assert made.number == 1
    assert builders.procedure().reviews.get().step.version == made
    elsewhere = builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    assert elsewhere.reviews.count() > 1


def test_the_same_operations_have_one_protocol(administrator: Person) -> None:
    for site, kind in ((None, None), (None, builders.construct_type("HP"))):
        with pytest.raises(BadInput, match="make a new version of it"):
            protocols.add_protocol(
                protocol=Protocol(name="Again", purpose="fixation", site=site, construct_type=kind),
                effective_from=NEXT_YEAR,
                source_note="our policy",
                steps=[step()],
                by=administrator,
                now=NOW,
            )
    assert not Protocol.objects.filter(name="Again").exists()
