"""What the invented patients wrote back: an end to messages, a question, and one of nobody's."""

from datetime import date, datetime, timedelta

from config.demo.staff import Staff
from followup.models import Message
from followup.models.messages import MessageState
from followup.services.replies import take_reply

# No invented patient has it.
STRANGER = "0555 010 9999"
# Minutes before now, and what was written; the last one by a stranger.
TEXTS = ((190, "STOP"), (95, "I have moved, is it still the same clinic?"), (40, "Who is this?"))


def write_back(staff: Staff, *, now: datetime, today: date) -> None:
    """Let two patients of the first hospital who had a text, and a stranger, write back."""
    site = staff.sites[0]
    told = Message.objects.filter(
        site=site, state=MessageState.SENT, means="text", patient__identity__isnull=False
    ).select_related("patient__identity")
    numbers = dict.fromkeys(
        one.patient.identity.phone for one in told.order_by("id") if one.patient.identity.phone
    )
    senders = [*list(numbers)[: len(TEXTS) - 1], STRANGER]
    for (ago, text), sender in zip(TEXTS[-len(senders) :], senders, strict=True):
        take_reply(
            site=site,
            key=f"demo-{ago}",
            means="text",
            sender=sender,
            text=text,
            received_at=now - timedelta(minutes=ago),
            now=now,
            today=today,
        )
