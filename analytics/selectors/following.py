"""How well a cohort is followed, from the same snapshot and definition as its rates."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import pandas as pd

from analytics.answers import (
    attendance,
    balance,
    completeness,
    flow,
    outcomes,
    outside,
    responding,
    tipping,
)
from analytics.answers.attendance import Line
from analytics.answers.balance import Comparison
from analytics.answers.flow import Flow
from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import ALL, Answer, groups_of
from analytics.answers.responding import Response
from analytics.answers.tipping import TippingAnswer
from analytics.rules.suppression import Shape
from analytics.selectors.outcomes import Given, outcome_answer
from followup.rules.scores.catalogue import INSTRUMENTS
from registry.errors import BadInput

OWN = frozenset(code for code, one in INSTRUMENTS.items() if one.patient_reported)


@dataclass(frozen=True)
class Behind:
    """The cases behind one number, with the number in words."""

    words: str
    cases: tuple[int, ...]


def refuse_first_kind(view: Given) -> None:
    """Refuse a snapshot that was taken before reviews, motion and scores were frozen in it.

    Raises BadInput.
    """
    if "movement" not in view.frames.motion.columns:
        raise BadInput(
            "This snapshot was taken before reviews, motion and scores were kept in one: "
            "open a newer one, or the page without a snapshot in its address."
        )


class Following:
    """The answers about following for one view, each worked out when it is first asked for."""

    def __init__(self, view: Given) -> None:
        """Take a view; raises BadInput where its snapshot is of the first kind."""
        refuse_first_kind(view)
        self.view = view
        self.horizon = HORIZONS[view.rule.horizon]
        self.cutoff = pd.Timestamp(view.data.cutoff)
        self.cases = view.data.cases
        self.result: Answer = outcome_answer(view)

    @cached_property
    def reviews(self) -> pd.DataFrame:
        """The planned reviews of the cohort."""
        return self._of_cohort(self.view.frames.reviews)

    @cached_property
    def scores(self) -> pd.DataFrame:
        """The scores of the cohort."""
        return self._of_cohort(self.view.frames.scores)

    @cached_property
    def placed(self) -> pd.DataFrame:
        """Where each case stands in the flow."""
        return flow.places(self.result.applied, self.cases, self.horizon, self.cutoff)

    def flows(self) -> dict[str, Flow]:
        """Return the flow of each group and, last, of all."""
        groups = groups_of(self.cases, self.view.rule.by)
        parts = {str(name): rows for name, rows in self.placed.groupby(groups, sort=True)}
        found = {name: flow.flow(rows, self.horizon) for name, rows in parts.items()}
        return {**found, ALL: flow.flow(self.placed, self.horizon, self.view.opted_out)}

    def completeness(self) -> tuple[completeness.GroupRow, ...]:
        """Return completeness three ways by group."""
        return completeness.answer(
            self.result.applied,
            self.cases,
            self.reviews,
            self.horizon,
            self.cutoff,
            self.view.rule.by,
        )

    def attendance(self) -> dict[str, tuple[Line, ...]]:
        """Return how planned reviews ended by step, site and month."""
        return {
            by: attendance.lines(self.reviews, self.cases, by, self.cutoff) for by in attendance.BY
        }

    @cached_property
    def responses(self) -> tuple[Response, ...]:
        """Response to patients' own scores at each horizon."""
        return responding.answer(self.reviews, self.scores, self.cutoff, OWN)

    def balances(self) -> dict[str, Comparison]:
        """Return how followed and lost, and responders and others, differ at the horizon."""
        known = balance.with_early_results(
            self.result.applied, self.cases, self.view.data.complications, self.scores
        )
        came, gone = flow.followed(self.placed), flow.stayed_away(self.placed)
        keys = self.cases.index
        answered, silent = self._answered()
        return {
            "lost": balance.compare(known, keys[came], keys[gone], ("followed", "lost")),
            "silent": balance.compare(known, answered, silent, ("answered", "did not answer")),
        }

    def tipping(self, target: float | None) -> TippingAnswer:
        """Return what those not judged could do to the rates; the target is a share."""
        return tipping.answer(self.result, target)

    def behind(self, which: str, group: str) -> Behind | None:
        """Return the cases behind a number of the page; None where there is no such number."""
        found = self._numbers().get(which)
        if found is None or not group or group == ALL:
            return found
        groups = groups_of(self.cases, self.view.rule.by).astype(str)
        if group not in set(groups):
            return None
        mine = set(self.cases.index[(groups == group).to_numpy()])
        return Behind(found.words, tuple(key for key in found.cases if key in mine))

    def _numbers(self) -> dict[str, Behind]:
        whole = flow.flow(self.placed, self.horizon)
        parts = [stage.part for stage in whole.stages]
        parts += [part for stage in whole.stages for part in stage.left]
        parts += whole.ends
        found = {part.code: Behind(part.words, part.cases) for part in parts}
        gone = flow.lost(self.placed)
        found["lost"] = Behind("lost to follow-up", tuple(self.cases.index[gone].tolist()))
        found |= self._judged() | self._reviewed()
        for by, lines in self.attendance().items():
            for line in lines:
                for way, keys in attendance.behind(line).items():
                    said = attendance.words(by, line.label, way)
                    found[attendance.code(by, line.label, way)] = Behind(said, keys)
        for one in self.responses:
            found[f"answered:{one.horizon}"] = Behind(f"answered at {one.name}", one.answered)
            found[f"silent:{one.horizon}"] = Behind(f"did not answer at {one.name}", one.silent)
        return found

    def _judged(self) -> dict[str, Behind]:
        """Return those whom the rate is about, and those who could not be judged."""
        # 'eligible' is a stage of the flow already, by the same rule.
        return {
            code: Behind(words, self.result.total.cases[code])
            for code, words in (
                ("evaluable", "judged at the horizon"),
                ("events", "had the event by the horizon"),
                ("not_evaluable", "eligible and not judged"),
            )
        }

    def _reviewed(self) -> dict[str, Behind]:
        """Return those whose window of a step is over, and those of them who came."""
        due = completeness.due_reviews(self.reviews, self.cutoff)
        found = {}
        for step, rows in due.groupby(due["step"].astype(str)):
            came = rows.loc[rows["way"].isin(completeness.DONE)]
            found[f"due:{step}"] = Behind(f"were due at step {step}", _cases(rows))
            found[f"reviewed:{step}"] = Behind(f"were reviewed at step {step}", _cases(came))
        return found

    def _answered(self) -> "tuple[pd.Index[int], pd.Index[int]]":
        for one in self.responses:
            if one.horizon == self.horizon.code:
                return pd.Index(one.answered), pd.Index(one.silent)
        nobody = self.cases.index[:0]
        return nobody, nobody

    def _of_cohort(self, frame: pd.DataFrame) -> pd.DataFrame:
        return frame.loc[frame["procedure_id"].isin(self.cases.index)]


