"""The invented meetings: some actions are done, one was dropped, and two are open, one overdue."""

from collections import Counter

import pytest

from analytics.models import Meeting, MeetingDecision, Pack
from analytics.rules.figure_addresses import is_figure
from analytics.simulation import setting
from config.demo import meetings
from config.demo.staff import open_service
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_meetings_decisions_and_a_pack_are_there_to_be_looked_at() -> None:
    staff = open_service(setting.DEMO_SITES, years=setting.DEMO_YEARS, now=NOW, today=TODAY)
    meetings.hold(staff, now=NOW, today=TODAY)
    assert Meeting.objects.count() == 2
    assert all(meeting.sites.count() == 2 for meeting in Meeting.objects.all())
    states = Counter(MeetingDecision.objects.values_list("state", flat=True))
    assert states == {"done": 2, "open": 2, "stands": 1, "dropped": 1}
    assert MeetingDecision.objects.filter(state="open", due_on__lt=TODAY).count() == 1
    assert all(is_figure(one.figure) for one in MeetingDecision.objects.exclude(figure=""))
    assert Pack.objects.get().state == "asked"
