"""The schedule of the background work, kept in code and copied to the database by name."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from django.conf import settings
from django.db import transaction
from django_celery_beat.models import CrontabSchedule, PeriodicTask

OURS = "Kept in config/beat.py: a change of its time made here is put back at the next start."


@dataclass(frozen=True)
class Entry:
    """One task and when it runs, by the clock of the service (TIME_ZONE), as in a crontab."""

    name: str
    task: str
    minute: str = "*"
    hour: str = "*"

    @property
    def at(self) -> time | None:
        """The time of day of nightly work; None for what runs all day long."""
        nightly = self.hour.isdigit() and self.minute.isdigit()
        return time(int(self.hour), int(self.minute)) if nightly else None

    @property
    def in_words(self) -> str:
        """When it runs, as a person says it."""
        if self.at is not None:
            return f"every night at {self.at:%H:%M}"
        if self.minute == "*":
            return "every minute"
        every = self.minute.removeprefix("*/")
        return f"every {every} minutes" if every != self.minute else f"hourly at :{every:0>2}"

    def next_after(self, local_now: datetime) -> datetime:
        """Return the next moment at which it runs, by the wall clock of the service."""
        moment = local_now.replace(second=0, microsecond=0) + timedelta(minutes=1)
        while not (_is_at(self.minute, moment.minute) and _is_at(self.hour, moment.hour)):
            moment += timedelta(minutes=1)
        return moment


def _is_at(wanted: str, number: int) -> bool:
    if wanted.startswith("*/"):
        return number % int(wanted[2:]) == 0
    return wanted == "*" or int(wanted) == number


SCHEDULE = (
    Entry("Send what waits in the outbox", "followup.tasks.messages.deliver"),
    Entry("Weigh cases whose films were read", "analytics.tasks.alerts.weigh"),
    Entry("Tell surgeons by e-mail", "analytics.tasks.alerts.tell", minute="*/5"),
    Entry("Weigh open alerts again", "analytics.tasks.alerts.weigh_again", minute="35", hour="2"),
    Entry("Seal what the trail has gained", "registry.tasks.audit.seal"),
    Entry(
        "Write down how far the trail goes", "registry.tasks.audit.anchor", minute="50", hour="3"
    ),
    Entry("Renew the figures' snapshot", "analytics.tasks.snapshots.refresh", minute="*/15"),
    Entry("Plan and lapse reviews", "followup.tasks.planning.sweep", minute="10", hour="1"),
    Entry(
        "Remind of reviews nobody booked", "followup.tasks.messages.remind", minute="40", hour="1"
    ),
    Entry("Raise planned removals", "followup.tasks.hardware.prompt", minute="30", hour="1"),
    Entry("Decide who cannot be reached", "followup.tasks.contacts.decide", minute="40", hour="1"),
    Entry(
        "Hold parts against safety notices",
        "followup.tasks.safety_notices.match",
        minute="25",
        hour="1",
    ),
    Entry("Draw second readings", "followup.tasks.readings.draw", minute="35", hour="1"),
    Entry("Count every review", "followup.tasks.sums.count", minute="50", hour="1"),
    Entry(
        "Look through the running charts", "analytics.tasks.signals.watch", minute="20", hour="2"
    ),
    Entry("Catch up on missed nights", "config.tasks.background.catch_up", minute="*/10"),
    Entry("Forget old runs", "registry.tasks.jobs.forget", minute="40", hour="3"),
    Entry(
        "Forget messages of the hospital's system",
        "registry.tasks.hospital_messages.forget",
        minute="45",
        hour="3",
    ),
    Entry(
        "Forget what patients wrote back", "followup.tasks.replies.forget", minute="55", hour="3"
    ),
    Entry("Forget old sign-ins", "registry.tasks.sign_ins.forget", minute="50", hour="3"),
    Entry("Ask patients at home", "followup.tasks.questionnaires.invite", minute="45", hour="1"),
    Entry("Make the packs that were asked for", "analytics.tasks.packs.make"),
    Entry("Go on with files of cases", "followup.tasks.imports.work"),
    Entry("Make copies in FHIR", "followup.tasks.bulk_exports.make"),
    Entry("Forget copies in FHIR", "followup.tasks.bulk_exports.forget", minute="45", hour="3"),
    Entry("Clear away files of cases", "followup.tasks.uploads.forget", minute="50"),
    Entry("Clear away files of films", "followup.tasks.images.sweep", minute="35"),
    Entry("Keep a copy of everything", "config.tasks.copies.keep", minute="0", hour="4"),
    Entry("Look through the records", "config.tasks.records.verify", minute="15", hour="4"),
)


def copy_schedule(entries: Sequence[Entry] = SCHEDULE) -> None:
    """Make the database's schedule equal to ours; what others have added there is left alone.

    An entry that somebody has switched off stays off.
    """
    with transaction.atomic():
        gone = PeriodicTask.objects.filter(description=OURS)
        gone.exclude(name__in=[entry.name for entry in entries]).delete()
        for entry in entries:
            when, _ = CrontabSchedule.objects.get_or_create(
                minute=entry.minute,
                hour=entry.hour,
                day_of_week="*",
                day_of_month="*",
                month_of_year="*",
                timezone=settings.TIME_ZONE,
            )
            PeriodicTask.objects.update_or_create(
                name=entry.name,
                defaults={"task": entry.task, "crontab": when, "description": OURS},
            )
