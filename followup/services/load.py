"""Moving waiting reviews inside their windows: one by hand, or many by a proposal."""

import hashlib
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db import IntegrityError
from django.db.models import F

from followup.models.load import LoadLine, LoadOutcome, LoadProposal, ProposalState
from followup.models.reviews import Review
from followup.rules import load
from followup.rules.clinic_weeks import WEEKS_LEVELLED, WEEKS_SHOWN, last_day
from followup.selectors.clinic_room import UNBOOKED, Room, room_of, unbooked
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records

REASON = "to level the load of the clinics"


@dataclass(frozen=True)
class Applied:
    """How many reviews moved, and the lines of those that were left alone, with why."""

    moved: int
    left_alone: tuple[LoadLine, ...]


def move_review(
    *, review: Review, to_on: date, expected_version: int, by: Person, now: datetime, today: date
) -> Review:
    """Propose another clinic day inside its window for a review that has no slot yet.

    The planner keeps the day while the window stands and a clinic is held on it. Raises BadInput
    for a day outside the window, in the past, without a clinic or without room, and for a review
    that does not wait for a slot; StaleVersion.
    """
    _may_move(review, to_on, today)
    _has_room(review, to_on, room_of(review.site_id, today, to_on))
    return records.save(
        review,
        {"proposed_on": to_on, "day_chosen": True},
        by=by,
        now=now,
        expected_version=expected_version,
        reason=REASON,
    )


def _may_move(review: Review, to_on: date, today: date) -> None:
    if review.state not in UNBOOKED:
        raise BadInput(
            f"The review is {review.get_state_display().lower()}; only one that waits for a slot "
            "moves. A booked one is moved by booking another slot."
        )
    if not review.opens_on <= to_on <= review.closes_on:
        raise BadInput(
            {
                "to_on": f"{to_on:%d %b %Y} is outside the window, which goes from "
                f"{review.opens_on:%d %b %Y} to {review.closes_on:%d %b %Y}; choose a day inside."
            }
        )
    if to_on < today:
        raise BadInput({"to_on": f"{to_on:%d %b %Y} has passed; choose a day still to come."})


def _has_room(review: Review, to_on: date, room: Room) -> None:
    if not room.held_on(to_on):
        raise BadInput({"to_on": f"No clinic is held on {to_on:%a %d %b %Y}; choose another day."})
    is_there = room.counted_on(review.proposed_on, review.closes_on) == to_on
    if not is_there and not room.left(to_on):
        raise BadInput({"to_on": f"{to_on:%a %d %b %Y} is full; choose another day."})


def propose(*, site: Site, by: Person, now: datetime, today: date) -> LoadProposal:
    """Compute how the next eight weeks of a site would be level, and keep it for a decision.

    Every review that waits for a slot in these weeks gets a clinic day inside its window; a day
    after them is taken as well while it has room beyond what is planned for it. An earlier proposal
    of the site that nobody decided on is discarded. Raises BadInput when somebody else computes one
    at the same moment.
    """
    room = room_of(site.pk, today, last_day(today, WEEKS_SHOWN))
    horizon = last_day(today, WEEKS_LEVELLED)
    rows = list(unbooked(site.pk, today).filter(proposed_on__lte=horizon).order_by("id"))
    waiting = [
        load.Waiting(row.pk, row.opens_on, row.due_on, row.closes_on, row.proposed_on)
        for row in rows
    ]
    free = {day: room.free(day) if day <= horizon else room.left(day) for day in room.days()}
    answer = load.level(waiting, free)
    to_on = load.moves(waiting, answer)
    proposal = LoadProposal(
        site=site,
        weeks=WEEKS_LEVELLED,
        made_by=by,
        made_at=now,
        made_on=today,
        considered=len(rows),
        days=_days(room, rows, to_on, horizon),
        shortages=[
            [[day.isoformat() for day in one.days], one.free, one.reviews]
            for one in answer.shortages
        ],
        calendar_digest=digest_of(room),
    )
    _keep(proposal, _lines(proposal, rows, to_on, answer.left))
    return proposal


def _keep(proposal: LoadProposal, lines: Sequence[LoadLine]) -> None:
    """Save a proposal in the place of the one that is open."""
    open_ones = LoadProposal.objects.filter(site=proposal.site, state=ProposalState.PROPOSED)
    try:
        with records.change(by=proposal.made_by, reason=REASON):
            open_ones.update(
                state=ProposalState.DISCARDED,
                decided_by=proposal.made_by,
                decided_at=proposal.made_at,
                version=F("version") + 1,
            )
            proposal.save()
            LoadLine.objects.bulk_create(lines)
    except IntegrityError as fault:
        raise BadInput(
            f"Somebody else computed a proposal for {proposal.site} at this moment; look at theirs."
        ) from fault


def digest_of(room: Room) -> str:
    """Return a digest of the clinics and closed days on which a proposal rests."""
    plans = [(one.key, one.weekday, one.slots) for one in room.plans]
    return hashlib.sha256(repr((plans, sorted(room.closed))).encode()).hexdigest()


def expired_because(proposal: LoadProposal, today: date) -> str:
    """Say why an open proposal can no longer be applied; '' when it can."""
    if proposal.state != ProposalState.PROPOSED:
        return ""
    if proposal.made_on != today:
        return f"It was made on {proposal.made_on:%d %b %Y}, and days have passed since."
    room = room_of(proposal.site_id, today, last_day(today, WEEKS_SHOWN))
    if digest_of(room) != proposal.calendar_digest:
        return "The clinics or the closed days have changed since it was made."
    return ""


