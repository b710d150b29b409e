"""A copy of everything at night."""

import pytest

from config.tasks.copies import keep


@pytest.mark.django_db
def test_nothing_is_copied_where_nobody_said_for_whom() -> None:
    done = keep()
    assert done["outcome"] == "good"
    assert "since no folder or no key is set" in done["said"]
