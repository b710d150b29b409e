import pytest
import time_machine

from followup.models import Invitation
from followup.tasks.questionnaires import invite
from tests.builders import NOW
from tests.followup.asked import operated


@pytest.mark.usefixtures("defaults")
def test_the_task_invites_once_however_often_it_runs() -> None:
    operated()
    with time_machine.travel(NOW, tick=False):
        invite()
        invite()
    assert Invitation.objects.count() == 1
