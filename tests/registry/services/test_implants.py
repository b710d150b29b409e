"""The parts of a construct."""

from typing import Any

import pytest

from registry.errors import BadInput
from registry.models import Construct, ImplantModel, Part
from registry.services.implants import PartGiven, add_part
from tests import builders
from tests.builders import NOW

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