def apply(
    *, proposal: LoadProposal, expected_version: int, by: Person, now: datetime, today: date
) -> Applied:
    """Move the reviews of a proposal, all in one transaction.

    A review that was changed, booked or closed since is left alone, and so is one whose new day has
    filled up; the lines say which and why. Raises BadInput when the proposal was decided on already
    or has expired, StaleVersion.
    """
    because = expired_because(proposal, today)
    if because:
        raise BadInput(f"{because} Compute it again.")
    with records.change(by=by, reason=REASON):
        _decide(proposal, ProposalState.APPLIED, expected_version, by, now)
        lines = list(proposal.lines.filter(outcome=LoadOutcome.OPEN).select_related("review"))
        room = room_of(proposal.site_id, today, last_day(today, WEEKS_SHOWN))
        for line in _full(lines, room):
            _leave(line, f"{line.to_on:%d %b %Y} has filled up meanwhile")
        for line in lines:
            if line.outcome == LoadOutcome.OPEN:
                _move(line, by, now)
        LoadLine.objects.bulk_update(lines, ["outcome", "because"], batch_size=200)
    left_alone = tuple(line for line in lines if line.outcome == LoadOutcome.LEFT_ALONE)
    return Applied(len(lines) - len(left_alone), left_alone)


def discard(*, proposal: LoadProposal, expected_version: int, by: Person, now: datetime) -> None:
    """Put a proposal aside; nothing moves.

    Raises BadInput when it was decided on already, StaleVersion.
    """
    with records.change(by=by, reason=REASON):
        _decide(proposal, ProposalState.DISCARDED, expected_version, by, now)


def _decide(
    proposal: LoadProposal, state: str, expected_version: int, by: Person, now: datetime
) -> None:
    """Take the decision if nobody else has: of two at once, one finds it taken."""
    taken = LoadProposal.objects.filter(
        pk=proposal.pk, state=ProposalState.PROPOSED, version=expected_version
    ).update(state=state, decided_by=by, decided_at=now, version=expected_version + 1)
    if taken:
        proposal.refresh_from_db()
        return
    there = LoadProposal.objects.select_related("decided_by").get(pk=proposal.pk)
    if there.state != ProposalState.PROPOSED:
        raise BadInput(
            f"This proposal was {there.get_state_display().lower()} by {there.decided_by} already."
        )
    raise StaleVersion(str(there), expected=expected_version, current=there.version)


def _full(lines: Sequence[LoadLine], room: Room) -> list[LoadLine]:
    """Return the lines that no longer fit: their new day would hold more than its free slots."""
    staying = [line for line in lines if _is_as_it_was(line)]
    dropped: list[LoadLine] = []
    while True:
        after = _after(room, [(line.review, line.to_on) for line in staying if line.to_on])
        full = {day for day, number in after.items() if number > room.free(day)}
        late = next((line for line in reversed(staying) if line.to_on in full), None)
        if late is None:
            return dropped
        staying.remove(late)
        dropped.append(late)


def _is_as_it_was(line: LoadLine) -> bool:
    return line.review.version == line.review_version and line.review.voided_at is None


def _after(room: Room, moving: Sequence[tuple[Review, date]]) -> Counter[date]:
    """Return how many wait for each clinic day once some reviews have moved."""
    after = Counter({day: room.waits(day) for day in room.days()})
    for review, to_on in moving:
        counted = room.counted_on(review.proposed_on, review.closes_on)
        if counted is not None:
            after[counted] -= 1
        after[to_on] += 1
    return after


def _move(line: LoadLine, by: Person, now: datetime) -> None:
    try:
        records.save(
            line.review,
            {"proposed_on": line.to_on, "day_chosen": True},
            by=by,
            now=now,
            expected_version=line.review_version,
            reason=REASON,
        )
    except StaleVersion:
        _leave(line, "changed since the proposal was made")
    else:
        line.outcome = LoadOutcome.MOVED


def _leave(line: LoadLine, because: str) -> None:
    line.outcome, line.because = LoadOutcome.LEFT_ALONE, because


def _days(
    room: Room, rows: Sequence[Review], to_on: Mapping[int, date], horizon: date
) -> list[list[str | int]]:
    """Return each clinic day with what waits for it before and after."""
    after = _after(room, [(row, to_on[row.pk]) for row in rows if row.pk in to_on])
    return [
        [day.isoformat(), room.slots(day), room.slots(day) - room.free(day), room.waits(day), then]
        for day, then in sorted(after.items())
        if day <= horizon or then != room.waits(day)
    ]


def _lines(
    proposal: LoadProposal, rows: Sequence[Review], to_on: Mapping[int, date], left: Sequence[int]
) -> list[LoadLine]:
    nowhere = set(left)
    return [
        LoadLine(
            proposal=proposal,
            review=row,
            review_version=row.version,
            from_on=row.proposed_on,
            to_on=to_on.get(row.pk),
            outcome=LoadOutcome.NO_ROOM if row.pk in nowhere else LoadOutcome.OPEN,
        )
        for row in rows
        if row.pk in to_on or row.pk in nowhere
    ]
