"""The rules about keeping that are in force, who is held in spite of them, and what was destroyed."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from django.conf import settings
from django.db.models import Q, QuerySet

from registry.models.hospital_messages import HospitalDoor
from registry.models.retention import Destruction, RetentionHold, RetentionRule
from registry.models.sites import Site
from registry.rules import retention as rules
from registry.rules.retention import Kind
from registry.selectors.visible import Viewer, visible


@dataclass(frozen=True)
class Line:
    """What a site says of one kind: its rule in words, and the version of it."""

    site: Site
    kind: Kind
    rule: RetentionRule | None
    words: str


def in_force(kind: str) -> dict[int, RetentionRule]:
    """Return the rules about a kind by site; in one query."""
    rows = RetentionRule.objects.filter(kind=kind, ended_at__isnull=True)
    return {row.site_id: row for row in rows.select_related("site")}


def current(site: Site, kind: str) -> tuple[RetentionRule | None, int]:
    """Return a site's rule about a kind, and how many versions there were."""
    rows = RetentionRule.objects.filter(site=site, kind=kind)
    return rows.filter(ended_at__isnull=True).first(), rows.count()


def lines(user: Viewer) -> list[Line]:
    """Return a line for each site that a person sets up and each kind; in two queries."""
    sites = list(visible(user, Site, "set_up"))
    rows = visible(user, RetentionRule, "set_up").filter(ended_at__isnull=True)
    found = {(row.site_id, row.kind): row for row in rows.select_related("set_by")}
    return [
        _line(site, kind, found.get((site.pk, kind.code)))
        for site in sites
        for kind in rules.KINDS.values()
    ]


def _line(site: Site, kind: Kind, rule: RetentionRule | None) -> Line:
    keep = rule.keep if rule else kind.default
    return Line(site, kind, rule, rules.so_long(kind, keep))


def doors(user: Viewer) -> QuerySet[Any]:
    """Return how each site takes its hospital's messages, with for how long their texts are kept."""
    return visible(user, HospitalDoor, "set_up").select_related("site").order_by("site__name")


def whole_service() -> dict[str, int]:
    """Return for how many days the service keeps what no site rules about."""
    return {rules.SIGN_INS: settings.SIGN_IN_EVENT_DAYS, rules.COPIES: 1}


def destructions(user: Viewer) -> QuerySet[Any]:
    """Return what was destroyed at the sites that a person sets up, and of the whole service."""
    sites = visible(user, Site, "set_up").order_by().values("pk")
    rows = Destruction.objects.filter(Q(site__in=sites) | Q(site=None))
    found: QuerySet[Any] = rows.select_related("site", "by", "rule").order_by("-id")
    return found


def standing_holds(today: date) -> QuerySet[Any]:
    """Return what is held: not lifted, and the last day of it not over."""
    until = Q(until__isnull=True) | Q(until__gte=today)
    found: QuerySet[Any] = RetentionHold.objects.filter(until, lifted_at__isnull=True)
    return found


def held_patients(today: date) -> QuerySet[Any]:
    """Return the patients, by number, whose records are held."""
    return standing_holds(today).order_by().values("patient_id")
