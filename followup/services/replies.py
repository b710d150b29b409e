"""Taking what patients answer: each answer once, an end to messages at once, all else to a person."""

from collections.abc import Sequence
from datetime import date, datetime, timedelta

from django.db import transaction
from django.db.models import QuerySet

from followup.models.replies import Reply, ReplyFate, ReplyMeans
from followup.models.tasks import REPLY_KEY, TaskKind
from followup.rules import replies as rules
from followup.selectors.messages import policy_of
from followup.services import tasks
from registry.errors import BadInput, IllegalTransition
from registry.models.patients import Patient
from registry.models.people import Person
from registry.models.retention import RetentionKind
from registry.models.sites import Site
from registry.selectors import retention as holds
from registry.selectors.patients import reached_at
from registry.services import jobs, patients, records, retention
from registry.services.background import background_person

LONGEST_TEXT, LONGEST_KEY = 4000, 120
MEANT = {ReplyMeans.TEXT: "text messages", ReplyMeans.EMAIL: "e-mails"}


def take_reply(
    *,
    site: Site,
    key: str,
    means: str,
    sender: str,
    text: str,
    received_at: datetime,
    now: datetime,
    today: date,
) -> Reply:
    """Keep an incoming message and act on it; the same `key` of a site is taken once.

    One that ends messages opts everybody at the site with this number out of the means at once. Any
    other of one patient becomes a task for today; what belongs to nobody, or to one of several,
    waits for a person. A text is kept up to 4,000 letters. Raises BadInput for a value that cannot be taken, IllegalTransition where the
    key was taken with another sender or text.
    """
    key, sender, text = key.strip(), sender.strip(), text.strip()[:LONGEST_TEXT]
    _checked(key, means, sender)
    by = background_person()
    with records.change(by=by, reason="an answer to a message"):
        reply, is_new = Reply.objects.get_or_create(
            site=site,
            key=key,
            defaults={
                "means": means,
                "sender": sender,
                "text": text,
                # The clock of whoever hands it on may be ahead of ours.
                "received_at": min(received_at, now),
                "taken_at": now,
            },
        )
        if is_new:
            _settle(reply, by, now, today)
        elif (reply.means, reply.sender, reply.text) != (means, sender, text) and reply.sender:
            raise IllegalTransition(
                "This key", present="taken with another sender or text", wanted="taken once"
            )
    return reply


def see_to(*, reply: Reply, note: str, by: Person, now: datetime) -> Reply:
    """Note what was done about an answer that waited for a person.

    Raises BadInput without a note, IllegalTransition when it does not wait, or any more.
    """
    if not note.strip():
        raise BadInput({"note": "Say what was done, or why nothing is to be done."})
    values = {
        "fate": ReplyFate.SEEN,
        "seen_at": now,
        "seen_by": by,
        "seen_note": note.strip()[:300],
    }
    done = Reply.objects.filter(pk=reply.pk, fate=ReplyFate.WAITING).update(**values)
    reply.refresh_from_db()
    if not done:
        raise IllegalTransition(
            "The answer", present=reply.get_fate_display().lower(), wanted="seen to"
        )
    return reply


def forget_patient(*, patient: Patient) -> int:
    """Blank numbers and texts that came from an erased patient; return how many."""
    return Reply.objects.filter(pk__in=_of(patient).values("pk")).update(sender="", text="")


def forget_old(*, now: datetime, today: date) -> int:
    """Blank numbers and texts that were seen to and are older than their site's rule; return how many.

    Those of a patient whose records are held stay, as do all where a site has no rule.
    """
    gone = 0
    for rule in holds.in_force(RetentionKind.REPLIES).values():
        with transaction.atomic():
            rows = Reply.objects.filter(
                site=rule.site, received_at__lt=now - timedelta(days=rule.keep)
            )
            rows = rows.exclude(fate=ReplyFate.WAITING).exclude(sender="", text="")
            held = rows.filter(patients__in=holds.held_patients(today)).order_by().values("pk")
            here = rows.exclude(pk__in=list(held.values_list("pk", flat=True))).update(
                sender="", text=""
            )
            retention.prove(
                kind=RetentionKind.REPLIES,
                number=here,
                words=f"seen to, and older than {rule.keep} days",
                site=rule.site,
                rule=rule,
                now=now,
            )
        gone += here
        jobs.beat()
    return gone


