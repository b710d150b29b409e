"""Writing, changing and sending the note and letters of a visit; what was sent is never changed."""

import hashlib
from collections.abc import Sequence
from datetime import date, datetime

from django.db.models import Max

from followup.exchange.letter_pages import LetterPages, pdf_of
from followup.models.letters import Letter, LetterKind, LetterState, LetterText, SentBy
from followup.models.reviews import Review
from followup.rules.letters import content_hash
from followup.selectors.letters import text_of
from registry.errors import BadInput, IllegalTransition
from registry.models.patients import Patient
from registry.models.people import Person
from registry.services import records

ERASED = "Erased on request."
MOST = 12000
TITLES = {
    LetterKind.NOTE: "Visit note: {step}",
    LetterKind.REFERRER: "Review: {step}",
    LetterKind.PATIENT: "Your visit",
}


def write_letter(
    *,
    review: Review,
    kind: str,
    head: Sequence[str],
    addressee: str,
    body: str,
    by: Person,
    now: datetime,
) -> Letter:
    """Save the first version of a note or letter about an attended visit.

    Raises BadInput where the visit is not recorded, the words are missing, or there is a draft of
    this kind already.
    """
    if review.attended_on is None:
        raise BadInput("This visit is not recorded yet; there is nothing to write about.")
    _refuse_unwritten(body)
    of_kind = Letter.everything.filter(review=review, kind=kind)
    letter = Letter(
        site=review.site,
        review=review,
        kind=kind,
        number=(of_kind.aggregate(last=Max("number"))["last"] or 0) + 1,
        content_hash=content_hash(head, addressee, body),
    )
    with records.change(by=by):
        records.create(letter, by=by, now=now)
        _keep(letter, head, addressee, body, by, now)
    return letter


def change_letter(
    *,
    letter: Letter,
    head: Sequence[str],
    addressee: str,
    body: str,
    expected_version: int,
    by: Person,
    now: datetime,
) -> Letter:
    """Save a new version of a draft over the one that the user saw; every version is kept.

    Raises IllegalTransition when it was sent, StaleVersion when somebody was quicker.
    """
    _refuse_sent(letter, "changed")
    _refuse_unwritten(body)
    values = {"content_hash": content_hash(head, addressee, body)}
    with records.change(by=by):
        saved = records.save(letter, values, by=by, now=now, expected_version=expected_version)
        _keep(saved, head, addressee, body, by, now)
    return saved


def send_letter(
    *,
    letter: Letter,
    means: str,
    on: date,
    expected_version: int,
    by: Person,
    now: datetime,
    today: date,
) -> Letter:
    """Keep a letter as it goes out, words and pages, and say how and when; it is never changed again.

    Raises IllegalTransition when it was sent before, StaleVersion when it changed since it was read,
    BadInput for a day to come or one before the visit, a letter to nobody, or no way of sending.
    """
    _refuse_sent(letter, "sent")
    if means not in SentBy.values:
        raise BadInput({"means": "Say how it goes out."})
    if on > today:
        raise BadInput({"on": f"{on} is in the future."})
    if letter.review.attended_on is not None and on < letter.review.attended_on:
        raise BadInput({"on": f"{on} is before the visit that it is about."})
    text = text_of(letter)
    if letter.kind != LetterKind.NOTE and not text.addressee.strip():
        raise BadInput("Say first whom this letter goes to.")
    pages = set_pages(letter=letter, text=text, sent_on=on, at=now)
    values = {
        "state": LetterState.SENT,
        "sent_on": on,
        "sent_by_means": means,
        "pages_hash": hashlib.sha256(pages).hexdigest(),
    }
    with records.change(by=by):
        saved = records.save(letter, values, by=by, now=now, expected_version=expected_version)
        LetterText.objects.filter(pk=text.pk, pages__isnull=True).update(pages=pages)
    return saved


def set_pages(*, letter: Letter, text: LetterText, sent_on: date | None, at: datetime) -> bytes:
    """Return a letter as a PDF; without a day of sending its foot says that it is a draft.

    Raises BadInput where the pages cannot show what was typed, such as a picture sign.
    """
    try:
        return pdf_of(_pages_of(letter, text, sent_on), at)
    except ValueError as fault:
        told = f"The pages cannot show all that was typed; write it in other signs. ({fault})"
        raise BadInput(told) from fault


def _pages_of(letter: Letter, text: LetterText, sent_on: date | None) -> LetterPages:
    site = letter.review.site
    foot = f"{letter}, {site}"
    return LetterPages(
        title=TITLES[LetterKind(letter.kind)].format(step=letter.review.step),
        site=site.name if not site.telephone else f"{site.name}, telephone {site.telephone}",
        on=sent_on or text.saved_at.date(),
        head=text.head,
        addressee=text.addressee,
        body=text.body,
        foot=foot if sent_on is not None else f"Draft, not sent. {foot}",
    )


def forget_of_patient(*, patient: Patient) -> None:
    """Blank the words of all letters about a patient who was erased; that they were sent stays."""
    LetterText.objects.filter(letter__review__procedure__injury__patient=patient).update(
        head=[], addressee="", body=ERASED, pages=None
    )


def _keep(
    letter: Letter, head: Sequence[str], addressee: str, body: str, by: Person, now: datetime
) -> None:
    LetterText.objects.create(
        letter=letter,
        version=letter.version,
        head=list(head),
        addressee=addressee,
        body=body,
        saved_at=now,
        saved_by=by,
    )


def _refuse_sent(letter: Letter, wanted: str) -> None:
    if letter.state == LetterState.SENT:
        raise IllegalTransition(str(letter), present=LetterState.SENT, wanted=wanted)


def _refuse_unwritten(body: str) -> None:
    if not body.strip():
        raise BadInput(
            {"body": "Write something; the proposal is made anew by opening the page again."}
        )
    if len(body) > MOST:
        raise BadInput({"body": f"{len(body)} characters are too many; there is room for {MOST}."})