def _cases(rows: pd.DataFrame) -> tuple[int, ...]:
    return tuple(rows["procedure_id"].drop_duplicates().tolist())


Rows = list[dict[str, object]]


def tables(found: Following, target: float | None) -> Mapping[str, Rows]:
    """Return every table of the page as plain rows, by the name that its download has."""
    balances = found.balances()
    return {
        "completeness": completeness.to_rows(found.completeness()),
        "flow": flow.to_rows(found.flows()),
        "reviews": attendance.to_rows(found.attendance()),
        "responses": responding.to_rows(found.responses),
        "lost": balance.to_rows(balances["lost"]),
        "silent": balance.to_rows(balances["silent"]),
        "tipping": tipping.to_rows(found.tipping(target)),
        "rates": outcomes.to_rows(found.result),
    }


def for_outside(found: Following) -> Mapping[str, tuple[Rows, Shape]]:
    """Return those tables of the page that may leave the team, each with what of it may."""
    whole, flows = completeness.to_rows(found.completeness()), flow.by_group(found.flows())
    return {
        "completeness": (whole, outside.completeness(whole)),
        "flow": (flows, outside.flow(flows)),
        "reviews": (attendance.to_rows(found.attendance()), outside.REVIEWS),
        "responses": (responding.to_rows(found.responses), outside.RESPONSES),
        "tipping": (tipping.group_rows(found.tipping(None)), outside.TIPPING),
        "rates": (outcomes.to_rows(found.result), outside.RATES),
    }
