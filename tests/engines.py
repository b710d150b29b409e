"""Which tests prove something new on the second database: those that ask one, or need its servers."""

from collections.abc import Collection

import pytest

# What a test has among its fixtures that asks the database, however it came to it.
ASKING = {"db", "transactional_db", "live_server", "django_db_setup"}
# What is started for the second run alone.
SERVED = {"needs_postgres", "needs_redis", "browser"}


def is_same_on_either(fixtures: Collection[str], markers: Collection[str]) -> bool:
    """Say whether a test is the same whichever database is set: then it runs with the first alone."""
    return not (ASKING & set(fixtures) or ({"django_db"} | SERVED) & set(markers))


def mark(items: Collection[pytest.Item]) -> None:
    """Mark what is the same on either engine, so that the second run can leave it out."""
    for item in items:
        markers = {one.name for one in item.iter_markers()}
        if is_same_on_either(getattr(item, "fixturenames", ()), markers):
            item.add_marker("either_engine")
