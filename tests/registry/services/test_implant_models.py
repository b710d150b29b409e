"""The list of articles: drafts are confirmed or joined, and constructs are looked at again."""

from typing import Any

import pytest

from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, ImplantModel, NoticeCarrier, Part, Person
from registry.selectors.implant_models import NOT_DESCRIBED
from registry.services.implant_models import describe_draft, join_model, save_implant_model
from registry.services.implants import LabelGiven, PartGiven, add_part, part_of
from tests import builders
from tests.builders import NOW, TODAY
from tests.implanted import PLATE, SCREW, bare_notice

pytestmark = pytest.mark.django_db


def values(**changes: Any) -> dict[str, Any]:
    return {
        "kind": "screw",
        "description": "locking screw 2.3 mm",
        "device_identifier": SCREW,
        "catalogue_number": "S-23",
        "plate_holes": None,
        "screw_diameter_mm": "2.3",
        "is_active": True,
        **changes,
    }


def save(row: ImplantModel, by: Person, version: int = 1, **changes: Any) -> ImplantModel:
    return save_implant_model(
        row=row, values=values(**changes), expected_version=version, by=by, now=NOW
    )


def scanned(**construct: Any) -> Part:
    """Return a part of four pieces of an article that nobody has described."""
    built = builders.procedure(construct=construct).construct
    given = part_of(LabelGiven(f"(01){SCREW}(10)B7", quantity=4), TODAY)
    return add_part(construct=built, given=given, by=built.recorded_by, now=NOW)


def test_an_article_is_added_with_its_number_as_labels_have_it(administrator: Person) -> None:
    row = save(ImplantModel(), administrator, device_identifier="9506000134369")
    assert (row.device_identifier, row.is_draft, row.version) == (SCREW, False, 1)
    assert AuditEntry.objects.filter(table="registry_implantmodel").exists()
    with pytest.raises(BadInput, match="is listed already, as 'locking screw"):
        save(ImplantModel(), administrator, description="another")
    with pytest.raises(BadInput, match="check digit"):
        save(ImplantModel(), administrator, device_identifier="09506000134368")


def test_a_draft_that_is_described_moves_the_checks_of_its_constructs(
    administrator: Person,
) -> None:
    part = scanned(lateral_screws_locking="yes", lateral_screw_diameter_mm="2.3")
    assert part.implant_model.description == NOT_DESCRIBED
    assert not part.construct.departures.exists()
    row = save(part.implant_model, administrator)
    assert not row.is_draft
    departure = part.construct.departures.get(voided_at=None)
    assert departure.found == "4 lateral screws"


def test_somebody_who_was_quicker_is_not_written_over(administrator: Person) -> None:
    row = save(ImplantModel(), administrator)
    save(row, administrator, description="first")
    with pytest.raises(StaleVersion):
        save(row, administrator, version=1, description="second")
    row.refresh_from_db()
    assert (row.description, row.version) == ("first", 2)


def test_a_second_number_of_an_article_keeps_its_row_and_takes_the_words(
    administrator: Person,
) -> None:
    known = save(ImplantModel(), administrator, device_identifier=PLATE)
    part = scanned(lateral_screws_locking="yes", lateral_screw_diameter_mm="2.3")
    draft = part.implant_model
    join_model(draft=draft, known=known, expected_version=1, by=administrator, now=NOW)
    part.refresh_from_db()
    assert part.implant_model_id == draft.pk
    draft.refresh_from_db()
    assert (draft.device_identifier, draft.description) == (SCREW, "locking screw 2.3 mm")
    assert (draft.same_as, draft.is_draft, draft.catalogue_number) == (known, False, "S-23")
    assert part.construct.departures.get(voided_at=None).found == "4 lateral screws"


def test_what_cannot_be_one_is_not_joined(administrator: Person) -> None:
    known = save(ImplantModel(), administrator, device_identifier=PLATE)
    draft = scanned().implant_model
    given = PartGiven(device_identifier="A999PLATE1230", batch="B")
    built = builders.procedure().construct
    other = add_part(construct=built, given=given, by=built.recorded_by, now=NOW).implant_model
    for one, to, words in (
        (draft, other, "is a draft itself"),
        (draft, draft, "is a draft itself"),
        (known, known, "is listed already"),
    ):
        with pytest.raises(BadInput, match=words):
            join_model(draft=one, known=to, expected_version=1, by=administrator, now=NOW)
    with pytest.raises(StaleVersion):
        join_model(draft=draft, known=known, expected_version=9, by=administrator, now=NOW)


def test_a_catalogue_number_that_comes_later_is_held_against_the_notices(
    administrator: Person,
) -> None:
    bare_notice({"catalogue_number": "S-23"})
    part = scanned()
    assert not NoticeCarrier.objects.exists()
    save(part.implant_model, administrator)
    assert NoticeCarrier.objects.get().procedure == part.construct.procedure


def test_a_draft_is_described_once_and_its_constructs_are_looked_at_again(
    administrator: Person,
) -> None:
    bare_notice({"catalogue_number": "S-23"})
    part = scanned(lateral_screws_locking="yes", lateral_screw_diameter_mm="2.3")
    draft = ImplantModel.objects.get(pk=part.implant_model_id)
    words = {"kind": "screw", "description": "screw 2.3 mm", "catalogue_number": "S-23"}
    found = describe_draft(draft=draft, **words, by=administrator, now=NOW)
    assert (found.is_draft, found.version) == (True, 2)
    assert NoticeCarrier.objects.get().procedure == part.construct.procedure
    # Somebody who opened it before is too late, and nothing of theirs is written.
    late = describe_draft(
        draft=part.implant_model, **{**words, "description": "other"}, by=administrator, now=NOW
    )
    assert late.description == "screw 2.3 mm"
