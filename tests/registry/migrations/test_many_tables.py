import pytest
from django.db import connection, migrations, models
from django.db.migrations.state import ProjectState
from django.db.migrations.writer import OperationWriter

from registry.migrations._many_tables import CreateModels

KEY = ("id", models.BigAutoField(primary_key=True))
# Each refers to the other, so that neither could come first alone.
STEP = CreateModels(
    models=[
        migrations.CreateModel(
            "Clinic",
            [KEY, ("head", models.ForeignKey("tried.Doctor", models.PROTECT, related_name="+"))],
        ),
        migrations.CreateModel(
            "Doctor",
            [KEY, ("clinic", models.ForeignKey("tried.Clinic", models.PROTECT, related_name="+"))],
            options={
                "constraints": [
                    models.UniqueConstraint(fields=["clinic"], name="tried_one_doctor_each")
                ]
            },
        ),
    ]
)


@pytest.mark.django_db(transaction=True)
def test_tables_that_refer_to_each_other_are_made_and_dropped_together() -> None:
    before, after = ProjectState(), ProjectState()
    # Classes that were made before are made again with the new ones.
    assert not list(after.apps.get_models())
    STEP.state_forwards("tried", after)
    assert {model.__name__ for model in after.apps.get_models()} == {"Clinic", "Doctor"}
    with connection.schema_editor() as editor:
        STEP.database_forwards("tried", editor, before, after)
    try:
        doctor = after.apps.get_model("tried", "Doctor")
        assert doctor.objects.count() == 0
        with connection.cursor() as cursor:
            found = connection.introspection.get_constraints(cursor, "tried_doctor")
        assert found["tried_one_doctor_each"]["unique"]
        assert ("tried_clinic", "id") in [each["foreign_key"] for each in found.values()]
    finally:
        with connection.schema_editor() as editor:
            STEP.database_backwards("tried", editor, after, before)
    assert not {"tried_clinic", "tried_doctor"} & set(connection.introspection.table_names())


def test_the_operation_is_written_to_a_file_and_tells_what_it_does() -> None:
    written, needed = OperationWriter(STEP, indentation=0).serialize()
    assert "CreateModels(" in written
    assert "name='Clinic'" in written
    assert "import registry.migrations._many_tables" in needed
    assert STEP.describe() == "Create 2 models"
    assert STEP.references_model("Clinic", "tried")
