"""What went wrong? Complications by kind and construct; planned removals apart from the unplanned."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from analytics.answers import outcomes
from analytics.answers.horizons import Horizon
from analytics.answers.outcomes import GroupRow
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data
from analytics.estimators.proportions import wilson
from analytics.estimators.results import Estimate

PLANNED, UNPLANNED, REVISION = "planned removal", "unplanned removal", "revision fixation"
WASHOUT, OTHER, ANY_UNPLANNED = "washout", "another operation", "any but a planned removal"
LATER = {
    "planned": PLANNED,
    "unplanned": UNPLANNED,
    "revision": REVISION,
    "washout": WASHOUT,
    "other": OTHER,
    "any": ANY_UNPLANNED,
}


@dataclass(frozen=True)
class KindRow:
    """One kind of complication in one group."""

    kind: str
    name: str
    row: GroupRow


@dataclass(frozen=True)
class Reoperations:
    """Operations after the index procedure, counted by procedures that had any.

    `cases` has the keys behind each count; `share` is of those operated, with Wilson's interval.
    """

    group: str
    operated: int
    counts: Mapping[str, int]
    share: Mapping[str, Estimate] = field(default_factory=dict)
    cases: Mapping[str, tuple[int, ...]] = field(default_factory=dict)


@dataclass(frozen=True)
class HarmsAnswer:
    """Any complication by group, each kind over all, each kind by group, and reoperations apart."""

    any_kind: outcomes.Answer
    kinds: tuple[KindRow, ...]
    by_group: tuple[KindRow, ...]
    reoperations: tuple[Reoperations, ...]


def answer(
    data: Data,
    reoperations: pd.DataFrame,
    horizon: Horizon,
    *,
    by: str = "construct_type",
    min_at_risk: int = outcomes.MIN_AT_RISK,
) -> HarmsAnswer:
    """Compute complications up to a horizon; kinds that nobody had are left out.

    Raises ValueError when the cases have no such column to group by.
    """
    any_kind = outcomes.answer(
        data, DEFINITIONS["any-complication"], horizon, by=by, min_at_risk=min_at_risk
    )
    present = set(data.complications["kind"])
    kinds, by_group = [], []
    for definition in DEFINITIONS.values():
        if not present & set(definition.kinds):
            continue
        one = outcomes.answer(data, definition, horizon, by=by, min_at_risk=min_at_risk)
        kind, name = definition.endpoint, definition.name
        kinds.append(KindRow(kind, name, one.total))
        by_group += [KindRow(kind, name, row) for row in one.rows if row.events]
    return HarmsAnswer(
        any_kind=any_kind,
        kinds=tuple(sorted(kinds, key=lambda one: -one.row.events)),
        by_group=tuple(by_group),
        reoperations=_reoperations(data.cases, reoperations, by),
    )


def _reoperations(
    cases: pd.DataFrame, reoperations: pd.DataFrame, by: str
) -> tuple[Reoperations, ...]:
    labelled = later_of(reoperations)
    answers = []
    named = list(cases.groupby(outcomes.groups_of(cases, by), sort=True))
    for name, members in [*named, (outcomes.ALL, cases)] if named else []:
        keys = {
            label: tuple(members.index[members.index.isin(rows)].tolist())
            for label, rows in labelled.items()
        }
        counts = {label: len(mine) for label, mine in keys.items()}
        share = {label: wilson(count, len(members)) for label, count in counts.items()}
        answers.append(Reoperations(str(name), len(members), counts, share, keys))
    return tuple(answers)


def later_of(reoperations: pd.DataFrame) -> "dict[str, pd.Series[Any]]":
    """Return the index procedures that had each sort of later operation, by its words."""
    kind = reoperations["kind"]
    removal, planned = kind == "implant_removal", reoperations["planned_removal"].astype(bool)
    known = ("implant_removal", "revision_fixation", "washout")
    chosen = {
        PLANNED: removal & planned,
        UNPLANNED: removal & ~planned,
        REVISION: kind == "revision_fixation",
        WASHOUT: kind == "washout",
        OTHER: ~kind.isin(known),
        ANY_UNPLANNED: ~(removal & planned),
    }
    return {label: reoperations.loc[rows, "index_id"] for label, rows in chosen.items()}


def reoperation_rows(found: HarmsAnswer) -> list[dict[str, Any]]:
    """Return later operations as plain rows for a file."""
    return [
        {
            "group": one.group,
            "operation": label,
            "operated": one.operated,
            "had_at_least_one": count,
            "share": one.share[label].estimate,
            "share_low": one.share[label].low,
            "share_high": one.share[label].high,
        }
        for one in found.reoperations
        for label, count in one.counts.items()
    ]


def to_rows(result: HarmsAnswer) -> list[dict[str, Any]]:
    """Return kinds over all groups and by group as plain rows."""
    rows = [{"kind": "any", **row} for row in outcomes.to_rows(result.any_kind)]
    listed = (*result.kinds, *result.by_group)
    return rows + [{"kind": one.kind, **outcomes.plain_row(one.row)} for one in listed]
