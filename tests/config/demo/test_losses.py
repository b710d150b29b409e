"""The invented service shows what a surgeon is told."""

import pytest

from analytics.models import CaseToWeigh, LossAlert
from config.demo.load import Wanted, load
from followup.models import Task
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_two_or_three_wait_for_the_surgeon_of_the_demo_and_one_has_a_plan() -> None:
    load(Wanted(), now=NOW, today=TODAY, whole=True)
    waiting = LossAlert.objects.filter(state="open")
    assert 2 <= waiting.count() <= 3
    assert set(waiting.values_list("level", flat=True)) == {"lost", "near"}
    assert waiting.filter(surgeon__username="surgeon").exists()
    planned = LossAlert.objects.get(state="planned")
    assert Task.objects.get(key=f"loss:{planned.pk}").done_at is None
    assert not CaseToWeigh.objects.exists()


def test_a_demo_that_is_very_small_warns_of_what_there_is() -> None:
    load(Wanted(procedures=8), now=NOW, today=TODAY, whole=True)
    assert LossAlert.objects.count() <= 4
