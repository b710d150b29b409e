"""Who may see which outcomes: the sites where a person may, and nothing else."""

from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from analytics.models.meetings import Meeting, MeetingDecision, MeetingSite
from analytics.models.packs import Pack, PackSite
from analytics.models.research import ResearchExtract, ResearchProject, ResearchSite
from followup.selectors import visible as followup_visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer, site_ids

AnyModel = TypeVar("AnyModel", bound=Model)
# Rows that belong to several sites together: what says which, and how it names them.
SHARED: dict[type[Model], tuple[str, type[Model], str]] = {
    Meeting: ("pk", MeetingSite, "meeting"),
    MeetingDecision: ("meeting", MeetingSite, "meeting"),
    Pack: ("pk", PackSite, "pack"),
    ResearchProject: ("pk", ResearchSite, "project"),
    ResearchExtract: ("project", ResearchSite, "project"),
}


def visible(user: Viewer, model: type[AnyModel], action: str = "see_outcomes") -> QuerySet[Any]:
    """Return the rows of a model that a person may see for an action, at their sites only.

    What belongs to several sites together is seen by whoever may see all of them.
    """
    if model in SHARED:
        path, places, name = SHARED[model]
        here = site_ids(user, action)
        foreign = places._default_manager.exclude(site__in=here).values(name)
        return model._default_manager.exclude(**{f"{path}__in": foreign})
    return followup_visible.visible(user, model, action)


def own_decisions(user: Viewer) -> QuerySet[Any]:
    """Return the decisions that a person owns, of meetings of a site where they still hold a role."""
    here = site_ids(user, "see_own_actions")
    held = MeetingSite.objects.filter(site__in=here).values("meeting")
    return MeetingDecision.objects.filter(owner_id=user.pk, meeting__in=held)


def sites_of(user: Viewer, action: str = "see_outcomes") -> list[Site]:
    """Return the sites whose outcomes a person may see."""
    return list(visible(user, Site, action))
