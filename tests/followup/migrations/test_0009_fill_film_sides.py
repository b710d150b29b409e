"""Steps that asked for 'the other side as well' say so of each view."""

import importlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

import pytest

MIGRATION = importlib.import_module("followup.migrations.0009_fill_film_sides")


@dataclass
class OldStep:
    """A step as it was while both columns were there."""

    film_views: list[str]
    other_side_film: bool
    film_sides: dict[str, str] = field(default_factory=dict)
    saved: list[str] = field(default_factory=list)

    def save(self, update_fields: list[str]) -> None:
        self.saved += update_fields


@dataclass
class OldRows:
    """What of the models of that time the migration asks."""

    rows: list[OldStep]

    @property
    def objects(self) -> "OldRows":
        return self

    def get_model(self, *named: str) -> "OldRows":
        assert named == ("followup", "ProtocolStep")
        return self

    def exclude(self, **without: Any) -> "OldRows":
        return OldRows([row for row in self.rows if row.film_views != without["film_views"]])

    def iterator(self) -> Iterator[OldStep]:
        return iter(self.rows)


@pytest.mark.parametrize(
    ("views", "other", "sides"),
    [
        (["zanca", "ap"], True, {"zanca": "both", "ap": "both"}),
        (["zanca"], False, {"zanca": "injured"}),
        ([], False, {}),
    ],
)
def test_sides_are_filled_and_go_back(
    views: list[str], sides: dict[str, str], *, other: bool
) -> None:
    step = OldStep(views, other)
    MIGRATION.fill(OldRows([step]), None)
    assert step.film_sides == sides
    step.other_side_film = not other and bool(views)
    MIGRATION.empty(OldRows([step]), None)
    assert step.other_side_film is other
    assert step.saved == (["film_sides", "other_side_film"] if views else [])
