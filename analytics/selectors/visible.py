"""Who may see which outcomes: the sites where a person may, and nothing else."""

from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from followup.selectors import visible as followup_visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer

AnyModel = TypeVar("AnyModel", bound=Model)


def visible(user: Viewer, model: type[AnyModel], action: str = "see_outcomes") -> QuerySet[Any]:
    """Return the rows of a model that a person may see for an action, at their sites only."""
    return followup_visible.visible(user, model, action)


def sites_of(user: Viewer, action: str = "see_outcomes") -> list[Site]:
    """Return the sites whose outcomes a person may see."""
    return list(visible(user, Site, action))
