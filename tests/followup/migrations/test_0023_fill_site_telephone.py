"""A site keeps the number of its questionnaires and of its messages, and gives them back."""

import importlib
from typing import Any

import pytest
from django.apps import apps

from registry.models import Site
from tests import builders

MIGRATION = importlib.import_module("followup.migrations.0023_fill_site_telephone")

pytestmark = pytest.mark.django_db


class Numbers:
    """What the migration asks of the two tables as they were, with the numbers in them."""

    def __init__(self, field: str, numbers: dict[int, str]) -> None:
        self.field, self.numbers = field, numbers

    @property
    def objects(self) -> "Numbers":
        return self

    def values_list(self, *fields: str) -> list[tuple[int, str]]:
        assert fields == ("site_id", self.field)
        return list(self.numbers.items())

    def filter(self, *, site_id: int) -> "Numbers":
        self.asked = site_id
        return self

    def update(self, **values: str) -> None:
        assert set(values) == {self.field}
        if self.asked in self.numbers:
            self.numbers[self.asked] = values[self.field]


class Then:
    """The models as they were."""

    def __init__(self, site_id: int, asked: str | None, written: str | None) -> None:
        self.tables = {
            "QuestionnaireSetup": Numbers("telephone", {} if asked is None else {site_id: asked}),
            "MessagePolicy": Numbers("phone", {} if written is None else {site_id: written}),
        }

    def get_model(self, app: str, name: str) -> Any:
        return self.tables[name] if app == "followup" else apps.get_model(app, name)


@pytest.mark.parametrize(
    ("asked", "written", "kept"),
    [
        ("0555 1", None, "0555 1"),
        (None, "0555 2", "0555 2"),
        ("", "0555 2", "0555 2"),
        ("0555 1", "0555 1 ", "0555 1"),
        ("0555 1", "0555 2", "0555 1 / 0555 2"),
        ("", "", ""),
        (None, None, ""),
    ],
)
def test_a_number_is_kept_and_both_where_they_differ(
    asked: str | None, written: str | None, kept: str
) -> None:
    site = builders.site()
    MIGRATION.fill(Then(site.pk, asked, written), None)
    assert Site.objects.get().telephone == kept


def test_the_numbers_go_back_to_where_they_came_from() -> None:
    site = builders.site(telephone="0555 1 / 0555 2")
    then = Then(site.pk, "", "")
    MIGRATION.empty(then, None)
    assert then.tables["QuestionnaireSetup"].numbers == {site.pk: "0555 1"}
    assert then.tables["MessagePolicy"].numbers == {site.pk: "0555 2"}
