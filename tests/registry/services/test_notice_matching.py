from typing import Any

import pytest

from registry import notices
from registry.models import CarrierStep, ImplantModel, NoticeCarrier, Part
from registry.services import implant_models, notice_matching, records, voiding
from tests import builders
from tests.builders import NOW
from tests.implanted import PLATE, notice, part

pytestmark = pytest.mark.django_db


def carriers() -> list[tuple[int, str, str]]:
    rows = NoticeCarrier.objects.order_by("procedure_id")
    return list(rows.values_list("procedure_id", "sureness", "state"))


def correct(row: Part, **values: Any) -> None:
    records.save(row, values, by=row.recorded_by, now=NOW, expected_version=row.version)


def test_a_part_that_is_entered_later_is_found_in_its_own_transaction() -> None:
    notice()
    row = part(batch="lot 42a")
    assert carriers() == [(row.construct.procedure_id, "certain", "to_reach")]


def test_a_corrected_part_becomes_one_becomes_near_and_is_none_again() -> None:
    notice()
    row = part(batch="LOT9")
    key = row.construct.procedure_id
    assert carriers() == []
    correct(row, batch="LOT42A")
    assert carriers() == [(key, "certain", "to_reach")]
    correct(row, batch="L0T42A")
    assert carriers() == [(key, "near", "undecided")]
    correct(row, batch="LOT42A")
    assert carriers() == [(key, "certain", "to_reach")]
    correct(row, batch="LOT9")
    assert carriers() == []
    kinds = list(CarrierStep.objects.values_list("kind", flat=True))
    assert kinds == ["found", "decide_again", "more_sure"]


def test_what_was_done_about_somebody_stands_when_the_part_is_found_less_surely() -> None:
    notice()
    row = part(batch="LOT42A")
    carrier = NoticeCarrier.objects.get()
    NoticeCarrier.objects.filter(pk=carrier.pk).update(state="reached")
    correct(row, batch="L0T42A")
    assert carriers() == [(row.construct.procedure_id, "near", "reached")]


def test_a_part_that_is_void_takes_its_carrier_along() -> None:
    notice()
    row = part(batch="LOT42A")
    voiding.void_row(
        row=row, reason="another patient's", expected_version=1, by=row.recorded_by, now=NOW
    )
    assert carriers() == []


def test_one_operation_is_one_carrier_as_sure_as_its_surest_part() -> None:
    notice()
    first = part(batch="")
    part(first.construct.procedure, kind="screw", description="locking screw", batch="LOT42A")
    assert carriers() == [(first.construct.procedure_id, "certain", "to_reach")]
    assert "batch LOT42A" in NoticeCarrier.objects.get().because


def test_a_corrected_article_is_held_against_the_notices_when_it_is_announced() -> None:
    notice()
    row = part(batch="LOT42A", device_identifier="")
    assert carriers() == [(row.construct.procedure_id, "near", "undecided")]
    ImplantModel.objects.update(device_identifier=PLATE)
    notices.article_saved.send(
        sender=ImplantModel, article=row.implant_model, by=row.recorded_by, now=NOW
    )
    assert carriers() == [(row.construct.procedure_id, "certain", "to_reach")]


def test_an_article_that_gets_its_number_under_setup_is_found_in_the_same_transaction() -> None:
    notice()
    row = part(batch="LOT42A", device_identifier="")
    article = row.implant_model
    implant_models.save_implant_model(
        row=article,
        values={
            "kind": article.kind,
            "description": article.description,
            "device_identifier": PLATE,
            "catalogue_number": "",
            "plate_holes": None,
            "screw_diameter_mm": None,
            "is_active": True,
        },
        expected_version=article.version,
        by=row.recorded_by,
        now=NOW,
    )
    assert carriers() == [(row.construct.procedure_id, "certain", "to_reach")]


def test_what_was_written_past_the_services_is_found_by_the_sweep_and_once() -> None:
    saved = notice()
    row = part(batch="LOT9")
    Part.objects.filter(pk=row.pk).update(batch="LOT42A")
    at: dict[str, Any] = {"by": row.recorded_by, "now": NOW}
    assert notice_matching.match_all(**at) == 1
    assert notice_matching.match_all(**at) == 0
    assert notice_matching.match_notice(notice=saved, **at) == 0
    assert len(carriers()) == 1


def test_a_part_costs_one_question_while_there_is_no_notice(counted: Any) -> None:
    operation = builders.procedure()
    with counted() as queries:
        notice_matching.match_operations(
            operations=[operation.pk], by=operation.recorded_by, now=NOW
        )
    assert len(queries) == 1


def test_an_article_without_a_notice_matches_nothing() -> None:
    row = part(batch="LOT42A")
    found = notice_matching.match_article(article=row.implant_model, by=row.recorded_by, now=NOW)
    assert found == 0


def test_facts_say_what_the_records_have_of_an_operation() -> None:
    operation = part(batch="LOT42A").construct.procedure
    known = notice_matching.facts([operation.pk])
    assert known == {operation.pk: notice_matching.Known(removed=False, died=False)}


def test_telling_of_nobody_opens_nothing() -> None:
    saved = notice()
    notice_matching.tell(notice=saved, carriers=[], by=saved.owner, now=NOW)
    assert carriers() == []
