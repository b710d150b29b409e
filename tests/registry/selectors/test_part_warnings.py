"""Warnings ask the whole registry and name nobody whom one may not see."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from registry.models import Construct, ImplantModel, Person
from registry.rules.part_warnings import Warned
from registry.selectors.part_warnings import PartToTell, told_of
from registry.services.implants import PartGiven, add_part, add_parts
from registry.services.voiding import void_row
from tests import builders
from tests.builders import NOW
from tests.implanted import PLATE, bare_notice

pytestmark = pytest.mark.django_db
GIVEN = PartGiven("graft", "tendon graft", device_identifier="09506000134352", serial="S1")


def recorded(construct: Construct, given: PartGiven = GIVEN) -> Any:
    return add_part(construct=construct, given=given, by=construct.recorded_by, now=NOW)


def at_south() -> Construct:
    return builders.procedure(builders.injury(builders.patient(builders.site("south")))).construct


def codes(told: Any) -> list[Warned]:
    return [one.code for one in told.warnings]


def test_a_serial_number_at_a_site_of_ones_own_leads_to_its_patient(surgeon: Person) -> None:
    other = builders.procedure()
    part = recorded(other.construct)
    here = builders.procedure()
    told = told_of(surgeon, here, [PartToTell(part.implant_model, serial="S1")])[0]
    assert codes(told) == [Warned.SERIAL_USED]
    assert told.other == other.injury.patient


def test_a_serial_number_elsewhere_is_told_without_a_name(surgeon: Person) -> None:
    part = recorded(at_south())
    told = told_of(surgeon, builders.procedure(), [PartToTell(part.implant_model, serial="S1")])[0]
    assert codes(told) == [Warned.SERIAL_USED]
    assert told.other is None
    assert told.warnings[0].words == (
        "Serial number S1 of this article is recorded on another patient."
    )


def test_a_serial_number_that_comes_twice_in_one_save_is_told_of_both(surgeon: Person) -> None:
    here = builders.procedure()
    ours = PartToTell(None, device_identifier="09506000134352", serial="S1")
    another = PartToTell(None, device_identifier="10857674002017", serial="S1")
    plain = PartToTell(None, device_identifier="09506000134352", batch="B7")
    told = told_of(surgeon, here, [ours, another, replace(ours, serial="s1"), plain, plain])
    twice, once = [Warned.SERIAL_USED], list[Warned]()
    assert [codes(one) for one in told] == [twice, once, twice, once, once]
    assert told[0].warnings[0].words == (
        "Serial number S1 of this article is given here more than once."
    )
    saved = add_parts(construct=here.construct, given=[GIVEN, GIVEN], by=surgeon, now=NOW)
    assert [[one["code"] for one in part.warnings] for part in saved] == [twice, twice]


def test_the_same_patients_own_part_and_a_void_one_are_told_apart(surgeon: Person) -> None:
    here = builders.procedure()
    part = recorded(here.construct)
    wanted = [PartToTell(part.implant_model, serial="S1")]
    assert told_of(surgeon, here, wanted)[0].warnings[0].words.endswith("on this patient already.")
    void_row(row=part, reason="mistyped", expected_version=1, by=surgeon, now=NOW)
    assert codes(told_of(surgeon, here, wanted)[0]) == []


def test_another_article_with_that_serial_number_is_no_concern(surgeon: Person) -> None:
    recorded(at_south())
    other = ImplantModel.objects.create(kind="graft", description="another graft")
    told = told_of(surgeon, builders.procedure(), [PartToTell(other, serial="S1")])
    assert codes(told[0]) == []


def test_a_switched_off_article_is_told(surgeon: Person) -> None:
    model = ImplantModel.objects.create(kind="plate", description="plate", is_active=False)
    told = told_of(surgeon, builders.procedure(), [PartToTell(model, batch="B-1")])
    assert codes(told[0]) == [Warned.SWITCHED_OFF]


def test_forty_parts_cost_as_many_queries_as_one(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    here = builders.procedure()
    part = recorded(at_south())
    one = PartToTell(part.implant_model, serial="S1")
    costs = []
    for number in (1, 40):
        somebody = Person.objects.get(pk=surgeon.pk)
        with counted() as queries:
            told_of(somebody, here, [one] * number)
        costs.append(len(queries))
    assert costs[0] == costs[1]


def test_what_a_notice_is_about_is_told_whether_the_article_is_known_or_not(
    surgeon: Person,
) -> None:
    bare_notice()
    here = builders.procedure()
    model = ImplantModel.objects.create(kind="plate", description="plate", device_identifier=PLATE)
    parts = [
        PartToTell(model, batch="lot 42a"),
        PartToTell(None, device_identifier=PLATE, batch="LOT42A"),
        PartToTell(model, batch="LOT42A21SN0042"),
        PartToTell(model, batch="LOT7"),
    ]
    told = [[one.words for one in each.warnings] for each in told_of(surgeon, here, parts)]
    assert told[0] == told[1]
    assert told[0][0].startswith("Recalled: safety notice FSN-1: Plates of one batch may break (")
    assert told[2][0].startswith("May be recalled: ")
    assert told[3] == []


def test_a_part_listed_by_another_identifier_of_a_recalled_article_is_told(
    surgeon: Person, counted: Callable[[], Any]
) -> None:
    bare_notice({"device_identifier": PLATE})
    first = ImplantModel.objects.create(kind="plate", description="a", device_identifier=PLATE)
    second = ImplantModel.objects.create(
        kind="plate", description="b", device_identifier="09506000134369", same_as=first
    )
    other = ImplantModel.objects.create(
        kind="plate", description="c", device_identifier="09506000134376"
    )
    here = builders.procedure()
    parts = [PartToTell(second, batch="LOT42A"), PartToTell(other, batch="LOT42A")]
    told = [[one.code for one in each.warnings] for each in told_of(surgeon, here, parts)]
    assert told == [[Warned.RECALLED], []]
    with counted() as one:
        told_of(surgeon, here, parts[:1])
    with counted() as many:
        told_of(surgeon, here, parts * 20)
    assert len(one) == len(many)
