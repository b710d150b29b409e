"""Moving patients from one version of a protocol to another: what it would do, and doing it."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion, VersionMove
from followup.models.reviews import Review, ReviewState
from followup.rules import planner, states
from followup.services import planning
from registry.errors import BadInput, HoldfastError
from registry.models.people import Person
from registry.models.procedures import Procedure
from registry.selectors.chunks import in_chunks
from registry.services import records

# What a page looks through and moves at once.
PREVIEW_MOST, MOVE_MOST = 5000, 500
MOVED, KEPT, CREATED, CLOSED = "moved", "kept", "created", "closed"
REOPENED, HAPPENED = "reopened", "happened"
WAYS = (MOVED, KEPT, CREATED, CLOSED, REOPENED, HAPPENED)
HAS_HAPPENED = (ReviewState.ATTENDED, ReviewState.LAPSED)


@dataclass(frozen=True)
class StepCounts:
    """What a move would do to the reviews of one step, by the words of WAYS.

    'moved' comes to other days, 'kept' keeps its days and takes what the other version collects.
    """

    code: str
    name: str
    moved: int = 0
    kept: int = 0
    created: int = 0
    closed: int = 0
    reopened: int = 0
    happened: int = 0


@dataclass(frozen=True)
class Preview:
    """What moving the operations that follow a version would do; nothing is saved.

    `operations` follow it; `examined` of them were looked at. `slots` are booked slots that would be
    cancelled, because the step is gone.
    """

    operations: int
    examined: int
    steps: tuple[StepCounts, ...]
    slots: int

    @property
    def total(self) -> StepCounts:
        """Return the counts of all steps together."""
        sums = {way: sum(getattr(step, way) for step in self.steps) for way in WAYS}
        return StepCounts("", "All steps", **sums)

    @property
    def open_moved(self) -> int:
        """Return how many open reviews would be other than they are."""
        total = self.total
        return total.moved + total.kept + total.closed


@dataclass(frozen=True)
class Skipped:
    """One operation that was not moved, and why."""

    procedure: Procedure
    why: str


@dataclass(frozen=True)
class Done:
    """How many operations were moved, which were skipped, and how many still follow the version."""

    moved: int
    skipped: tuple[Skipped, ...]
    remaining: int


def followers(
    version: ProtocolVersion, sites: Collection[int], target: Protocol | None = None
) -> QuerySet[Procedure]:
    """Return the operations at some sites that follow a version now.

    With a protocol that is for one site or construct type, only the operations that it is for.
    """
    of_procedure = {"procedure": OuterRef("pk")}
    moved_to = VersionMove.objects.filter(**of_procedure).order_by("-id").values("to_version")
    planned_by = Review.objects.filter(**of_procedure).order_by("id").values("step__version")
    there = Review.objects.filter(step__version=version).order_by().values("procedure")
    brought = VersionMove.objects.filter(to_version=version).order_by().values("procedure")
    rows: QuerySet[Procedure] = (
        Procedure.objects.filter(Q(pk__in=there) | Q(pk__in=brought), site__in=sites)
        .annotate(follows=Coalesce(Subquery(moved_to[:1]), Subquery(planned_by[:1])))
        .filter(follows=version.pk)
    )
    if target is not None and target.site_id is not None:
        rows = rows.filter(site_id=target.site_id)
    if target is not None and target.construct_type_id is not None:
        rows = rows.filter(construct__construct_type_id=target.construct_type_id)
    return rows


def preview(
    *,
    version: ProtocolVersion,
    protocol: Protocol,
    steps: Sequence[ProtocolStep],
    sites: Collection[int],
    today: date,
    most: int = PREVIEW_MOST,
) -> Preview:
    """Return what moving the operations that follow a version to these steps would do.

    The steps may be those of a version that is not saved yet; `protocol` says whom they are for.
    Looks through the operations in chunks, at most so many of them.
    """
    rows = followers(version, sites, protocol)
    operations = rows.count()
    keys = rows.order_by("pk").values_list("pk", flat=True)[:most]
    looked_at = Procedure.objects.filter(pk__in=list(keys)) if operations > most else rows
    by_code = {step.code: step for step in steps}
    names = {step.code: step.name for step in version.steps.all()} | {
        code: step.name for code, step in by_code.items()
    }
    calendars: dict[int, planner.Calendar] = {}
    counts: Counter[tuple[str, str]] = Counter()
    for chunk in in_chunks(_with_facts(looked_at)):
        for procedure in chunk:
            site_id = procedure.site_id
            if site_id not in calendars:
                calendars[site_id] = planning.calendar_of(site_id)
            counts.update(_of_one(procedure, by_code, calendars[site_id], today))
    found = [
        StepCounts(code, name, **{way: counts[code, way] for way in WAYS})
        for code, name in names.items()
    ]
    slots = sum(number for (_, way), number in counts.items() if way == "slots")
    return Preview(operations, min(operations, most), tuple(found), slots)


def move(
    *,
    version: ProtocolVersion,
    target: ProtocolVersion,
    sites: Collection[int],
    reason: str,
    seen_at: datetime,
    by: Person,
    now: datetime,
    today: date,
    most: int | None = MOVE_MOST,
) -> Done:
    """Move the operations that follow a version to another one; what has happened stays as it is.

    Each operation is its own transaction. One that follows another version by now, or whose reviews
    changed after `seen_at`, when the user looked, is skipped and named. At most so many operations
    are moved at once, all of them where `most` is None.
    Raises BadInput without a reason, or for a version that cannot be moved to.
    """
    check_target(version, target)
    if not reason.strip():
        raise BadInput({"reason": "Say why these patients follow another version from now on."})
    rows = followers(version, sites, target.protocol)
    moved, tried, skipped = 0, 0, []
    for chunk in in_chunks(rows.select_related("injury__patient", "site")):
        for procedure in chunk[: None if most is None else most - tried]:
            why = _move_one(
                procedure, version, target, reason.strip()[:300], seen_at, by, now, today
            )
            if why:
                skipped.append(Skipped(procedure, why))
            moved += not why
            tried += 1
        if tried == most:
            break
    return Done(moved, tuple(skipped), rows.count())


def check_target(version: ProtocolVersion, target: ProtocolVersion) -> None:
    """Refuse a version to which nobody who follows another can be moved. Raises BadInput."""
    if target.pk == version.pk:
        raise BadInput({"to": f"They follow {version} already; choose another version."})
    if target.protocol.purpose != version.protocol.purpose:
        raise BadInput({"to": f"'{target}' is for another kind of operation than '{version}'."})


def _with_facts(rows: QuerySet[Procedure]) -> QuerySet[Procedure]:
    reviews = Review.objects.select_related("step").order_by("id")
    return rows.select_related("injury__patient").prefetch_related(
        Prefetch("reviews", queryset=reviews), "injury__procedures"
    )


def _of_one(
    procedure: Procedure,
    steps: Mapping[str, ProtocolStep],
    calendar: planner.Calendar,
    today: date,
) -> Iterable[tuple[str, str]]:
    """Return, for each review of an operation that is or would be there, its code and its way."""
    existing = list(procedure.reviews.all())
    there = {review.step.code: review for review in existing}
    change = planning.difference_under(procedure, existing, steps, calendar, today)
    for one in change.create:
        yield one.step_code, CREATED
    for one in change.reopen:
        yield one.step_code, REOPENED
    for one in change.move:
        review = there[one.step_code]
        if review.state in planner.WAITING and one.step_code not in change.close:
            same = (review.opens_on, review.due_on, review.closes_on) == (
                one.window.opens_on,
                one.window.due_on,
                one.window.closes_on,
            )
            yield one.step_code, KEPT if same else MOVED
    for code in change.close:
        if there[code].state in planner.WAITING:
            yield code, CLOSED
        if there[code].state == ReviewState.BOOKED:
            yield code, "slots"
    for code, review in there.items():
        chosen = review.state == ReviewState.NOT_NEEDED and (
            review.ended_because not in states.CLOSED_BY
        )
        if chosen or (review.state in HAS_HAPPENED and code not in change.close):
            yield code, HAPPENED


def _move_one(
    procedure: Procedure,
    version: ProtocolVersion,
    target: ProtocolVersion,
    reason: str,
    seen_at: datetime,
    by: Person,
    now: datetime,
    today: date,
) -> str:
    """Move one operation; return why it was not moved, '' when it was."""
    try:
        with records.change(by=by, reason=f"moved to {target}: {reason}"):
            row = Procedure.objects.select_for_update(of=("self",)).get(pk=procedure.pk)
            existing = list(row.reviews.select_related("step__version").order_by("id"))
            follows = planning.pinned_version(row, existing)
            if follows is None or follows.pk != version.pk:
                return f"it follows {follows} by now" if follows else "it has no schedule any more"
            if any(review.changed_at > seen_at for review in existing):
                return "one of its reviews was changed after you looked"
            moved = VersionMove(
                site_id=row.site_id,
                procedure=row,
                from_version=version,
                to_version=target,
                reason=reason,
            )
            records.create(moved, by=by, now=now)
            planning.plan_reviews(procedure=row, by=by, now=now, today=today)
    except (HoldfastError, Procedure.DoesNotExist) as fault:
        return f"somebody saved it at the same moment: {fault}"
    return ""
