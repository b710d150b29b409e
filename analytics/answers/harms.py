"""What went wrong? Complications by kind and construct; planned removals apart from the unplanned."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from analytics.answers import outcomes
from analytics.answers.horizons import Horizon
from analytics.answers.outcomes import GroupRow
from analytics.endpoints.catalogue import DEFINITIONS
from analytics.endpoints.definition import Data

PLANNED, UNPLANNED, REVISION = "planned removal", "unplanned removal", "revision fixation"


@dataclass(frozen=True)
class KindRow:
    """One kind of complication in one group."""

    kind: str
    name: str
    row: GroupRow


@dataclass(frozen=True)
class Reoperations:
    """Operations after the index procedure, counted by procedures that had any."""

    group: str
    operated: int
    counts: Mapping[str, int]


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
    removal = reoperations["kind"] == "implant_removal"
    planned = reoperations["planned_removal"].astype(bool)
    labelled = {
        PLANNED: reoperations.loc[removal & planned],
        UNPLANNED: reoperations.loc[removal & ~planned],
        REVISION: reoperations.loc[reoperations["kind"] == "revision_fixation"],
        "washout": reoperations.loc[reoperations["kind"] == "washout"],
    }
    answers = []
    for name, members in cases.groupby(outcomes.groups_of(cases, by), sort=True):
        counts = {
            label: int(members.index.isin(rows["index_id"]).sum())
            for label, rows in labelled.items()
        }
        answers.append(Reoperations(str(name), len(members), counts))
    return tuple(answers)


def to_rows(result: HarmsAnswer) -> list[dict[str, Any]]:
    """Return kinds over all groups and by group as plain rows."""
    rows = [{"kind": "any", **row} for row in outcomes.to_rows(result.any_kind)]
    listed = (*result.kinds, *result.by_group)
    return rows + [{"kind": one.kind, **outcomes.plain_row(one.row)} for one in listed]
