"""How many answer: of those asked at home by step, means and reminder, and of all reviews by mode."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import Count, F, OuterRef, Q, Subquery

from followup.models.messages import Message, MessageState
from followup.models.protocols import ProtocolStep
from followup.models.questionnaires import Invitation
from followup.models.reviews import Review, ReviewState
from followup.models.scores import ScoreMode
from followup.rules import windows
from followup.rules.scores.catalogue import INSTRUMENTS
from followup.rules.shares import Share, share
from followup.selectors.questionnaires import COUNTED_FROM
from followup.selectors.visible import visible
from registry.selectors import choices
from registry.selectors.visible import Viewer

BY_HAND = "by hand"
MEANS = {"email": "E-mail", "text": "Text message", "letter": "Letter", BY_HAND: "By hand"}
# Below this a society's working group finds scores hard to read (cited in Pronk 2019).
ENOUGH = 0.6
STEP = [f"review__step__{name}" for name in ("name", "offset_value", "offset_unit")]
_STANDING = {"sent_at__isnull": False, "revoked_at__isnull": True}


@dataclass(frozen=True)
class Line:
    """Of so many, so many answered; `few` when less than six in ten did."""

    label: str
    share: Share

    @property
    def few(self) -> bool:
        """Whether too few answered for their scores to stand for all."""
        return self.share.estimate is not None and self.share.estimate < ENOUGH

    @property
    def percent(self) -> str:
        """Write the share and its interval, or that there is none."""
        if self.share.estimate is None or self.share.low is None or self.share.high is None:
            return "nobody to count"
        low, high = 100 * self.share.low, 100 * self.share.high
        return f"{100 * self.share.estimate:.1f}% ({low:.1f} to {high:.1f})"


@dataclass(frozen=True)
class Table:
    """One way of looking at the answers; `of` says what the share is of."""

    code: str
    title: str
    first: str
    of: str
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Responses:
    """All tables, and what is not counted in them."""

    total: Line
    tables: tuple[Table, ...]
    still_open: int
    begun: int
    withdrawn: int
    waiting: int


@dataclass(frozen=True)
class _Group:
    """Invitations that are alike in all that is counted."""

    step: str
    days: int
    means: str
    reminder: int
    answered: bool
    number: int


def responses(user: Viewer, *, since: date, now: datetime, today: date) -> Responses:
    """Count who answered of those whom a link reached since a day, in five queries at any size.

    Only invitations whose time is over are counted, however they ended: those that are still open
    would make the rate look worse, and the early answers among them better.
    """
    rows = visible(user, Invitation, "see_responses").filter(made_at__date__gte=since)
    asked = choices.usable(rows)
    state = asked.aggregate(
        open=Count("pk", filter=Q(**_STANDING, expires_at__gt=now, completed_at__isnull=True)),
        begun=Count(
            "pk",
            filter=Q(
                **_STANDING, expires_at__lte=now, opened_at__isnull=False, completed_at__isnull=True
            ),
        ),
        withdrawn=Count("pk", filter=Q(sent_at__isnull=False, revoked_at__isnull=False)),
        waiting=Count("pk", filter=Q(sent_at__isnull=True)),
    )
    groups = _groups(asked.filter(**_STANDING, expires_at__lte=now))
    return Responses(
        total=_line("All", groups),
        tables=(
            _table("step", "By step", "Step", groups, lambda one: one.step),
            _table("means", "By how the link was sent", "Sent by", groups, lambda one: one.means),
            _by_reminder(groups),
            _by_mode(user, since, today),
        ),
        still_open=state["open"],
        begun=state["begun"],
        withdrawn=state["withdrawn"],
        waiting=state["waiting"],
    )


def to_rows(found: Responses) -> list[list[Any]]:
    """Return every line as plain values under a heading, for a table that is taken along."""
    heading = ["table", "line", "of", "answered", "share", "low_95", "high_95"]
    lines = [("all", found.total)]
    lines += [(table.code, line) for table in found.tables for line in table.lines]
    return [heading, *([code, line.label, *_plain(line.share)] for code, line in lines)]


def _plain(one: Share) -> list[Any]:
    parts = (one.estimate, one.low, one.high)
    return [one.of, one.number, *("" if part is None else f"{part:.4f}" for part in parts)]


def _groups(rows: Any) -> list[_Group]:
    first = (
        Message.objects.filter(invitation=OuterRef("pk"), state=MessageState.SENT)
        .order_by("number", "id")
        .values("means")[:1]
    )
    counted = (
        rows.annotate(means=Subquery(first))
        .order_by()
        .values(*STEP, "means", "reminder", answered=Q(completed_at__isnull=False))
        .annotate(number=Count("pk"))
    )
    return [
        _Group(
            row["review__step__name"],
            _days(row["review__step__offset_value"], row["review__step__offset_unit"]),
            MEANS.get(row["means"] or BY_HAND, str(row["means"])),
            row["reminder"],
            bool(row["answered"]),
            row["number"],
        )
        for row in counted
    ]


def _days(value: int, unit: str) -> int:
    return (windows.add_offset(COUNTED_FROM, value, unit) - COUNTED_FROM).days


def _line(label: str, groups: list[_Group]) -> Line:
    answered = sum(one.number for one in groups if one.answered)
    return Line(label, share(answered, sum(one.number for one in groups)))


def _table(
    code: str, title: str, first: str, groups: list[_Group], label: Callable[[_Group], str]
) -> Table:
    by_label: dict[str, list[_Group]] = {}
    for one in groups:
        by_label.setdefault(label(one), []).append(one)
    in_time = sorted(by_label, key=lambda name: (min(one.days for one in by_label[name]), name))
    lines = tuple(_line(name, by_label[name]) for name in in_time)
    return Table(code, title, first, "Sent, time over", lines)


def _by_reminder(groups: list[_Group]) -> Table:
    """Of those who were still silent when a reminder went, count who answered before the next."""
    lines = []
    for number in range(max((one.reminder for one in groups), default=-1) + 1):
        silent = [one for one in groups if one.reminder >= number]
        here = sum(one.number for one in silent if one.answered and one.reminder == number)
        label = "The invitation itself" if number == 0 else f"Reminder {number}"
        lines.append(Line(label, share(here, sum(one.number for one in silent))))
    return Table("reminder", "By reminder", "After", "Silent until then", tuple(lines))


def _by_mode(user: Viewer, since: date, today: date) -> Table:
    """Of the reviews that wanted a patient's own score, count by how one was given."""
    own = [code for code, one in INSTRUMENTS.items() if one.patient_reported]
    steps = [
        step.pk for step in ProtocolStep.objects.only("pk", "scores") if set(step.scores) & set(own)
    ]
    rows = (
        visible(user, Review, "see_responses")
        .filter(step__in=steps, due_on__gte=since, closes_on__lt=today)
        .exclude(state=ReviewState.NOT_NEEDED)
    )
    rows = choices.usable(rows).order_by()
    every = rows.count()
    # Joined once: to ask for each mode whether a score of each review is there took five times as long.
    given = rows.filter(
        procedure__injury__scores__voided_at__isnull=True,
        procedure__injury__scores__instrument__in=own,
        procedure__injury__scores__taken_on__gte=F("opens_on"),
        procedure__injury__scores__taken_on__lte=F("closes_on"),
    ).annotate(mode=F("procedure__injury__scores__mode"))
    counts = dict(
        given.values("mode")
        .annotate(number=Count("pk", distinct=True))
        .values_list("mode", "number")
    )
    lines = [
        Line(str(ScoreMode(mode).label), share(counts.get(mode, 0), every))
        for mode in ScoreMode.values
    ]
    return Table("mode", "By mode", "Answered", "Reviews whose window is over", tuple(lines))
