"""What the run on PostgreSQL may leave out: only what cannot come out otherwise there."""

import pytest

from tests.engines import is_same_on_either


@pytest.mark.parametrize(
    ("fixtures", "markers"),
    [
        (["db"], []),
        (["defaults", "db"], ["usefixtures"]),
        (["live_server"], ["browser"]),
        (["request"], ["django_db"]),
        (["tmp_path"], ["needs_redis"]),
        (["django_db_setup", "django_db_blocker"], []),
    ],
)
def test_what_asks_a_database_or_a_server_runs_on_both(
    fixtures: list[str], markers: list[str]
) -> None:
    assert not is_same_on_either(fixtures, markers)


def test_what_asks_neither_runs_once() -> None:
    assert is_same_on_either(["django_db_blocker", "tmp_path", "settings"], ["parametrize"])


@pytest.mark.usefixtures("defaults")
def test_a_test_with_rows_is_not_marked(request: pytest.FixtureRequest) -> None:
    assert request.node.get_closest_marker("either_engine") is None


def test_a_test_without_rows_is_marked(request: pytest.FixtureRequest) -> None:
    assert request.node.get_closest_marker("either_engine") is not None
