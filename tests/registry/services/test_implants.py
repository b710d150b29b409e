"""The parts of a construct, typed and from labels."""

from datetime import date
from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import Construct, ImplantModel, Part
from registry.selectors.implant_models import NOT_DESCRIBED
from registry.services import voiding
from registry.services.implants import (
    LabelGiven,
    PartGiven,
    add_part,
    add_parts,
    part_of,
)
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.django_db


def add(construct: Construct, **changes: Any) -> Part:
    given = PartGiven(**{"kind": "screw", "description": "2.3 mm locking screw", **changes})
    return add_part(construct=construct, given=given, by=construct.recorded_by, now=NOW)


def test_the_same_article_is_listed_once() -> None:
    construct = builders.procedure().construct
    add(construct, batch="B-1")
    add(construct, batch="B-2", description=" 2.3 mm locking screw ")
    assert ImplantModel.objects.count() == 1
    assert set(construct.parts.values_list("batch", flat=True)) == {"B-1", "B-2"}


def test_a_batch_is_given_or_not_obtainable_but_not_both() -> None:
    construct = builders.procedure().construct
    with pytest.raises(BadInput, match="keep one"):
        add(construct, batch="B-1", batch_not_obtainable=True)
    assert add(construct, batch_not_obtainable=True).batch == ""


def test_an_impossible_quantity_is_refused_and_lists_no_article() -> None:
    construct = builders.procedure().construct
    with pytest.raises(BadInput):
        add(construct, quantity=41)
    assert not ImplantModel.objects.exists()


def test_a_kind_of_part_that_nobody_knows_is_refused() -> None:
    with pytest.raises(BadInput) as refusal:
        add(builders.procedure().construct, kind="spring")
    assert "kind" in refusal.value.faults


PLATE = "(01)09506000134352(17)270131(10)LOT42A"
WITHOUT_SEPARATOR = "01095060001343521727013110LOT42A21SN0042"


def part_from(construct: Construct, text: str, **given: Any) -> Part:
    part = part_of(LabelGiven(text, **given), TODAY)
    return add_part(construct=construct, given=part, by=construct.recorded_by, now=NOW)


def test_a_label_becomes_a_part_with_all_that_it_says() -> None:
    part = part_from(
        builders.procedure().construct,
        f"{PLATE}(11)260131(21)SN0042(20)07",
        kind="plate",
        description="lateral plate, 7 holes",
    )
    assert (part.batch, part.serial) == ("LOT42A", "SN0042")
    assert (part.expires_on, part.made_on) == (date(2027, 1, 31), date(2026, 1, 31))
    assert part.other_identifiers == {"20": "07"}
    assert part.raw_identifier == f"{PLATE}(11)260131(21)SN0042(20)07"
    assert part.implant_model.device_identifier == "09506000134352"
    assert part.warnings == []


def test_the_separator_of_a_scan_is_kept_as_it_came() -> None:
    text = "]d201095060001343521727013110LOT42A\x1d21SN0042"
    part = part_from(builders.procedure().construct, text)
    part.refresh_from_db()
    assert part.raw_identifier == text


def test_an_unknown_identifier_becomes_a_draft_that_is_used_at_once_and_only_once() -> None:
    construct = builders.procedure().construct
    first = part_from(construct, PLATE)
    assert first.implant_model.is_draft
    assert first.implant_model.description == NOT_DESCRIBED
    # Whoever scans it next says what it is; it stays a draft until somebody confirms it.
    second = part_from(construct, PLATE, kind="plate", description="lateral plate")
    assert second.implant_model_id == first.implant_model_id
    second.implant_model.refresh_from_db()
    assert second.implant_model.is_draft
    assert second.implant_model.kind == "plate"
    part_from(construct, PLATE, kind="screw", description="something else")
    assert ImplantModel.objects.get().description == "lateral plate"


def test_a_typed_identifier_finds_the_article_of_a_scanned_one() -> None:
    construct = builders.procedure().construct
    scanned = part_from(construct, PLATE, kind="plate", description="lateral plate")
    typed = add(construct, device_identifier="9506000134352", kind="plate", description="a plate")
    assert typed.implant_model_id == scanned.implant_model_id
    with pytest.raises(BadInput, match="check digit is 2"):
        add(construct, device_identifier="9506000134353")


