"""The answers that page, command and API all give, from the same snapshot and the same code."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from analytics.answers import harms, outcomes
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import LOSS
from analytics.endpoints.definition import Data, EndpointDefinition
from analytics.models.snapshots import Snapshot
from analytics.selectors import cohorts
from analytics.selectors.cohorts import CohortRule
from analytics.selectors.frames import Frames
from registry.models.sites import Site


@dataclass(frozen=True)
class Given:
    """What one view of the outcomes is made from."""

    rule: CohortRule
    definition: EndpointDefinition
    definition_was_chosen: bool
    snapshot: Snapshot
    frames: Frames
    data: Data
    min_at_risk: int
    opted_out: int


def given(rule: CohortRule, sites: Sequence[Site], snapshot: Snapshot, frames: Frames) -> Given:
    """Gather the cohort of a rule at some sites."""
    codes = {site.code for site in sites}
    definition, chosen = cohorts.definition_for(rule, codes)
    return Given(
        rule=rule,
        definition=definition,
        definition_was_chosen=chosen,
        snapshot=snapshot,
        frames=frames,
        data=cohorts.cut(frames, rule, codes),
        min_at_risk=max((site.min_at_risk for site in sites), default=outcomes.MIN_AT_RISK),
        opted_out=_opted_out(snapshot, {rule.site} & codes if rule.site else codes),
    )


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


def harm_answer(view: Given) -> harms.HarmsAnswer:
    """Answer 'What went wrong?' for a view."""
    return harms.answer(
        view.data,
        cohorts.reoperations_of(view.frames, view.data),
        HORIZONS[view.rule.horizon],
        by=view.rule.by,
        min_at_risk=view.min_at_risk,
    )


def provenance(view: Given) -> dict[str, Any]:
    """Return what reproduces a view: cohort, definition, horizon, cut-off, snapshot hash."""
    definition = view.definition
    cutoff: date = view.snapshot.cutoff
    taken: datetime = view.snapshot.taken_at
    return {
        "cohort": view.rule.words(),
        "left_out": f"{view.opted_out} of patients who opted out of the registry, at these sites",
        "endpoint": definition.endpoint,
        "definition": f"{definition.id}, version {definition.version}",
        "definition_text": definition.text,
        "definition_source": definition.source,
        "primary": "chosen by the service" if view.definition_was_chosen else "not chosen yet",
        "horizon": HORIZONS[view.rule.horizon].name,
        "cutoff": cutoff.isoformat(),
        "snapshot": view.snapshot.content_hash,
        "snapshot_taken": taken.isoformat(timespec="seconds"),
        "code_version": view.snapshot.code_version,
        "caution": "observational: not a treatment effect",
    }


DEFAULT_ENDPOINT = LOSS
