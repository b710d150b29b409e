"""Which reminder of a review that nobody has booked falls due, and when."""

from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class ReminderPlan:
    """How many reminders, the first so many days after the window opened, the others so far apart."""

    count: int = 2
    first_day: int = 3
    spacing_days: int = 7

    def number_due(self, opens_on: date, today: date) -> int | None:
        """Return the number, from 1, of the last reminder that is due by today, or nothing.

        Of those that a missed night has skipped only the last goes: the others say the same.
        """
        since = (today - opens_on).days - self.first_day
        if since < 0 or self.count < 1:
            return None
        return min(self.count, since // self.spacing_days + 1)

    def opened_by(self, today: date) -> date:
        """Return the last day on which a window may have opened for a reminder to be due today."""
        return today - timedelta(days=self.first_day)


def key_of(review_id: int, number: int) -> str:
    """Return the name of a reminder's reason, by which it is written once."""
    return f"reminder:{review_id}:{number}"
