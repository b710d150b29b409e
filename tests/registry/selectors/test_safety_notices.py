from typing import Any

import pytest

from registry.models import ImplantModel
from registry.rules.notice_matching import Certainty
from registry.selectors.safety_notices import facts_of, notices_about, other_identifiers
from tests.builders import TODAY
from tests.implanted import PLATE, bare_notice, part

pytestmark = pytest.mark.django_db


def test_the_notices_about_a_part_come_the_surest_first() -> None:
    perhaps = bare_notice({"device_identifier": PLATE, "batch_first": "LOT4"})
    surely = bare_notice({"device_identifier": PLATE, "batch_first": "LOT42A"})
    bare_notice({"catalogue_number": "another"})
    found = notices_about(device_identifier=PLATE, batch="lot 42a")
    assert [(one.notice, one.certainty) for one in found] == [(surely, Certainty.CERTAIN)]
    found = notices_about(device_identifier=PLATE, batch="")
    assert {one.notice for one in found} == {perhaps, surely}
    assert not any(one.is_certain for one in found)


def test_any_line_of_a_notice_is_enough_and_the_surest_counts() -> None:
    bare_notice({"batch_first": "LOT4", "batch_last": "LOT9"}, {"device_identifier": PLATE})
    (found,) = notices_about(device_identifier=PLATE, batch="L0T5")
    assert found.certainty is Certainty.CERTAIN
    (found,) = notices_about(catalogue_number="P-9", batch="L0T5")
    assert found.certainty is Certainty.NEAR
    assert "letters that look like digits" in found.words


def test_a_notice_that_was_withdrawn_warns_of_nothing() -> None:
    bare_notice(withdrawn_on=TODAY)
    assert notices_about(device_identifier=PLATE, batch="LOT42A") == []


def test_what_is_recorded_of_a_part_is_what_it_is_held_by() -> None:
    bare_notice({"serial_first": "S-1"})
    facts = facts_of(part(serial="s1", catalogue_number="P-6"))
    assert (facts.device_identifier, facts.catalogue_number) == (PLATE, "P-6")
    assert [one.is_certain for one in notices_about(serial=facts.serial)] == [True]


def test_asking_costs_the_same_however_many_notices_there_are(counted: Any) -> None:
    bare_notice()
    with counted() as few:
        notices_about(device_identifier=PLATE, batch="LOT42A")
    for _ in range(5):
        bare_notice()
    with counted() as many:
        assert len(notices_about(device_identifier=PLATE, batch="LOT42A")) == 6
    assert len(few) == len(many) == 3


def test_a_further_identifier_of_the_same_article_warns_as_near() -> None:
    bare_notice()
    row = part(batch="LOT42A", device_identifier="09506000999999")
    plate = part(batch="LOT9").implant_model
    assert notices_about(device_identifier="09506000999999", batch="LOT42A") == []
    ImplantModel.objects.filter(pk=row.implant_model_id).update(same_as=plate)
    (found,) = notices_about(device_identifier="09506000999999", batch="LOT42A")
    assert found.certainty is Certainty.NEAR
    row.implant_model.refresh_from_db()
    assert other_identifiers(row.implant_model) == (PLATE,)
    assert other_identifiers(plate) == ("09506000999999",)
