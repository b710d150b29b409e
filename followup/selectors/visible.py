"""Who may see what in the follow-up: the registry's rule, for this room's rows."""

from typing import Any, TypeVar

from django.db.models import Model, QuerySet

from followup.models.protocols import Protocol, ProtocolStep, ProtocolVersion
from registry.selectors import visible as registry_visible
from registry.selectors.visible import Viewer

AnyModel = TypeVar("AnyModel", bound=Model)


def visible(user: Viewer, model: type[AnyModel], action: str = "see_patient") -> QuerySet[Any]:
    """Return the rows of a model that a person may see for an action, at their sites only.

    Shipped protocols, which belong to no site, are seen by everybody who may set up any site.
    """
    if model in (Protocol, ProtocolVersion, ProtocolStep):
        return _protocols(user, model, action)
    return registry_visible.visible(user, model, action)


def _protocols(user: Viewer, model: type[Model], action: str) -> QuerySet[Any]:
    sites = registry_visible.site_ids(user, action)
    paths: dict[type[Model], str] = {Protocol: "site", ProtocolVersion: "protocol__site"}
    path = paths.get(model, "version__protocol__site")
    rows = model._default_manager.all()
    if not sites:
        return rows.none()
    return rows.filter(**{f"{path}__in": sites}) | rows.filter(**{f"{path}__isnull": True})
