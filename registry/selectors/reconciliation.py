"""What became of everybody whom a safety notice is about, site by site, until nothing is left."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet

from registry.models.people import Person
from registry.models.safety_notices import (
    CarrierState,
    CarrierStep,
    NoticeCarrier,
    NoticeClosing,
    NoticeScope,
    SafetyNotice,
    Sureness,
)
from registry.models.sites import Site
from registry.rules import roles
from registry.selectors.safety_notices import scope_of
from registry.selectors.visible import Viewer, site_ids, visible

PERHAPS = (CarrierState.UNDECIDED, CarrierState.NOT_ONE)
# The states of those who carry it, in the order in which a table has them.
OF_CARRIERS = tuple(state for state in CarrierState if state not in PERHAPS)


@dataclass(frozen=True)
class SiteSums:
    """The carriers of one site: how many there are, and how they divide."""

    site: Site
    carriers: int
    states: dict[str, int]
    near: int
    not_excluded: int
    not_one: int
    closing: NoticeClosing | None
    left: int

    @property
    def difference(self) -> int:
        """Return what the states do not account for; it is 0."""
        return self.carriers - sum(self.states.values())

    @property
    def columns(self) -> list[int]:
        """Return how many there are in each state of a carrier, in the order of the table."""
        return [self.states[state] for state in OF_CARRIERS]


@dataclass(frozen=True)
class Total:
    """The sums of all sites that one sees."""

    carriers: int
    columns: list[int]
    near: int
    not_excluded: int
    not_one: int
    left: int
    difference: int

    @property
    def accounted(self) -> int:
        """Return how many the states account for."""
        return sum(self.columns)


def notices_seen(user: Viewer) -> "QuerySet[Any]":
    """Return every notice, with how many carry it at a person's sites and what is left to do."""
    mine = Q(carriers__voided_at__isnull=True, carriers__site__in=site_ids(user, "trace"))
    certain = mine & ~Q(carriers__state__in=PERHAPS)
    told = Q(carriers__state=CarrierState.REACHED, must_be_seen=True)
    waits = Q(carriers__state__in=[CarrierState.UNDECIDED, CarrierState.TO_REACH])
    found: QuerySet[Any] = (
        visible(user, SafetyNotice, "trace")
        .select_related("owner")
        .annotate(
            carrier_count=Count("carriers", filter=certain),
            left_count=Count("carriers", filter=mine & (waits | told)),
        )
        .order_by("-received_on", "-pk")
    )
    return found


def carriers_seen(user: Viewer, notice: SafetyNotice | None = None) -> "QuerySet[Any]":
    """Return the carriers at a person's sites, of one notice or of all, with what a line says."""
    rows = visible(user, NoticeCarrier, "trace")
    if notice is not None:
        rows = rows.filter(notice=notice)
    found: QuerySet[Any] = rows.select_related(
        "notice",
        "site",
        "procedure__injury__patient",
        "procedure__construct__construct_type",
    ).order_by("site__name", "pk")
    return found


def with_steps(rows: "QuerySet[Any]") -> "QuerySet[Any]":
    """Read the steps of carriers with them, the earliest first, and by whom each was taken."""
    steps = CarrierStep.objects.select_related("by").order_by("pk")
    return rows.prefetch_related(Prefetch("steps", steps, to_attr="course"))


def reconciliation(user: Viewer, notice: SafetyNotice) -> list[SiteSums]:
    """Return the sums of each site of a person, where anybody was found or it was closed."""
    rows = visible(user, NoticeCarrier, "trace").filter(notice=notice)
    lines = rows.order_by().values_list("site_id", "state", "sureness").annotate(n=Count("pk"))
    counted: dict[int, dict[tuple[str, str], int]] = {}
    for site, state, sureness, number in lines:
        counted.setdefault(site, {})[state, sureness] = number
    carrying = rows.exclude(state__in=PERHAPS).order_by().values_list("site_id")
    carriers: dict[int, int] = dict(carrying.annotate(n=Count("pk")))
    closings = {
        one.site_id: one
        for one in visible(user, NoticeClosing, "trace")
        .filter(notice=notice)
        .select_related("recorded_by")
    }
    sites = visible(user, Site, "trace").filter(pk__in={*counted, *closings})
    return [
        _sums(notice, site, counted.get(site.pk, {}), carriers.get(site.pk, 0), closings)
        for site in sites.order_by("name")
    ]


def _sums(
    notice: SafetyNotice,
    site: Site,
    counted: dict[tuple[str, str], int],
    carriers: int,
    closings: dict[int, NoticeClosing],
) -> SiteSums:
    def number(state: str, sureness: str = "") -> int:
        return sum(
            many for (one, sure), many in counted.items() if one == state and sureness in ("", sure)
        )

    left = number("undecided") + number("to_reach")
    left += number("reached") if notice.must_be_seen else 0
    return SiteSums(
        site=site,
        carriers=carriers,
        states={state.value: number(state.value) for state in OF_CARRIERS},
        near=number("undecided", Sureness.NEAR),
        not_excluded=number("undecided", Sureness.NOT_EXCLUDED),
        not_one=number("not_one"),
        closing=closings.get(site.pk),
        left=left,
    )


def total(sums: Sequence[SiteSums]) -> Total:
    """Add the sums of some sites up."""
    return Total(
        carriers=sum(one.carriers for one in sums),
        columns=[sum(ones) for ones in zip(*(one.columns for one in sums), strict=True)]
        or [0] * len(OF_CARRIERS),
        near=sum(one.near for one in sums),
        not_excluded=sum(one.not_excluded for one in sums),
        not_one=sum(one.not_one for one in sums),
        left=sum(one.left for one in sums),
        difference=sum(one.difference for one in sums),
    )


def closable_sites(user: Viewer, notice: SafetyNotice) -> "QuerySet[Site]":
    """Return the sites where a person may close a notice that is not closed there yet."""
    closed = NoticeClosing.objects.filter(notice=notice, site=OuterRef("pk"))
    rows: QuerySet[Site] = visible(user, Site, "keep_notices").exclude(Exists(closed))
    return rows


def owners_for(user: Viewer, today: date) -> "QuerySet[Person]":
    """Return who can see to a notice: whoever may trace at a site where the user keeps notices."""
    sites = site_ids(user, "keep_notices", today)
    now = Q(memberships__ends_on__isnull=True) | Q(memberships__ends_on__gte=today)
    return (
        Person.objects.filter(
            now,
            is_active=True,
            memberships__starts_on__lte=today,
            memberships__site__in=sites,
            memberships__role__in=roles.roles_with("trace"),
        )
        .distinct()
        .order_by("shown_name", "username")
    )


def line_words(line: NoticeScope) -> str:
    """Return one line of what a notice is about, in words."""
    scope = scope_of(line)
    told = [
        f"device identifier {scope.device_identifier}" if scope.device_identifier else "",
        f"catalogue number {scope.catalogue_number}" if scope.catalogue_number else "",
        f"batch {scope.batch}" if scope.batch else "",
        f"serial {scope.serial}" if scope.serial else "",
        f"expiring {scope.expires[0]} to {scope.expires[1]}" if scope.expires else "",
    ]
    return ", ".join(one for one in told if one)
