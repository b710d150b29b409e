from datetime import timedelta

import pytest

from registry.selectors import jobs as selector
from registry.services import jobs
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db


def test_the_last_runs_of_every_job_come_in_one_query(counted: object) -> None:
    for name in ("a", "b", "c"):
        jobs.run_job(name, lambda: 1, now=NOW)
    with counted() as queries:  # type: ignore[operator]
        found = selector.locks()
        assert {lock.last_run.outcome for lock in found.values()} == {"good"}
    assert (set(found), len(queries)) == ({"a", "b", "c"}, 1)


def test_a_held_job_is_dead_only_when_its_lease_is_over() -> None:
    jobs._begin("a", NOW, alone=True, lease=jobs.LEASE)
    lock = selector.locks()["a"]
    assert selector.is_running(lock)
    assert not selector.is_dead(lock, NOW + jobs.LEASE)
    assert selector.is_dead(lock, NOW + jobs.LEASE + timedelta(seconds=1))


def test_what_waits_for_its_seal_is_counted() -> None:
    builders.site()
    assert selector.unsealed() == 1
