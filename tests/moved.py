"""An injury that was moved to another patient, and back."""

from registry.models import Patient, Person
from registry.services import moves
from tests import builders
from tests.builders import NOW, TODAY


def there_and_back(came_from: Patient, to: Patient, by: Person) -> int:
    """Return the move of an injury without an operation, which was undone again."""
    came_from.refresh_from_db()
    one = moves.move_to_patient(
        injury=builders.injury(came_from),
        to=to,
        reason="the other card",
        expected_version=1,
        to_version=to.version,
        by=by,
        now=NOW,
        today=TODAY,
    )
    moves.undo(move=one, by=by, now=NOW, today=TODAY)
    return one.pk
