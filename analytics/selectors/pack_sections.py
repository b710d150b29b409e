"""Which sections a pack has, in their order: one line for each question of the quality meeting."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from analytics.answers.horizons import HORIZONS
from analytics.answers.outcomes import ALL
from analytics.endpoints.catalogue import LOSS, UNION
from analytics.figures import (
    section_comparison,
    section_following,
    section_function,
    section_harms,
    section_literature,
    section_outcomes,
    section_strip,
)
from analytics.figures.sections import About, Section
from analytics.models.snapshots import Snapshot
from analytics.selectors import outcomes
from analytics.selectors.cohorts import GROUPS, CohortRule
from analytics.selectors.following import Following
from analytics.selectors.frames import Frames
from analytics.selectors.function import overview
from analytics.selectors.literature import literature_answer, published
from analytics.selectors.outcomes import Given
from registry.models.sites import Site


@dataclass(frozen=True)
class Asked:
    """The cohort that a pack is about, and what its figures are made from."""

    rule: CohortRule
    sites: Sequence[Site]
    snapshot: Snapshot
    frames: Frames

    def view(self, endpoint: str = LOSS) -> Given:
        """Return the view of an endpoint; another one than the rule's takes its own definition."""
        rule = self.rule
        if endpoint != rule.endpoint:
            rule = replace(rule, endpoint=endpoint, definition_id="")
        return outcomes.given(rule, self.sites, self.snapshot, self.frames)

    @property
    def about(self) -> About:
        """What every caption names."""
        return About(self.rule.words(), self.snapshot.cutoff, GROUPS[self.rule.by])


def loss_of_reduction(asked: Asked) -> Section:
    """Whether the reduction held: rates, bounds and curves."""
    return _rates(asked, LOSS, "held", "Did it hold?")


def union(asked: Asked) -> Section:
    """Whether fractures united: rates, bounds and curves."""
    return _rates(asked, UNION, "united", "Did it unite?")


def _rates(asked: Asked, endpoint: str, key: str, title: str) -> Section:
    view = asked.view(endpoint)
    if view.unchosen is not None:
        return Section(key, title, f"{view.unchosen.state} It is chosen under Setup.")
    return section_outcomes.section(key, title, outcomes.outcome_answer(view), asked.about)


def strip(asked: Asked) -> Section:
    """The rate of loss under every definition that ships."""
    view = asked.view()
    own = "" if view.unchosen else view.definition.id
    result = outcomes.strip_answer(view)
    return section_strip.section("rules", "Does it depend on the rule?", result, asked.about, own)


def comparison(asked: Asked) -> Section:
    """Each group against the largest, unadjusted."""
    view, title = asked.view(), "Which construct does better?"
    if view.unchosen is not None:
        return Section("compared", title, f"{view.unchosen.state} It is chosen under Setup.")
    result = outcomes.compare_answer(view)
    return section_comparison.section("compared", title, result, asked.about)


def harms(asked: Asked) -> Section:
    """What went wrong: complications by group and kind, and operations afterwards."""
    result = outcomes.harm_answer(asked.view("any_complication"))
    return section_harms.section("harms", "What went wrong?", result, asked.about)


def following(asked: Asked) -> Section:
    """Where everybody went between the operation and the analysis, and completeness."""
    view, title = asked.view(), "How well do we follow?"
    if view.unchosen is not None:
        return Section("following", title, f"{view.unchosen.state} It is chosen under Setup.")
    found = Following(view)
    return section_following.section(
        "following",
        title,
        found.flows()[ALL],
        found.completeness(),
        view.definition.label,
        asked.about,
    )


def function(asked: Asked) -> Section:
    """Motion and scores at the horizon, all groups together."""
    view = asked.view()
    rows = [(one.measure, one.row) for one in overview(view)]
    return section_function.section(
        "function",
        "How do they move and feel?",
        rows,
        HORIZONS[view.rule.horizon].name,
        asked.about,
    )


def literature(asked: Asked) -> Section:
    """What others report, beside ours; no targets."""
    views = [asked.view(endpoint) for endpoint in published().endpoints()]
    results = [literature_answer(view) for view in views if view.unchosen is None]
    return section_literature.section("literature", "What do others report?", results, asked.about)


SECTIONS: tuple[Callable[[Asked], Section], ...] = (
    loss_of_reduction,
    strip,
    comparison,
    union,
    harms,
    following,
    function,
    literature,
)
