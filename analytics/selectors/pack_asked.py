"""What a pack is about: its cohort, what its figures are made from, and who asked for it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from analytics.endpoints.catalogue import LOSS
from analytics.figures.sections import About
from analytics.models.snapshots import Snapshot
from analytics.selectors import outcomes
from analytics.selectors.cohorts import GROUPS, CohortRule
from analytics.selectors.following import Following
from analytics.selectors.frames import Frames
from analytics.selectors.outcomes import Given
from registry.models.people import Person
from registry.models.sites import Site


@dataclass(frozen=True)
class Asked:
    """The cohort that a pack is about, and what its figures are made from, by the rights of `by`."""

    rule: CohortRule
    sites: Sequence[Site]
    snapshot: Snapshot
    frames: Frames
    by: Person

    def view(self, endpoint: str = LOSS) -> Given:
        """Return the view of an endpoint; another one than the rule's takes its own definition."""
        rule = self.rule
        if endpoint != rule.endpoint:
            rule = replace(rule, endpoint=endpoint, definition_id="")
        return outcomes.given(rule, self.sites, self.snapshot, self.frames)

    @cached_property
    def following(self) -> Following:
        """How the cohort of lost reductions is followed; several sections ask it."""
        return Following(self.view())

    @property
    def about(self) -> About:
        """What every caption names."""
        return About(self.rule.words(), self.snapshot.cutoff, GROUPS[self.rule.by])