def _of(patient: Patient) -> "QuerySet[Reply]":
    return Reply.objects.filter(patients=patient)


def _checked(key: str, means: str, sender: str) -> None:
    faults = {}
    if not key or len(key) > LONGEST_KEY:
        faults["key"] = f"Give the provider's name of the message, at most {LONGEST_KEY} letters."
    if means not in ReplyMeans.values:
        faults["means"] = f"'{means}' is none of {', '.join(ReplyMeans.values)}."
    if not sender or len(sender) > 254:
        faults["from"] = "Give the number or address that it came from."
    if faults:
        raise BadInput(faults)


def _settle(reply: Reply, by: Person, now: datetime, today: date) -> None:
    policy = policy_of(reply.site)
    whose = reached_at(
        site=reply.site,
        means=reply.means,
        where=reply.sender,
        dialled=lambda number: rules.dialled(number, policy.country_code),
    )
    said = rules.first_line(reply.text) if reply.means == ReplyMeans.EMAIL else reply.text
    reply.patients.set(whose)
    if rules.is_stop(said, policy.stop_words):
        reply.fate, reply.because = _stop(reply, whose, by, now, today)
    else:
        reply.fate, reply.because = _hand_on(reply, whose, by, now, today)
    reply.save(update_fields=["fate", "because"])


def _stop(
    reply: Reply, whose: Sequence[Patient], by: Person, now: datetime, today: date
) -> tuple[ReplyFate, str]:
    meant = MEANT[ReplyMeans(reply.means)]
    if not whose:
        return ReplyFate.WAITING, (
            f"Wants no more {meant}, but no patient of the site has this {_where(reply)}: find out "
            "who it is, and note at the patient that this means is refused"
        )
    for patient in whose:
        patients.refuse_means(patient=patient, means=reply.means, by=by)
        if len(whose) > 1:
            _open(reply, patient, _shared(reply, len(whose)), by, now, today)
    if len(whose) == 1:
        return ReplyFate.STOPPED, f"No more {meant} to this patient"
    return ReplyFate.STOPPED, (
        f"{len(whose)} patients have this {_where(reply)}: no more {meant} to any of them, and a task "
        "to ask each"
    )


def _hand_on(
    reply: Reply, whose: Sequence[Patient], by: Person, now: datetime, today: date
) -> tuple[ReplyFate, str]:
    if len(whose) == 1:
        # The text itself would stay in the trail when the patient is erased.
        words = f"Wrote back by {reply.get_means_display().lower()}; read it and answer"
        _open(reply, whose[0], words, by, now, today)
        return ReplyFate.TASK, "Somebody is to read it today"
    if whose:
        return (
            ReplyFate.WAITING,
            f"{len(whose)} patients have this {_where(reply)}: ask whose it is",
        )
    return ReplyFate.WAITING, f"No patient of the site has this {_where(reply)}"


def _open(
    reply: Reply, patient: Patient, words: str, by: Person, now: datetime, today: date
) -> None:
    tasks.open_task(
        site=reply.site,
        patient=patient,
        kind=TaskKind.CONTACT,
        words=words,
        due_on=today,
        key=f"{REPLY_KEY}:{reply.pk}:{patient.pk}",
        by=by,
        now=now,
    )


def _shared(reply: Reply, many: int) -> str:
    meant = MEANT[ReplyMeans(reply.means)]
    return (
        f"No more {meant}: an answer ended them from a {_where(reply)} that {many} patients have. "
        "Ask the patient whether they want them"
    )


def _where(reply: Reply) -> str:
    return "address" if reply.means == ReplyMeans.EMAIL else "number"
