"""The named cast, the shipped defaults, and the one way to count queries."""

import logging
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import count
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from hypothesis import HealthCheck
from hypothesis import settings as hypothesis_settings

from registry.models import Person
from registry.services import triggers
from tests import builders, damage, engines, log_watch

# How long an example takes says how busy the machine is, and nothing of what is tested. The same
# examples each time, so that a failure is of the change at hand; HOLDFAST_EXPLORE=yes draws new ones.
hypothesis_settings.register_profile(
    "holdfast",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=os.environ.get("HOLDFAST_EXPLORE") != "yes",
)
hypothesis_settings.load_profile("holdfast")
_trails = count(1)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark before anything is chosen by its marks."""
    engines.mark(items)


class NamesFailures:
    """Says which test failed as soon as it did: a run that is cut short has named it."""

    def __init__(self, config: pytest.Config) -> None:
        self.config = config

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        terminal: Any = self.config.pluginmanager.get_plugin("terminalreporter")
        if report.failed and terminal is not None and not terminal.verbosity > 0:
            terminal.ensure_newline()
            terminal.write_line(
                f"failed in {report.duration:.0f} s: {report.nodeid} ({report.when})"
            )


def pytest_configure(config: pytest.Config) -> None:
    # Workers hand their reports to the process that started them.
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(NamesFailures(config))


@pytest.fixture(scope="session")
def watched_log() -> Iterator[log_watch.Watch]:
    """Read along in the log, of our own rooms more closely than production writes it."""
    watch = log_watch.Watch()
    logging.getLogger().addHandler(watch)
    before = {name: logging.getLogger(name).level for name in log_watch.CLOSER}
    for name in log_watch.CLOSER:
        logging.getLogger(name).setLevel(logging.INFO)
    yield watch
    for name, level in before.items():
        logging.getLogger(name).setLevel(level)
    logging.getLogger().removeHandler(watch)


@pytest.fixture(autouse=True)
def no_log_names_anybody(watched_log: log_watch.Watch) -> Iterator[None]:
    """Fail the test whose log names an invented patient."""
    watched_log.taken()
    yield
    assert not watched_log.taken()


@pytest.fixture(autouse=True)
def quick_passwords(settings: Any) -> None:
    """Hash fast: the strength of passwords is not what most tests are about."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]


@pytest.fixture(autouse=True)
def own_anchors(settings: Any) -> None:
    """Write down how far a trail goes for the trail of one test: the next has another."""
    settings.TRAIL_ANCHORS = f"{settings.TRAIL_ANCHORS}.{next(_trails)}"


@pytest.fixture(autouse=True)
def trail_lets_tests_start_empty(request: pytest.FixtureRequest) -> Iterator[None]:
    """Lift the triggers where a test's rows are flushed away: the trail refuses all deletion."""
    marker = request.node.get_closest_marker("django_db")
    flushed = {"transactional_db", "live_server"} & set(request.fixturenames) or (
        marker is not None and marker.kwargs.get("transaction")
    )
    if flushed:
        # Asked for here so that what follows happens before its rows are flushed.
        request.getfixturevalue("transactional_db")
    yield
    if flushed:
        triggers.remove_before_remake(connection)


@pytest.fixture(scope="session")
def django_db_setup(django_db_setup: None, django_db_blocker: Any) -> Iterator[None]:
    """End what a browser's last request may have left open: a database in use is not dropped."""
    yield
    with django_db_blocker.unblock():
        if connection.vendor == "postgresql":
            with connection.cursor() as cursor:
                cursor.execute(
                    "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                    "WHERE datname = current_database() AND pid <> pg_backend_pid()"
                )


@pytest.fixture(scope="module")
def recorded(django_db_setup: None, django_db_blocker: Any) -> Iterator[dict[str, Any]]:
    """Record one of each thing at a site, for tests that damage rows one at a time."""
    yield from damage.record(django_db_blocker)


@pytest.fixture
def damaging(recorded: dict[str, Any], db: None) -> Iterator[dict[str, Any]]:
    """Let one test damage what is recorded; it is whole again for the next."""
    with damage.taken_back():
        yield recorded


@pytest.fixture
def defaults(db: None) -> None:
    """Load the shipped construct types and protocols."""
    builders.load_defaults()


@pytest.fixture
def coordinator(db: None) -> Person:
    return builders.person("connie", north="coordinator")


@pytest.fixture
def surgeon(db: None) -> Person:
    return builders.person("selma", north="surgeon")


@pytest.fixture
def film_reader(db: None) -> Person:
    return builders.person("fred", north="film_reader")


@pytest.fixture
def quality_lead(db: None) -> Person:
    return builders.person("quentin", north="quality_lead")


@pytest.fixture
def administrator(db: None) -> Person:
    return builders.person("ada", north="administrator")


@pytest.fixture
def outsider(db: None) -> Person:
    """Somebody with every role, at another site."""
    return builders.person(
        "otto", south="coordinator+surgeon+film_reader+quality_lead+administrator"
    )


@pytest.fixture
def counted() -> Callable[[], Any]:
    """Return a context that counts queries: `with counted() as queries: ...; len(queries)`."""

    @contextmanager
    def counting() -> Iterator[CaptureQueriesContext]:
        with CaptureQueriesContext(connection) as queries:
            yield queries

    return counting
