"""Which shipped definition each site calls its own, since when and by whom."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from analytics.endpoints.catalogue import DEFINITIONS, LOSS, definitions_of, endpoints
from analytics.endpoints.definition import EndpointDefinition
from analytics.models.definitions import EndpointChoice
from analytics.selectors.visible import sites_of, visible
from registry.models.sites import Site
from registry.selectors.visible import Viewer


@dataclass(frozen=True)
class ChoiceLine:
    """One choice in words; `outdated` when another version of the definition ships by now."""

    definition_id: str
    name: str
    since: date
    by: str
    outdated: bool


@dataclass(frozen=True)
class SiteChoice:
    """What a site has chosen for an endpoint, its earlier choices, and how many there are in all."""

    site: Site
    current: ChoiceLine | None
    earlier: tuple[ChoiceLine, ...]

    @property
    def version(self) -> int:
        """How many choices were made; a form sends it back, so that a newer one is noticed."""
        return len(self.earlier) + (self.current is not None)


@dataclass(frozen=True)
class EndpointChoices:
    """One endpoint with more than one definition: what ships, and what each site chose."""

    endpoint: str
    name: str
    definitions: tuple[EndpointDefinition, ...]
    sites: tuple[SiteChoice, ...]

    @property
    def differ(self) -> bool:
        """Whether a figure over all these sites cannot be drawn by one chosen definition."""
        return len({one.current.definition_id for one in self.sites if one.current}) > 1


def choices(user: Viewer) -> list[EndpointChoices]:
    """Return every endpoint that leaves a choice, with the choices of the sites one sets up."""
    sites = sites_of(user, "set_up")
    rows = list(visible(user, EndpointChoice, "set_up").select_related("chosen_by"))
    return [
        EndpointChoices(
            endpoint=endpoint,
            name=words(endpoint),
            definitions=definitions_of(endpoint),
            sites=tuple(_site_choice(site, endpoint, rows) for site in sites),
        )
        for endpoint in endpoints()
        if leaves_a_choice(endpoint)
    ]


def site_choice(site: Site, endpoint: str) -> SiteChoice:
    """Return what one site has chosen for an endpoint."""
    rows = EndpointChoice.objects.filter(site=site, endpoint=endpoint).select_related("chosen_by")
    return _site_choice(site, endpoint, list(rows))


def baseline_days_of(site: Site) -> int | None:
    """Return the last day for a baseline by what a site calls a lost reduction; None without a choice."""
    chosen = EndpointChoice.objects.filter(site=site, endpoint=LOSS, superseded=False)
    shipped = DEFINITIONS.get(chosen.values_list("definition_id", flat=True).first() or "")
    return None if shipped is None else shipped.baseline_days


def without_choice() -> list[EndpointDefinition]:
    """Return the definitions of the endpoints for which only one ships."""
    return [row for row in DEFINITIONS.values() if not leaves_a_choice(row.endpoint)]


def leaves_a_choice(endpoint: str) -> bool:
    """Say whether more than one definition ships for an endpoint, which there may not be."""
    return sum(row.endpoint == endpoint for row in DEFINITIONS.values()) > 1


def words(endpoint: str) -> str:
    """Write the name of an endpoint as a person reads it."""
    return endpoint.replace("_", " ").capitalize()


def _site_choice(site: Site, endpoint: str, rows: Sequence[EndpointChoice]) -> SiteChoice:
    own = [row for row in rows if (row.site_id, row.endpoint) == (site.pk, endpoint)]
    current = [_line(row) for row in own if not row.superseded]
    return SiteChoice(
        site=site,
        current=current[0] if current else None,
        earlier=tuple(_line(row) for row in own if row.superseded),
    )


def _line(row: EndpointChoice) -> ChoiceLine:
    shipped = DEFINITIONS.get(row.definition_id)
    name = shipped.name if shipped is not None else row.definition_id
    return ChoiceLine(
        definition_id=row.definition_id,
        name=f"{name} (version {row.definition_version})",
        since=row.chosen_on,
        by=str(row.chosen_by or "the service itself"),
        outdated=shipped is None or shipped.version != row.definition_version,
    )
