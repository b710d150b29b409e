"""Doing one thing to several reviews: each for itself, with what became of it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from followup.models.calendars import Clinic
from followup.models.messages import MessagePurpose
from followup.models.reviews import Review
from followup.selectors.due_bulk import reminders_of
from followup.services import messages, reviews
from registry.errors import BadInput, HoldfastError, StaleVersion
from registry.models.people import Person
from registry.services import records

CHANGED = "was changed meanwhile by somebody else; nothing was done here"


@dataclass(frozen=True)
class Wish:
    """One review of a preview: the version that was shown, and the time it was to get."""

    key: int
    version: int
    at: time | None = None


@dataclass(frozen=True)
class Outcome:
    """What became of one review: done, or refused and why."""

    review: Review
    done: bool
    words: str


def book_list(
    *,
    rows: Mapping[int, Review],
    wishes: Sequence[Wish],
    clinic: Clinic,
    on: date,
    by: Person,
    now: datetime,
    today: date,
) -> list[Outcome]:
    """Book the previewed times of a clinic day; what changed since the preview is refused."""

    def book(review: Review, wish: Wish) -> str:
        if wish.at is None:
            raise BadInput("No time was given for this one.")
        slot = reviews.book(
            review=review,
            clinic=clinic,
            on=on,
            at=wish.at,
            expected_version=wish.version,
            by=by,
            now=now,
            today=today,
        )
        return f"booked: {slot}"

    return _each(rows, wishes, by, "a clinic list", book)


def end_several(
    *, rows: Mapping[int, Review], wishes: Sequence[Wish], reason: str, by: Person, now: datetime
) -> list[Outcome]:
    """Mark several reviews as not needed, all with one reason.

    Raises BadInput without a reason.
    """
    if not reason.strip():
        raise BadInput({"reason": "Say why these reviews are not needed."})

    def end(review: Review, wish: Wish) -> str:
        reviews.mark_not_needed(
            review=review, reason=reason, expected_version=wish.version, by=by, now=now
        )
        return "marked as not needed"

    return _each(rows, wishes, by, reason, end)


def remind_several(
    *,
    rows: Mapping[int, Review],
    wishes: Sequence[Wish],
    by: Person,
    now: datetime,
    today: date,
) -> list[Outcome]:
    """Put a reminder for each of several reviews into the outbox, one for a review and day.

    Whether each may be reminded is decided anew, so that an opt-out since the preview counts.
    """
    wanted = {wish.key for wish in wishes}
    verdicts = {
        one.review.pk: one for one in reminders_of([rows[k] for k in rows if k in wanted], today)
    }

    def remind(review: Review, wish: Wish) -> str:
        if review.version != wish.version:
            raise StaleVersion("The review", expected=wish.version, current=review.version)
        verdict = verdicts[review.pk]
        if verdict.why_not:
            raise BadInput(verdict.why_not)
        messages.put(
            patient=review.procedure.injury.patient,
            site=review.site,
            purpose=MessagePurpose.REMINDER,
            key=f"reminder:{review.pk}:{today.isoformat()}",
            now=now,
            review=review,
        )
        return f"a reminder goes {verdict.what}"

    return _each(rows, wishes, by, "reminders", remind)


def _each(
    rows: Mapping[int, Any],
    wishes: Sequence[Wish],
    by: Person,
    reason: str,
    do: Callable[[Review, Wish], str],
) -> list[Outcome]:
    """Do something to each row, all of it or nothing for that row; the whole is one change."""
    outcomes = []
    with records.change(by=by, reason=reason):
        for wish in wishes:
            review = rows.get(wish.key)
            if review is not None:
                outcomes.append(_one(review, wish, by, do))
    return outcomes


def _one(review: Review, wish: Wish, by: Person, do: Callable[[Review, Wish], str]) -> Outcome:
    try:
        with records.change(by=by):
            return Outcome(review, True, do(review, wish))
    except StaleVersion:
        return Outcome(review, False, CHANGED)
    except BadInput as fault:
        return Outcome(review, False, " ".join(fault.faults.values()))
    except HoldfastError as fault:
        return Outcome(review, False, str(fault))
