"""The invented service shows a safety notice with people in different states."""

import pytest

from config.demo.load import Wanted, load
from followup.models import Task
from registry.models import NoticeCarrier, SafetyNotice
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_one_notice_has_carriers_reached_near_and_not_to_be_excluded() -> None:
    load(Wanted(), now=NOW, today=TODAY, whole=True)
    notice = SafetyNotice.objects.get()
    assert "Invented" in notice.advice
    rows = NoticeCarrier.objects.filter(notice=notice)
    assert {"to_reach", "reached", "reviewed", "unreachable", "declined"} <= set(
        rows.values_list("state", flat=True)
    )
    assert {"certain", "near", "not_excluded"} == set(rows.values_list("sureness", flat=True))
    assert Task.objects.filter(kind="safety_notice", done_at__isnull=True).exists()


def test_a_demo_that_is_very_small_has_a_notice_or_none() -> None:
    load(Wanted(procedures=4), now=NOW, today=TODAY, whole=True)
    assert SafetyNotice.objects.count() <= 1
