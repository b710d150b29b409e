from datetime import date, datetime, timedelta

import pytest

from registry.models import JobRun
from registry.services import jobs
from registry.tasks.jobs import forget, job
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def test_work_becomes_a_recorded_run_by_the_clock_of_its_moment() -> None:
    seen: list[tuple[datetime, date]] = []

    @job("look")
    def look(now: datetime, today: date) -> dict[str, int]:
        """Look."""
        seen.append((now, today))
        return {"seen": 1}

    assert look() == {"job": "look", "outcome": "good", "said": "1 seen."}
    run = JobRun.objects.get(job="look")
    assert [(run.started_at, run.for_day)] == seen
    assert (look.__name__, look.__doc__) == ("look", "Look.")


def test_the_task_forgets_old_runs_and_twice_equals_once() -> None:
    for days in (50, 45):
        jobs.run_job("sweep", lambda: None, now=NOW - timedelta(days=days))
    assert forget()["said"] == "1 old runs forgotten."
    assert forget()["said"] == "0 old runs forgotten."
