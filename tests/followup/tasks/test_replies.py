from datetime import timedelta
from typing import Any

import pytest

from followup.models import Reply
from followup.tasks.replies import forget
from registry.services import retention
from tests import builders
from tests.builders import NOW
from tests.followup.services.test_retention import answer

pytestmark = pytest.mark.django_db


def test_the_night_blanks_what_is_past_its_time_and_says_how_many(time_machine: Any) -> None:
    retention.set_rule(
        site=builders.site("north"),
        kind="replies",
        keep=30,
        least=None,
        basis="our policy",
        expected_version=0,
        by=builders.person("ada", north="administrator"),
        now=NOW,
    )
    answer("1", 29)
    time_machine.move_to(NOW)
    assert forget()["said"] == "0 answers blanked."
    time_machine.move_to(NOW + timedelta(days=2))
    assert forget()["said"] == "1 answers blanked."
    assert Reply.objects.get().text == ""
