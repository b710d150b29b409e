"""What must hold of the outbox: every message in a known state, none twice, none held for ever."""

from collections.abc import Iterator
from datetime import timedelta

from django.db.models import Count, Exists, F, OuterRef, Q

from followup.models.messages import Message, MessageState, MessageStep, StepKind
from registry.models.moves import RecordMove
from registry.services.invariants import AT_ONCE, Breach, Invariant, Looking, broken_by

# Whatever a worker holds is settled by the next run, every minute, once its lease is over.
SETTLED_WITHIN = timedelta(days=1)
WENT = (StepKind.ACCEPTED, StepKind.LOOKED_UP, StepKind.MARKED_DELIVERED)


def _states(looking: Looking) -> Iterator[Breach]:
    rows = Message.objects.all()
    sending = rows.filter(state=MessageState.SENDING)
    yield from broken_by(
        rows.exclude(state__in=MessageState.values), "it stands in no state that is known"
    )
    yield from broken_by(
        sending.filter(Q(claim__isnull=True) | Q(claimed_at__isnull=True)),
        "it is being sent by nobody",
    )
    yield from broken_by(
        sending.filter(claimed_at__lt=looking.now - SETTLED_WITHIN),
        "it has been held by one worker for more than a day",
    )
    yield from broken_by(
        rows.filter(state=MessageState.WAITING, claim__isnull=False),
        "it waits and somebody holds it",
    )
    steps = MessageStep.objects.filter(message=OuterRef("pk"))
    yield from broken_by(
        rows.filter(~Exists(steps.filter(kind__in=WENT)), state=MessageState.SENT),
        "it is said to have gone and no step says so",
    )
    unsaid = rows.filter(
        state__in=[MessageState.FAILED, MessageState.UNKNOWN, MessageState.STOPPED]
    )
    yield from broken_by(unsaid.filter(stopped_because=""), "it did not go and nothing says why")


def _once(looking: Looking) -> Iterator[Breach]:
    for column in ("key", "uuid"):
        twice = Message.objects.order_by().values(column).annotate(many=Count("pk"))
        for row in twice.filter(many__gt=1).iterator(chunk_size=AT_ONCE):
            where = f"followup_message with {column} {row[column]}"
            yield Breach(where, f"it was written down {row['many']} times")
    accepted = MessageStep.objects.filter(kind=StepKind.ACCEPTED).order_by()
    again = accepted.values("message", "round").annotate(many=Count("pk")).filter(many__gt=1)
    for row in again.iterator(chunk_size=AT_ONCE):
        yield Breach(f"followup_message {row['message']}", "it went more than once")


def _whom(looking: Looking) -> Iterator[Breach]:
    about = Message.objects.filter(review__isnull=False)
    owner = F("review__procedure__injury__patient")
    moved = Exists(
        RecordMove.objects.filter(
            Q(injury=OuterRef("review__procedure__injury"))
            | Q(procedure__injury=OuterRef("review__procedure__injury"))
        )
    )
    yield from broken_by(
        about.exclude(Q(patient=owner) | Q(patient__merged_into__isnull=False)).filter(~moved),
        "it goes to another patient than its review is of",
    )
    yield from broken_by(
        Message.objects.filter(appointment__isnull=False, review__isnull=False).exclude(
            appointment__review=F("review")
        ),
        "its slot is of another review",
    )


INVARIANTS = (
    Invariant("message_states", "Each message is in a known state that fits its steps.", _states),
    Invariant("messages_once", "No message is written down or accepted twice.", _once),
    Invariant("messages_to", "A message goes to the patient whom it is about.", _whom),
)
