"""Switching the watching of surgeons and running charts on and off, by a site's own written policy."""

from datetime import datetime

from analytics.models.monitoring import MonitoringPolicy
from registry.errors import BadInput, StaleVersion
from registry.models.people import Person
from registry.models.sites import Site
from registry.services import records


def switch_on(
    *,
    site: Site,
    text: str,
    surgeons: bool,
    charts: bool,
    by: Person,
    now: datetime,
    expected_version: int,
) -> MonitoringPolicy:
    """Put a site's written policy in force; the one before it ends and is kept.

    `expected_version` is how many policies the user saw. Raises BadInput without a text or where
    it switches nothing on, StaleVersion when somebody was quicker.
    """
    faults = {}
    if not text.strip():
        faults["text"] = "Write down the policy: who sees what, who answers a signal, and how."
    if not (surgeons or charts):
        faults["charts"] = (
            "Say what the policy switches on: funnels of surgeons, running charts, both."
        )
    if faults:
        raise BadInput(faults)
    with records.change(by=by, reason="monitoring policy put in force"):
        made = _made(site, expected_version)
        _end(site, because=f"replaced by version {made + 1}", by=by, now=now)
        return MonitoringPolicy.objects.create(
            site=site,
            version=made + 1,
            text=text.strip(),
            surgeons=surgeons,
            charts=charts,
            switched_on_at=now,
            switched_on_by=by,
        )


def switch_off(
    *, site: Site, because: str, by: Person, now: datetime, expected_version: int
) -> None:
    """End a site's policy; its charts and signals are kept, and nothing new is raised.

    Raises BadInput without a reason or where none is in force, StaleVersion when somebody was
    quicker.
    """
    if not because.strip():
        raise BadInput({"because": "Say why the policy ends."})
    with records.change(by=by, reason="monitoring policy ended"):
        _made(site, expected_version)
        if not _end(site, because=because.strip()[:300], by=by, now=now):
            raise BadInput(f"{site} has no policy in force.")


def _made(site: Site, expected_version: int) -> int:
    # The lock makes two who decide at once come one after the other.
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)
    made = MonitoringPolicy.objects.filter(site=site).count()
    if made != expected_version:
        raise StaleVersion(f"The policy of {site}", expected=expected_version, current=made)
    return made


def _end(site: Site, *, because: str, by: Person, now: datetime) -> int:
    standing = MonitoringPolicy.objects.filter(site=site, ended_at__isnull=True)
    return standing.update(ended_at=now, ended_by=by, ended_because=because)
