"""The story of the hardware: who it troubled, whose came out, when, united or not, and better after?"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd

from analytics.answers.outcomes import ALL, MIN_AT_RISK, groups_of
from analytics.endpoints.definition import Data
from followup.rules.scores.catalogue import INSTRUMENTS

# A score this long before a removal is still of its time, and one so soon after it is not yet.
BEFORE_DAYS, AFTER_DAYS = 365, 42
PLANNED, OTHER = "planned", "other"
ASKED = ("raised", "asked", "declined")
UNION = ("united", "not united", "not known")


@dataclass(frozen=True)
class Story:
    """One group. Every count has its case keys in `cases`.

    `troubled` had hardware irritation recorded; `raised`, `asked` and `declined` are of the question
    whether it comes out. `planned` had a removal that their construct asks
    for as the first one, `unplanned` another one. `quartiles` are days to the first removal. `union`
    says what the last film judged up to the removal showed, of fractures. `score_change` is, by
    instrument, the number of patients with a score before and after, the median change, and how many
    were better.
    """

    group: str
    operated: int
    cases: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    quartiles: tuple[float, float, float] | None = None
    score_change: Mapping[str, tuple[int, float, int]] = field(default_factory=dict)

    def count(self, which: str) -> int:
        """How many cases a number of the story stands for."""
        return len(self.cases.get(which, ()))


NUMBERS: dict[str, str] = {
    "troubled": "hardware irritation recorded",
    "troubled_in": "of these, hardware still in",
    "troubled_out": "of these, hardware removed",
    "raised": "removal raised because it made trouble",
    "asked": "asked for by the patient",
    "declined": "removal declined",
    "planned": "removed as planned for the construct",
    "unplanned": "removed otherwise",
    "for_symptoms": "removed because it made trouble",
    "union_united": "united on the last film before removal",
    "union_not united": "not united on the last film before removal",
    "union_not known": "union not judged on a film before removal",
}


def answer(
    data: Data,
    reoperations: pd.DataFrame,
    scores: pd.DataFrame,
    questions: pd.DataFrame,
    *,
    by: str = "construct_type",
    min_at_risk: int = MIN_AT_RISK,
) -> tuple[Story, ...]:
    """Tell the story of each group, and of all; score changes of fewer than the minimum are not told.

    Raises ValueError when the cases have no such column to group by.
    """
    if by not in data.cases.columns:
        raise ValueError(f"cases have no column '{by}' to group by")
    facts = _facts(data, reoperations).join(_asked(data.cases, questions))
    changes = _changes(facts, scores)
    groups = groups_of(data.cases, by).astype(str)
    parts = [(str(name), members) for name, members in facts.groupby(groups, sort=True)]
    return tuple(
        _story(name, members, changes.loc[changes["procedure_id"].isin(members.index)], min_at_risk)
        for name, members in (*parts, (ALL, facts))
    )


def _facts(data: Data, reoperations: pd.DataFrame) -> pd.DataFrame:
    """Return for each case whether it was troubled, when its hardware first came out, how and united."""
    cases = data.cases
    irritated = data.complications.loc[data.complications["kind"] == "hardware_irritation"]
    facts = pd.DataFrame(index=cases.index)
    facts["troubled"] = cases.index.isin(irritated["procedure_id"])
    removals = reoperations.loc[reoperations["kind"] == "implant_removal"]
    first = removals.sort_values("performed_on", kind="stable").drop_duplicates("index_id")
    first = first.set_index("index_id").reindex(cases.index)
    facts["out_on"] = pd.to_datetime(first["performed_on"])
    planned = first["planned_removal"].eq(other=True)
    facts["how"] = np.select(
        [facts["out_on"].isna(), planned.to_numpy(dtype=bool)], ["", PLANNED], OTHER
    )
    facts["for_symptoms"] = first["reason"].eq("symptoms").to_numpy(dtype=bool)
    facts["day"] = (facts["out_on"] - cases["performed_on"]).dt.days
    facts["union"] = _union(data, facts["out_on"])
    return facts


def _asked(cases: pd.DataFrame, questions: pd.DataFrame) -> pd.DataFrame:
    """Return for each case whether a removal was raised for trouble, asked for, and declined."""
    nobody = pd.DataFrame(False, index=cases.index, columns=list(ASKED))
    if questions.empty:
        return nobody
    steps = questions.set_index("procedure_id")
    found = pd.DataFrame(
        {
            "raised": steps["because"] == "symptoms",
            "asked": (steps["source"] == "patient") | (steps["kind"] == "asked_again"),
            "declined": steps["kind"] == "declined",
        }
    )
    return found.groupby(level=0).any().reindex(cases.index, fill_value=False)


def _union(data: Data, out_on: "pd.Series[Any]") -> "pd.Series[Any]":
    films = data.films.loc[data.films["judged"], ["procedure_id", "taken_on", "united"]]
    limit = out_on.reindex(films["procedure_id"]).to_numpy()
    before = films.loc[films["taken_on"].to_numpy() <= limit]
    last = before.drop_duplicates("procedure_id", keep="last").set_index("procedure_id")["united"]
    shown = last.reindex(data.cases.index)
    word = np.where(
        shown.isna(), "not known", np.where(shown.eq(other=True), "united", "not united")
    )
    asked = out_on.notna() & (data.cases["injury_kind"] == "lateral_clavicle")
    return pd.Series(np.where(asked, word, ""), index=data.cases.index)


def _changes(facts: pd.DataFrame, scores: pd.DataFrame) -> pd.DataFrame:
    """Return the last score before and the first well after a removal, of one instrument and patient."""
    columns = ["procedure_id", "instrument", "change"]
    if scores.empty:
        return pd.DataFrame(columns=columns)
    rows = scores.loc[
        scores["total"].notna(), ["procedure_id", "instrument", "answered_on", "total"]
    ]
    out = facts["out_on"].reindex(rows["procedure_id"]).to_numpy()
    gap = (rows["answered_on"].to_numpy() - out) / np.timedelta64(1, "D")
    rows = rows.assign(gap=gap, instrument=rows["instrument"].astype(str)).sort_values("gap")
    key = ["procedure_id", "instrument"]
    early = rows.loc[(rows["gap"] <= 0) & (rows["gap"] >= -BEFORE_DAYS)]
    before = early.drop_duplicates(key, keep="last").set_index(key)["total"]
    after = rows.loc[rows["gap"] >= AFTER_DAYS].drop_duplicates(key).set_index(key)["total"]
    change = (after - before).dropna().rename("change").reset_index()
    return change[columns]


def _story(group: str, facts: pd.DataFrame, changes: pd.DataFrame, least: int) -> Story:
    keys = facts.index.to_numpy()
    out = facts["how"].to_numpy() != ""
    troubled = facts["troubled"].to_numpy()
    chosen = {
        "troubled": troubled,
        "troubled_in": troubled & ~out,
        "troubled_out": troubled & out,
        **{name: facts[name].to_numpy(dtype=bool) for name in ASKED},
        "planned": facts["how"].to_numpy() == PLANNED,
        "unplanned": facts["how"].to_numpy() == OTHER,
        "for_symptoms": facts["for_symptoms"].to_numpy(),
        **{f"union_{word}": facts["union"].to_numpy() == word for word in UNION},
    }
    days = facts.loc[out, "day"]
    quartiles = tuple(float(day) for day in days.quantile([0.25, 0.5, 0.75])) if len(days) else None
    return Story(
        group=group,
        operated=len(facts),
        cases={name: tuple(keys[which].tolist()) for name, which in chosen.items()},
        quartiles=quartiles,  # type: ignore[arg-type]
        score_change={
            str(name): (len(some), float(some.median()), _better(str(name), some))
            for name, some in changes.groupby("instrument")["change"]
            if len(some) >= least
        },
    )


def _better(instrument: str, change: "pd.Series[Any]") -> int:
    """Count who moved towards the better end of the instrument."""
    lower = INSTRUMENTS[instrument].lower_is_better
    return int((change < 0).sum() if lower else (change > 0).sum())


def to_rows(stories: tuple[Story, ...]) -> list[dict[str, Any]]:
    """Return plain rows for a file."""
    return [
        {
            "group": one.group,
            "operated": one.operated,
            **{name.replace(" ", "_"): one.count(name) for name in NUMBERS},
            **dict(
                zip(("day_q1", "day_median", "day_q3"), one.quartiles or [None] * 3, strict=True)
            ),
        }
        for one in stories
    ]
