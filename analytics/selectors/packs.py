"""The packs of figures that a person may see."""

from typing import Any

from django.db.models import Q, QuerySet

from analytics.models.packs import NAMED, FileKind, Pack, PackSite, Surgeons
from analytics.selectors.visible import visible
from registry.selectors.visible import Viewer, site_ids

OF_ONE_SURGEON = Q(address__contains="surgeon=")


def packs(user: Viewer) -> "QuerySet[Any]":
    """Return the packs of figures all of whose sites a person may see, the last first.

    One of a single surgeon is seen by that surgeon, by whoever may see surgeons at all of its
    sites, and by nobody else.
    """
    beyond = PackSite.objects.exclude(site__in=site_ids(user, "see_surgeons")).values("pack")
    own = Q(address__regex=rf"(^|&)surgeon={user.pk}(&|$)")
    rows: QuerySet[Any] = (
        visible(user, Pack)
        .exclude(OF_ONE_SURGEON & ~own & Q(pk__in=beyond))
        .select_related("asked_by", "meeting", "snapshot")
        .defer("snapshot__frames")
        .prefetch_related("sites")
        .order_by("-id")
    )
    return rows


def kind_for(user: Viewer, pack: Pack, kind: FileKind) -> FileKind:
    """Return which file of a pack a person may have: with the points of surgeons, or without them.

    Points of all are for those who may see surgeons at every site of the pack; the own point of
    whoever asked for it is for that surgeon as well.
    """
    if pack.surgeons == Surgeons.NONE:
        return kind
    own = pack.surgeons == Surgeons.OWN and pack.asked_by_id == user.pk
    whole = {site.pk for site in pack.sites.all()} <= set(site_ids(user, "see_surgeons"))
    return NAMED[kind] if own or whole else kind
