"""A site's choice of its primary endpoint definition."""

from datetime import date

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.models.definitions import EndpointChoice
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records


def choose_definition(
    *,
    site: Site,
    definition_id: str,
    on: date,
    by: Person | None,
    expected_version: int | None = None,
) -> EndpointChoice:
    """Make a shipped definition the site's own for its endpoint; the earlier choice is kept.

    Choosing what is chosen already changes nothing. `expected_version` is how many choices the user
    saw. Raises StaleVersion when somebody chose since, BadInput for an unknown definition.
    """
    definition = DEFINITIONS.get(definition_id)
    if definition is None:
        raise BadInput({"definition": f"'{definition_id}' is not a shipped definition."})
    current = EndpointChoice.objects.filter(
        site=site, endpoint=definition.endpoint, superseded=False
    )
    same = current.filter(
        definition_id=definition.id, definition_version=definition.version
    ).first()
    if same is not None:
        return same
    with records.change(by=by, reason="primary definition chosen"):
        # The lock makes two who choose at once come one after the other.
        Site.objects.select_for_update(no_key=True).get(pk=site.pk)
        made = EndpointChoice.objects.filter(site=site, endpoint=definition.endpoint).count()
        if expected_version is not None and made != expected_version:
            what = f"The definition of {site}"
            raise StaleVersion(what, expected=expected_version, current=made)
        current.update(superseded=True)
        return EndpointChoice.objects.create(
            site=site,
            endpoint=definition.endpoint,
            definition_id=definition.id,
            definition_version=definition.version,
            chosen_on=on,
            chosen_by=by,
        )
