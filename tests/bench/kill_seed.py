"""Fills the database of HOLDFAST_DATABASE with reviews to be reminded of, half by text message."""

import os
import sys
from datetime import timedelta
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

import django

django.setup()

from django.core.management import call_command  # noqa: E402
from django.utils import timezone  # noqa: E402

from followup.models import Message, Review  # noqa: E402
from followup.services import reminders  # noqa: E402
from registry.models import Injury, PatientSite, Procedure  # noqa: E402
from registry.models.patients import new_key  # noqa: E402
from tests import builders  # noqa: E402
from tests.many import copies  # noqa: E402
from tests.outbox import policy  # noqa: E402


def fill(number: int) -> int:
    """Make the tables and so many patients for each of two means; return how many messages wait."""
    call_command("migrate", verbosity=0, interactive=False)
    builders.load_defaults()
    policy(sends_email=False)
    today = timezone.localdate()
    patient = builders.patient(phone="0555 010 000", address="1 Saltgate", preferred_means="text")
    operation = builders.procedure(of=builders.injury(of=patient))
    review = operation.reviews.get(step__code="6m")
    Review.objects.exclude(pk=review.pk).update(state="lapsed")
    opened = today - timedelta(days=10)
    Review.objects.filter(pk=review.pk).update(
        opens_on=opened, due_on=today, proposed_on=today, closes_on=today + timedelta(days=60)
    )
    review.refresh_from_db()
    more = 2 * number - 1
    people = copies(patient, more, key=lambda _: new_key())
    copies(PatientSite.objects.get(patient=patient), more, patient=lambda n: people[n])
    copies(
        patient.identity,
        more,
        patient=lambda n: people[n],
        phone=lambda n: f"0555 {n:06d}",
        preferred_means=lambda n: "text" if n % 2 else "letter",
    )
    hurt = copies(Injury.objects.get(), more, patient=lambda n: people[n])
    done = copies(Procedure.objects.get(), more, injury=lambda n: hurt[n])
    copies(review, more, procedure=lambda n: done[n])
    reminders.plan_reminders(now=timezone.now(), today=today)
    return Message.objects.count()


if __name__ == "__main__":
    sys.stdout.write(f"{fill(int(sys.argv[1]))}\n")
