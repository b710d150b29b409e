"""An operation of migrations that makes many tables in one step."""

from typing import Any

from django.db.backends.base.schema import BaseDatabaseSchemaEditor
from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation
from django.db.migrations.state import ProjectState


class CreateModels(Operation):
    """Create the tables of these models, which may refer to each other in any order.

    One operation for each would work out all related models anew at every table: a hundred tables then
    take a minute of the processor, and together they take seconds.
    """

    serialization_expand_args = ["models"]

    def __init__(self, models: list[CreateModel]) -> None:
        self.models = models

    def state_forwards(self, app_label: str, state: ProjectState) -> None:
        """Add the models to what is known; classes are made once, when they are first asked for."""
        vars(state).pop("apps", None)
        for model in self.models:
            model.state_forwards(app_label, state)

    def database_forwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Make the tables; keys to other tables are added when all are there."""
        for model in self.models:
            model.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(
        self,
        app_label: str,
        schema_editor: BaseDatabaseSchemaEditor,
        from_state: ProjectState,
        to_state: ProjectState,
    ) -> None:
        """Drop the tables, last first."""
        for model in reversed(self.models):
            model.database_backwards(app_label, schema_editor, from_state, to_state)

    def references_model(self, name: str, app_label: str) -> bool:
        """Say whether one of the models is, or refers to, that one."""
        return any(model.references_model(name, app_label) for model in self.models)

    def describe(self) -> str:
        """Say what is made."""
        return f"Create {len(self.models)} models"

    @property
    def migration_name_fragment(self) -> str:
        """Name the step for a file that is made from it."""
        return "tables"

    def deconstruct(self) -> tuple[str, list[Any], dict[str, Any]]:
        """Return how a file of migrations writes this."""
        return type(self).__name__, [], {"models": self.models}
