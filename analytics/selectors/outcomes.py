"""The answers that page, command and API all give, from the same snapshot and the same code."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from analytics.answers import burden, comparison, hardware, harms, outcomes, sensitivity, timing
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import definitions_of
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.models.snapshots import Snapshot
from analytics.selectors import cohorts
from analytics.selectors.cohorts import CohortRule, Unchosen
from analytics.selectors.frames import Frames
from registry.models.people import Person
from registry.models.sites import Site


@dataclass(frozen=True)
class Given:
    """What one view of the outcomes is made from."""

    rule: CohortRule
    resolved: EndpointDefinition | Unchosen
    snapshot: Snapshot
    frames: Frames
    data: Data
    min_at_risk: int
    opted_out: int
    site_codes: frozenset[str] = frozenset()
    # How a table of this view is taken away: as which kind of file, and for whom.
    file_kind: str = "csv"
    outside: bool = False
    asked_by: Person | None = None

    @property
    def definition(self) -> EndpointDefinition:
        """The definition that the address names or the sites chose.

        Raises Unchosen where there is none.
        """
        if isinstance(self.resolved, Unchosen):
            raise self.resolved
        return self.resolved

    @property
    def unchosen(self) -> Unchosen | None:
        """Why no definition stands for this view, or None where one does."""
        return self.resolved if isinstance(self.resolved, Unchosen) else None


def given(rule: CohortRule, sites: Sequence[Site], snapshot: Snapshot, frames: Frames) -> Given:
    """Gather the cohort of a rule at some sites."""
    codes = {site.code for site in sites}
    return Given(
        rule=rule,
        resolved=_resolved(rule, codes),
        snapshot=snapshot,
        frames=frames,
        data=cohorts.cut(frames, rule, codes),
        min_at_risk=max((site.min_at_risk for site in sites), default=outcomes.MIN_AT_RISK),
        opted_out=_opted_out(snapshot, {rule.site} & codes if rule.site else codes),
        site_codes=frozenset(codes),
    )


def _resolved(rule: CohortRule, codes: set[str]) -> EndpointDefinition | Unchosen:
    try:
        return cohorts.definition_for(rule, codes)
    except Unchosen as none:
        # A page that asks nothing of the definition is not held up by its missing.
        return none


def _opted_out(snapshot: Snapshot, codes: set[str]) -> int:
    """Return how many operations at these sites are in no figure by their patients' choice."""
    by_site: dict[str, int] = snapshot.row_counts.get("opted_out", {})
    return sum(number for code, number in by_site.items() if code in codes)


def outcome_answer(view: Given) -> outcomes.Answer:
    """Answer 'Did it hold?' for a view."""
    return outcomes.answer(
        view.data,
        view.definition,
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def strip_answer(view: Given) -> sensitivity.Strip:
    """Answer 'Does it depend on the rule?' for a view, whether or not a definition was chosen."""
    return sensitivity.answer(
        view.data,
        definitions_of(view.rule.endpoint),
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
    )


def timing_answer(view: Given) -> timing.Timing:
    """Answer 'When did it happen, and when was it found?' for a view."""
    return timing.answer(
        view.data,
        view.definition,
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def compare_answer(
    view: Given, against: str = "", covariates: Sequence[str] = ()
) -> comparison.Comparison:
    """Answer 'Which construct does better?' for a view.

    Raises ValueError for a group or a covariate that there is not.
    """
    return comparison.answer(
        view.data,
        view.definition,
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        against=against,
        covariates=covariates,
        min_at_risk=view.min_at_risk,
    )


def harm_answer(view: Given) -> harms.HarmsAnswer:
    """Answer 'What went wrong?' for a view."""
    return harms.answer(
        view.data,
        cohorts.reoperations_of(view.frames, view.data),
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def harm_of(view: Given, kind: str) -> outcomes.Answer:
    """Answer 'What went wrong?' for one kind of complication."""
    return outcomes.answer(
        view.data,
        definitions_of(kind)[0],
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def burden_answer(view: Given) -> tuple[burden.Burden, ...]:
    """Count patients and events of each kind over all the time they were seen."""
    return burden.answer(view.data, by=view.rule.by)


def hardware_answer(view: Given) -> tuple[hardware.Story, ...]:
    """Tell whose hardware made trouble and whose came out."""
    return hardware.answer(
        view.data,
        cohorts.reoperations_of(view.frames, view.data),
        view.frames.scores,
        view.frames.questions,
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def provenance(view: Given) -> dict[str, Any]:
    """Return what reproduces a view: cohort, definition, horizon, cut-off, snapshot hash."""
    cutoff: date = view.snapshot.cutoff
    taken: datetime = view.snapshot.taken_at
    return {
        "cohort": view.rule.words(),
        "left_out": f"{view.opted_out} of patients who opted out of the registry, at these sites",
        "endpoint": view.rule.endpoint,
        **_defined(view),
        "horizon": HORIZONS[view.rule.horizon].name,
        "cutoff": cutoff.isoformat(),
        "snapshot": view.snapshot.content_hash,
        "snapshot_taken": taken.isoformat(timespec="seconds"),
        "code_version": view.snapshot.code_version,
        "caution": "observational: not a treatment effect",
    }


def _defined(view: Given) -> dict[str, str]:
    if view.unchosen is not None:
        said = {"definition": "none chosen", "definition_text": "", "definition_source": ""}
        return {**said, "primary": view.unchosen.state}
    definition = view.definition
    return {
        "definition": f"{definition.id}, version {definition.version}",
        "definition_text": definition.text,
        "definition_source": definition.source,
        "primary": "named in the address" if view.rule.definition_id else _own(view.rule),
    }


def _own(rule: CohortRule) -> str:
    only = len(definitions_of(rule.endpoint)) == 1
    return "the only one that ships" if only else "chosen by the sites in view"
