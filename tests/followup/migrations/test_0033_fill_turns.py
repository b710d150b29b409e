"""Readings that were there before their turns were kept."""

import importlib
from types import SimpleNamespace

import pytest

from followup.models import Reading
from registry.models import Person
from registry.services import records
from tests.builders import NOW
from tests.followup.twice import film, read, readers

pytestmark = pytest.mark.usefixtures("defaults")

fill = importlib.import_module("followup.migrations.0033_fill_turns").fill


def test_each_reader_of_a_film_gets_a_turn_and_corrections_keep_it(coordinator: Person) -> None:
    one, two, three = readers()
    several, alone = film(), film()
    for who in (one, three, one, two):
        read(several, who)
    read(alone, two)
    wrong = read(alone, one)
    records.void(wrong, by=coordinator, now=NOW, expected_version=1, reason="another film")
    Reading.everything.update(turn=1)
    model = SimpleNamespace(objects=Reading.everything)
    fill(SimpleNamespace(get_model=lambda app, name: model), None)
    rows = Reading.everything.filter(film=several).order_by("id").values_list("reader", "turn")
    assert list(rows) == [(one.pk, 1), (three.pk, 2), (one.pk, 1), (two.pk, 3)]
    assert list(Reading.everything.filter(film=alone).values_list("turn", flat=True)) == [1, 1]
