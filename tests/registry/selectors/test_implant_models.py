"""Articles by what stands on a label or what somebody remembers of them."""

from collections.abc import Callable
from typing import Any

import pytest

from registry.models import ImplantModel, Person
from registry.selectors import implant_models
from registry.services.implants import PartGiven, add_part
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
GTIN = "09506000134352"


def article(**values: Any) -> ImplantModel:
    given = {"kind": "plate", "description": "lateral plate, 7 holes", **values}
    return ImplantModel.objects.create(**given)


def test_an_article_that_is_no_draft_comes_first() -> None:
    article(description="", device_identifier=GTIN, is_draft=True)
    known = article(device_identifier=GTIN)
    assert implant_models.by_identifier(GTIN) == known
    assert implant_models.by_identifier("") is None
    assert implant_models.by_identifiers([GTIN, "A999PLATE1230", ""]) == {GTIN: known}


@pytest.mark.parametrize(
    "text", ["9506000134352", "095060", "PL-7", "pl-7", "lateral", "holes lateral", ""]
)
def test_an_article_is_found_by_any_of_its_words(text: str) -> None:
    known = article(device_identifier=GTIN, catalogue_number="PL-7")
    article(kind="screw", description="screw" if text else "lateral screw")
    assert known in implant_models.found_by(text)
    assert text == "" or implant_models.found_by(text).count() == 1


def test_drafts_stand_first_and_can_be_listed_alone() -> None:
    article()
    draft = article(description="?", device_identifier=GTIN, is_draft=True)
    assert implant_models.found_by("")[0] == draft
    assert list(implant_models.found_by("", drafts_only=True)) == [draft]
    assert implant_models.count_of_drafts() == 1


def test_uses_are_counted_at_ones_own_sites(
    administrator: Person, counted: Callable[[], Any]
) -> None:
    here = builders.procedure().construct
    there = builders.procedure(builders.injury(builders.patient(builders.site("south")))).construct
    given = PartGiven("plate", "lateral plate, 7 holes", batch="B-1")
    for construct in (here, here, there):
        add_part(construct=construct, given=given, by=construct.recorded_by, now=NOW)
    with counted() as queries:
        rows = list(implant_models.with_uses(administrator, implant_models.found_by("")))
    assert [row.used for row in rows] == [2]
    assert len(queries) <= 2
