"""The invented service watches itself, and shows what becomes of a signal."""

import pytest

from analytics.models import ChartDesign, MonitoringPolicy, Signal, SignalStep
from analytics.rules.signals import SUBJECTS
from analytics.services import charts
from config.demo.load import Wanted, load
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_demo_has_charts_a_signal_that_waits_and_one_with_its_whole_history() -> None:
    load(Wanted(), now=NOW, today=TODAY, whole=True)
    assert MonitoringPolicy.objects.filter(surgeons=True, charts=True).count() == 2
    assert ChartDesign.objects.count() == 6
    assert all(design.cases.count() > 10 for design in ChartDesign.objects.all())
    closed = Signal.objects.filter(state="closed")
    waiting = Signal.objects.exclude(state="closed")
    assert closed.exists()
    assert waiting.exists()
    assert waiting.earliest("due_on").due_on < TODAY
    for signal in closed:
        kinds = list(SignalStep.objects.filter(signal=signal).values_list("kind", flat=True))
        assert kinds == ["raised", *["check"] * 3, "review", "finding", "action", "closed"]
        assert set(signal.checks.values_list("subject", flat=True)) == set(SUBJECTS)
    # What the next night would find has been found.
    again = charts.watch(now=NOW, today=TODAY)
    assert (again["cases taken in"], again["signals raised"]) == (0, 0)


def test_a_demo_that_is_too_small_for_a_baseline_has_no_chart() -> None:
    load(Wanted(procedures=60), now=NOW, today=TODAY, whole=True)
    assert not ChartDesign.objects.exists()
    assert not Signal.objects.exists()
