"""What is known of labels that are not saved yet."""

from datetime import date

import pytest

from registry.models import ImplantModel, Person
from registry.rules import udi
from registry.rules.part_warnings import Warned
from registry.selectors.implant_models import NOT_DESCRIBED
from registry.selectors.scanned import Chosen, Seen, seen
from tests import builders
from tests.implanted import PLATE

pytestmark = pytest.mark.django_db


def known_of(somebody: Person, text: str, **chosen: object) -> Seen:
    label = udi.read(text, today=builders.TODAY)
    return seen(somebody, builders.procedure(), [Chosen(label, **chosen)])[0]  # type: ignore[arg-type]


def test_an_article_is_known_or_waits_for_words(surgeon: Person) -> None:
    unknown = known_of(surgeon, f"(01){PLATE}(10)B7")
    assert unknown.model is None
    assert unknown.needs_words
    model = ImplantModel.objects.create(
        kind="other", description=NOT_DESCRIBED, device_identifier=PLATE, is_draft=True
    )
    assert known_of(surgeon, f"(01){PLATE}(10)B7").needs_words
    model.description = "lateral plate"
    model.save()
    assert not known_of(surgeon, f"(01){PLATE}(10)B7").needs_words


def test_the_day_of_the_operation_is_what_counts(surgeon: Person) -> None:
    assert builders.procedure().performed_on == date(2026, 6, 5)
    codes = [one.code for one in known_of(surgeon, f"(01){PLATE}(17)260604(10)B7").warnings]
    assert codes == [Warned.EXPIRED]
    assert known_of(surgeon, f"(01){PLATE}(17)260605(10)B7").warnings == ()


def test_what_is_typed_beside_a_label_counts(surgeon: Person) -> None:
    text = f"(01){PLATE}"
    assert [one.code for one in known_of(surgeon, text).warnings] == [Warned.NO_BATCH]
    assert known_of(surgeon, text, batch="B7").warnings == ()
    assert known_of(surgeon, text, batch_not_obtainable=True).warnings == ()


def test_an_empty_list_asks_nothing(surgeon: Person) -> None:
    assert seen(surgeon, builders.procedure(), []) == []
