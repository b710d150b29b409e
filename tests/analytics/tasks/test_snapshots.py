import pytest
import time_machine
from django.core.management import call_command

from analytics.models import Snapshot
from analytics.tasks.snapshots import refresh
from registry.models import Procedure
from tests import builders

pytestmark = pytest.mark.usefixtures("defaults")


@time_machine.travel(builders.NOW, tick=False)
def test_the_task_takes_a_snapshot_once_and_again_after_a_change() -> None:
    builders.procedure()
    refresh()
    refresh()
    first = Snapshot.objects.get()
    assert first.row_counts["cases"] == Procedure.objects.count() == 1
    builders.procedure()
    refresh()
    assert Snapshot.objects.first() != first


def test_the_command_says_which_snapshot_stands(capsys: pytest.CaptureFixture[str]) -> None:
    builders.procedure()
    call_command("refresh_snapshot")
    stands = Snapshot.objects.get()
    assert capsys.readouterr().out == (
        f"1 cases in snapshot {stands.content_hash[:12]}, data up to {stands.cutoff}.\n"
    )
