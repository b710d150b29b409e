"""What a site has ruled about its records: how long they are kept, and what research may take of them."""

from analytics.services import research
from registry.models import Patient, Person, Site
from registry.services import retention
from tests.builders import NOW, TODAY


def researched(site: Site, by: Person) -> int:
    """Let a project of research be about a site's patients; return its number."""
    return research.open_project(
        sites=[site],
        name=f"Course of {site.code}",
        purpose="How motion returns.",
        approval=f"Committee {site.code}, 1",
        starts_on=TODAY,
        ends_on=TODAY,
        columns=["cases.age_years", "cases.performed_day", "motion.value_deg"],
        dates="shifted",
        ages="bands",
        by=by,
        now=NOW,
    ).pk


def kept(patient: Patient, by: Person) -> dict[str, int]:
    """Let a site rule how long it keeps patients, keep one in spite of that, and have proof."""
    site = patient.site
    rule = retention.set_rule(
        site=site,
        kind="patients",
        keep=10,
        least=8,
        basis="our own policy, invented",
        expected_version=0,
        by=by,
        now=NOW,
    )
    held = retention.hold(
        patient=patient,
        site=site,
        until=None,
        reason="a case at law",
        by=by,
        now=NOW,
        today=TODAY,
    )
    retention.prove(kind="uploads", number=3, words="older than 7 days", site=site, now=NOW)
    return {"rule_id": rule.pk, "hold_id": held.pk}