def test_a_label_that_can_be_read_in_two_ways_is_not_saved_unseen() -> None:
    construct = builders.procedure().construct
    with pytest.raises(BadInput) as refusal:
        part_from(construct, WITHOUT_SEPARATOR)
    assert "run together" in refusal.value.faults["sure"]
    assert not Part.objects.exists()
    chosen = part_from(construct, WITHOUT_SEPARATOR, reading=1)
    assert (chosen.batch, chosen.serial) == ("LOT42A", "SN0042")
    plain = part_from(construct, WITHOUT_SEPARATOR, sure=True)
    assert (plain.batch, plain.serial) == ("LOT42A21SN0042", "")
    with pytest.raises(BadInput) as refusal:
        part_from(construct, WITHOUT_SEPARATOR, reading=7)
    assert "no reading number 7" in refusal.value.faults["text"]


def test_a_typed_batch_stands_in_for_one_that_the_label_lacks() -> None:
    construct = builders.procedure().construct
    part = part_from(construct, "(01)09506000134352", batch="LOT9")
    assert part.batch == "LOT9"
    with pytest.raises(BadInput, match="says batch LOT42A"):
        part_from(construct, PLATE, batch="LOT9")


def test_warnings_are_kept_with_the_part_and_never_stop_it() -> None:
    construct = builders.procedure().construct
    part = part_from(
        construct, "(01)09506000134352(17)260131", kept_because="nothing else was there"
    )
    assert [one["code"] for one in part.warnings] == ["expired", "no_batch"]
    assert part.warnings[0]["words"].startswith("Expired on 2026-01-31, 125 days before")
    assert part.kept_because == "nothing else was there"


def test_a_serial_number_of_another_patient_is_warned_of_at_any_site() -> None:
    text = "(01)09506000134352(21)SN0042"
    elsewhere = builders.procedure(builders.injury(builders.patient(builders.site("south"))))
    part_from(elsewhere.construct, text)
    part = part_from(builders.procedure().construct, text)
    assert [one["code"] for one in part.warnings] == ["serial_used"]
    assert part.warnings[0]["words"].endswith("is recorded on another patient.")


def test_several_parts_are_saved_together_or_not_at_all() -> None:
    construct = builders.procedure().construct
    good = part_of(LabelGiven(PLATE), TODAY)
    bad = PartGiven("screw", "2.3 mm locking screw", quantity=41)
    with pytest.raises(BadInput) as refusal:
        add_parts(construct=construct, given=[good, bad], by=construct.recorded_by, now=NOW)
    assert list(refusal.value.faults) == ["part 2"]
    assert not Part.objects.exists()
    assert not ImplantModel.objects.exists()
    both = add_parts(construct=construct, given=[good, good], by=construct.recorded_by, now=NOW)
    assert len(both) == 2


def test_a_serial_number_is_of_one_piece() -> None:
    with pytest.raises(BadInput, match="of one piece"):
        add(builders.procedure().construct, serial="S1", quantity=2)


def test_parts_move_the_checks_where_nothing_was_typed() -> None:
    construct = builders.procedure(
        construct={"lateral_screws_locking": "yes", "lateral_screw_diameter_mm": "2.3"}
    ).construct
    screw = ImplantModel.objects.create(
        kind="screw",
        description="2.3 mm locking screw",
        catalogue_number="S-23",
        screw_diameter_mm="2.3",
    )
    words = {"description": screw.description, "catalogue_number": "S-23"}
    few = add(construct, quantity=4, batch="B-1", **words)
    departure = construct.departures.get(voided_at=None)
    assert (departure.check_id, departure.found) == ("lateral-screws", "4 lateral screws")
    add(construct, quantity=2, batch="B-1", **words)
    assert not construct.departures.filter(voided_at=None).exists()
    voiding.void_row(
        row=few, reason="not used", expected_version=1, by=construct.recorded_by, now=NOW
    )
    assert construct.departures.get(voided_at=None).found == "2 lateral screws"
