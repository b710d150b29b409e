"""What invented patients wrote back stands in each of its places."""

import pytest

from config.demo.load import Wanted, load
from followup.models import Reply, Task
from registry.models.identities import Identity
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_one_ended_messages_one_is_a_task_and_one_waits() -> None:
    load(Wanted(procedures=100), now=NOW, today=TODAY, whole=True)
    fates = dict(Reply.objects.values_list("text", "fate"))
    assert fates == {
        "STOP": "stopped",
        "I have moved, is it still the same clinic?": "task",
        "Who is this?": "waiting",
    }
    stopped = Reply.objects.get(fate="stopped").patients.all()
    for patient in stopped:
        assert "text" in Identity.objects.get(patient=patient).refused_means
    assert Task.objects.filter(key__startswith="reply:").count() >= 1
