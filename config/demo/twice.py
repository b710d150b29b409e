"""The invented service reads some films twice: one site's policy, and what it has drawn."""

from datetime import date, datetime, timedelta

from config.demo.staff import Staff
from followup.models import ReadingPolicy
from followup.models.readings import Draw
from followup.services import reading_policies, second_readings
from followup.services.second_readings import Drawn

# The policy of the first site; the other has none.
SHARE_PCT, SINCE_DAYS = 25, 90


def draw(staff: Staff, *, now: datetime, today: date) -> Drawn:
    """Let the first site have a share of its newest films read twice, and draw them."""
    reading_policies.save_policy(
        policy=ReadingPolicy(site=staff.sites[0]),
        values={
            "draw": Draw.SHARE,
            "share_pct": SHARE_PCT,
            "seed": staff.sites[0].code,
            "taken_from": today - timedelta(days=SINCE_DAYS),
        },
        expected_version=1,
        by=staff.coordinator,
    )
    return second_readings.draw_all(by=staff.coordinator, now=now)
