"""A year of a small service, day by day: nobody is lost."""

from datetime import date

import pytest

from config.rehearsal import year
from config.rehearsal.year import Report
from followup.models import Appointment, HardwareDecision, Message, Review
from registry.errors import BadInput
from registry.models import JobRun, Patient
from tests import builders

PATIENTS, SEED, START = 8, 1, date(2025, 1, 1)


# The services that it goes through are tested on both; a year is long.
@pytest.mark.either_engine
@pytest.mark.usefixtures("defaults")
def test_in_a_year_nobody_is_lost() -> None:
    report = year.rehearse(patients=PATIENTS, seed=SEED, start=START)
    assert report.days == report.days_that_balanced == year.DAYS
    assert report.nights_missed >= year.DOWN_NIGHTS
    assert report.jobs_made_up > 0
    assert report.changed_by_a_second_run == 0
    assert report.unexplained == report.without_question == 0
    assert report.wrong_with_post == []
    assert report.waiting_over_a_day == 0
    assert {"died", "moved", "withdrawn", "came back", "revised"} <= set(report.events)
    _everything_happened(report)


def _everything_happened(report: Report) -> None:
    ways = {words: many for what, words, many in report.table if what == "reviews"}
    assert sum(ways.values()) == Review.objects.count()
    for way in ("done in window", "done outside it", "lapsed", "open", "closed by death"):
        assert ways[way] > 0, way
    assert Patient.objects.count() == PATIENTS
    assert report.letters == Message.objects.filter(state="sent", means="email").count() > 0
    assert Appointment.objects.filter(state="missed").exists()
    assert set(HardwareDecision.objects.values_list("state", flat=True)) >= {"done", "raised"}
    assert not JobRun.objects.exclude(outcome="good").exists()


@pytest.mark.usefixtures("defaults")
def test_a_service_that_holds_anything_is_left_alone() -> None:
    builders.site()
    with pytest.raises(BadInput, match="in an empty one only"):
        year.rehearse(patients=1, seed=1, start=START)


def test_a_year_is_good_only_where_nothing_is_left_over() -> None:
    assert Report(days=2, days_that_balanced=2).is_good
    for left in ("unexplained", "without_question", "waiting_over_a_day"):
        assert not Report(days=2, days_that_balanced=2, **{left: 1}).is_good
    assert not Report(days=2, days_that_balanced=1).is_good
