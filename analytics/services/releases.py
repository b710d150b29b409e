"""Letting a table out of the team: small numbers hidden, and held against everything that left before."""

import hashlib
import json
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from analytics.answers.outcomes import ALL, groups_of
from analytics.models.releases import Release, ReleasedPopulation
from analytics.rules import differencing, suppression
from analytics.rules.differencing import Population
from analytics.rules.suppression import HIDDEN, HIDE_UP_TO, Shape
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.outcomes import Given
from registry.errors import BadInput
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records

Rows = Sequence[Mapping[str, Any]]
GROUP = "group"
DIGITS = 16
# How long the words of a release and of its cohort may be.
WHAT, COHORT = 80, 300


@dataclass(frozen=True)
class Permit:
    """What may be told of a view: its populations by group, and the groups that have to stay hidden."""

    view: Given
    populations: Mapping[str, Population]
    hidden: frozenset[str]

    def table(self, rows: Rows, shape: Shape) -> list[dict[str, Any]]:
        """Return a table as it may leave: what is too near to an earlier one is hidden as small."""
        return suppression.table(rows, shape, hide=self.hidden)

    @property
    def words(self) -> str:
        """Say which groups are hidden for the sake of what left before, '' for none."""
        if not self.hidden:
            return ""
        return f"hidden as well: {', '.join(sorted(self.hidden))}, because {differencing.REASON}"


def let_out(
    *, view: Given, what: str, rows: Rows, shape: Shape, by: Person, now: datetime
) -> tuple[list[dict[str, Any]], str]:
    """Return a table as it leaves the team, and what else is hidden in words; the ledger knows of it.

    Raises BadInput where the cohort is not one of those that leave, or is too near to an earlier one.
    """
    with records.change(by=by, reason=f"let out: {what}"):
        permit = permitted(view)
        told = permit.table(rows, shape)
        _write_down(permit, what, _told_groups(told, shape), told, by, now)
    return told, permit.words


def permitted(view: Given) -> Permit:
    """Hold a view against everything that left before; to be called inside the change that lets it out.

    Raises BadInput as `let_out` does.
    """
    refuse_off_grid(view.rule)
    # The lock makes two who let something out at once come one after the other.
    list(Site.objects.select_for_update(no_key=True).order_by("pk").values_list("pk", flat=True))
    populations = _populations(view)
    rows = ReleasedPopulation.objects.values_list("members", flat=True)
    earlier = [frozenset(members) for members in rows]
    new = {
        name: members
        for name, members in populations.items()
        if len(members) > HIDE_UP_TO and members not in earlier
    }
    near = {name for name, members in new.items() if differencing.gives_away(members, earlier)}
    if ALL in near:
        raise BadInput(
            f"This cohort stays in the team: {differencing.REASON}. Take the snapshot of that release, "
            "or wait until more patients are in it."
        )
    return Permit(view, populations, frozenset(near))


def refuse_off_grid(rule: CohortRule) -> None:
    """Refuse what is cut too finely to leave: whole years only, and no single surgeon.

    Raises BadInput.
    """
    faults = {}
    if rule.surgeon_id is not None:
        faults["surgeon"] = "figures of one surgeon stay in the team"
    if rule.operated_from is not None and not _begins_year(rule.operated_from):
        faults["from"] = "for outside the team a period begins on 1 January"
    if rule.operated_to is not None and not _ends_year(rule.operated_to):
        faults["to"] = "for outside the team a period ends on 31 December"
    if faults:
        raise BadInput(faults)


def note_pack(
    *, permit: Permit, tables: Iterable[tuple[Rows, Shape]], what: str, by: Person, now: datetime
) -> None:
    """Write down what a pack tells, all of its tables together."""
    every, told = [], set[str]()
    for rows, shape in tables:
        made = permit.table(rows, shape)
        every += made
        told |= _told_groups(made, shape)
    _write_down(permit, what, told, every, by, now)


def near_to(*, keys: Collection[str], what: str) -> int:
    """Return how many lists of patients left otherwise of which some few are not among `keys`.

    Whoever holds rows of all the others, as those of an extract, could tell of those few by
    subtraction. What left under the same words is left aside: its rows are known already.
    """
    mine = frozenset(map(_digest, keys))
    rows = ReleasedPopulation.objects.exclude(release__what=what[:WHAT])
    earlier = map(frozenset, rows.values_list("members", flat=True))
    return sum(differencing.is_few(len(one - mine)) and not one.isdisjoint(mine) for one in earlier)


def note_rows(
    *,
    keys: Collection[str],
    what: str,
    cohort: str,
    snapshot_hash: str,
    content: bytes,
    by: Person,
    now: datetime,
) -> Release:
    """Write down that rows of patients left, so that no later table gives away who is not among them.

    To be called inside the change that lets them out.
    """
    release, _ = Release.objects.get_or_create(
        what=what[:WHAT],
        cohort=cohort[:COHORT],
        snapshot_hash=snapshot_hash,
        content_hash=hashlib.sha256(content).hexdigest(),
        defaults={"at": now, "by": by},
    )
    _note_population(release, ALL, frozenset(map(_digest, keys)))
    return release


def _begins_year(day: date) -> bool:
    return (day.month, day.day) == (1, 1)


def _ends_year(day: date) -> bool:
    return (day.month, day.day) == (12, 31)


def _populations(view: Given) -> dict[str, Population]:
    cases = view.data.cases
    if cases.empty:
        return {}
    keys = cases["patient_key"].astype(str).map(_digest)
    groups = groups_of(cases, view.rule.by).astype(str)
    found = {name: frozenset(rows) for name, rows in keys.groupby(groups)}
    return {**found, ALL: frozenset(keys)}


def _digest(key: str) -> str:
    return hashlib.sha256(key.encode()).hexdigest()[:DIGITS]


def _told_groups(told: Rows, shape: Shape) -> set[str]:
    """Return the groups of which a table tells any count; without groups it tells of all together."""
    if GROUP not in shape.words:
        return {ALL}
    return {
        str(row[GROUP])
        for row in told
        if any(row[name] != HIDDEN and row[name] for name in shape.counts)
    } | {ALL}


def _write_down(
    permit: Permit, what: str, told: Collection[str], rows: Rows, by: Person, now: datetime
) -> None:
    content = json.dumps(rows, sort_keys=True, default=str)
    release, _ = Release.objects.get_or_create(
        what=what[:WHAT],
        cohort=permit.view.rule.words()[:COHORT],
        snapshot_hash=permit.view.snapshot.content_hash,
        content_hash=hashlib.sha256(content.encode()).hexdigest(),
        defaults={"at": now, "by": by},
    )
    for name in sorted(set(told) & set(permit.populations)):
        _note_population(release, name, permit.populations[name])


def _note_population(release: Release, group: str, members: Population) -> None:
    if len(members) <= HIDE_UP_TO:
        return
    listed = sorted(members)
    ReleasedPopulation.objects.get_or_create(
        members_hash=hashlib.sha256(" ".join(listed).encode()).hexdigest(),
        defaults={
            "release": release,
            "group": group[:WHAT],
            "members": listed,
            "number": len(members),
        },
    )
