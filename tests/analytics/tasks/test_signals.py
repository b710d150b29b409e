import pytest

from analytics.models import ChartCase, Signal
from analytics.tasks.signals import watch
from registry.models import JobRun
from tests import builders
from tests.analytics import monitored
from tests.analytics.records import lost
from tests.builders import NOW

pytestmark = [pytest.mark.usefixtures("defaults")]


def test_the_nightly_watch_is_a_recorded_job_and_twice_equals_once(time_machine: object) -> None:
    time_machine.move_to(NOW)  # type: ignore[attr-defined]
    monitored.design(builders.site(), run_length=20)
    for _ in range(4):
        lost()
    assert watch()["outcome"] == "good"
    signals, cases = Signal.objects.count(), ChartCase.objects.count()
    assert signals >= 1
    assert cases == 4
    assert watch()["outcome"] == "good"
    assert (Signal.objects.count(), ChartCase.objects.count()) == (signals, cases)
    assert JobRun.objects.filter(job="watch_charts", outcome="good").count() == 2
