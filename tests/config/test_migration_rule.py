"""A migration that lands only adds, so that the version before it goes on working on its tables."""

from collections.abc import Iterator

import pytest
from django.db import migrations, models
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.operations.base import Operation

from registry.migrations._many_tables import CreateModels

# What was there before the first version that anybody can have installed.
BEFORE = {"registry": "0020", "followup": "0041", "analytics": "0009"}
TAKES_AWAY = (
    migrations.RemoveField,
    migrations.DeleteModel,
    migrations.RenameField,
    migrations.RenameModel,
    migrations.AlterModelTable,
)
# What may ask more of a row than the version before gives it. Which of them is harmless stands here, and why.
STRICTER = (
    migrations.AlterField,
    migrations.AddConstraint,
    migrations.AlterUniqueTogether,
    migrations.RunSQL,
)
HARMLESS: dict[str, str] = {}


def faults(operations: list[Operation]) -> Iterator[str]:
    """Say which operations the code of the version before could not live with."""
    made = {each.name.lower() for each in operations if isinstance(each, migrations.CreateModel)}
    for each in operations:
        if isinstance(each, TAKES_AWAY):
            yield f"{each.describe()}: do it one version after the last code that used it"
        elif isinstance(each, migrations.AddField) and each.model_name.lower() not in made:
            many = isinstance(each.field, models.ManyToManyField)
            if not (many or each.field.null or each.field.has_db_default() or _worked_out(each)):
                yield f"{each.describe()}: give it a db_default, for rows of the version before"
        elif (
            isinstance(each, STRICTER) and _of(each) not in made and each.describe() not in HARMLESS
        ):
            yield f"{each.describe()}: say in HARMLESS why the version before can live with it"


def _of(step: Operation) -> str:
    return str(getattr(step, "model_name", getattr(step, "name", ""))).lower()


def _worked_out(step: migrations.AddField) -> bool:
    return isinstance(step.field, models.GeneratedField)


def test_every_migration_since_the_first_version_only_adds() -> None:
    found = MigrationLoader(None, ignore_no_migrations=True).disk_migrations
    late = {
        key: migration
        for key, migration in found.items()
        if key[0] in BEFORE and key[1][:4] > BEFORE[key[0]]
    }
    told = [f"{key}: {fault}" for key, one in late.items() for fault in faults(one.operations)]
    assert told == []


TEXT = models.CharField(max_length=5)


@pytest.mark.parametrize(
    ("step", "named"),
    [
        (migrations.RemoveField("patient", "name"), "Remove field name"),
        (migrations.RenameField("patient", "name", "called"), "Rename field name"),
        (migrations.DeleteModel("patient"), "Delete model patient"),
        (migrations.AddField("patient", "word", TEXT), "give it a db_default"),
        (migrations.AlterField("patient", "word", TEXT), "say in HARMLESS"),
        (
            migrations.AddConstraint(
                "patient", models.CheckConstraint(condition=models.Q(word="x"), name="x")
            ),
            "say in HARMLESS",
        ),
        (migrations.RunSQL("DELETE FROM registry_patient"), "say in HARMLESS"),
    ],
)
def test_what_takes_away_or_asks_for_more_is_found(step: Operation, named: str) -> None:
    assert named in " ".join(faults([step]))


def test_what_adds_is_let_through() -> None:
    key = ("id", models.BigAutoField(primary_key=True))
    steps = [
        migrations.CreateModel("word", [key]),
        migrations.AddField("word", "text", TEXT),
        migrations.AlterField("word", "text", models.CharField(max_length=9)),
        migrations.AddField("patient", "word", models.CharField(max_length=5, db_default="")),
        migrations.AddField("patient", "count", models.IntegerField(null=True)),
    ]
    assert list(faults(steps)) == []
    assert list(faults([CreateModels(models=[migrations.CreateModel("other", [key])])])) == []
