import pytest

from analytics.models import MonitoringPolicy
from analytics.services import policies
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person, Site
from tests import builders
from tests.builders import NOW

TEXT = "Only the quality lead sees all surgeons; each surgeon sees the own point."


@pytest.fixture
def site(db: None) -> Site:
    return builders.site()


def on(
    site: Site, by: Person, version: int = 0, text: str = TEXT, **what: bool
) -> MonitoringPolicy:
    switched = {"surgeons": True, "charts": True, **what}
    return policies.switch_on(
        site=site, text=text, by=by, now=NOW, expected_version=version, **switched
    )


def test_a_policy_says_who_put_it_in_force_when_and_in_which_version(
    site: Site, administrator: Person
) -> None:
    row = on(site, administrator)
    assert (row.version, row.switched_on_by, row.switched_on_at) == (1, administrator, NOW)
    assert (row.text, row.ended_at) == (TEXT, None)
    assert AuditEntry.objects.filter(
        table="analytics_monitoringpolicy", person_id=administrator.pk
    ).exists()


def test_a_newer_policy_ends_the_one_before_and_keeps_it(site: Site, administrator: Person) -> None:
    first = on(site, administrator)
    second = on(site, administrator, version=1, text="Shorter.", surgeons=False)
    first.refresh_from_db()
    assert (first.ended_at, first.ended_because) == (NOW, "replaced by version 2")
    assert second.version == 2
    assert MonitoringPolicy.objects.filter(ended_at__isnull=True).get() == second


def test_switching_off_keeps_the_policy_and_the_reason(site: Site, administrator: Person) -> None:
    row = on(site, administrator)
    policies.switch_off(
        site=site, because="under revision", by=administrator, now=NOW, expected_version=1
    )
    row.refresh_from_db()
    assert (row.ended_by, row.ended_because) == (administrator, "under revision")


def test_a_policy_without_a_text_or_an_effect_is_refused(site: Site, administrator: Person) -> None:
    with pytest.raises(BadInput) as refused:
        on(site, administrator, text="  ", surgeons=False, charts=False)
    assert set(refused.value.faults) == {"text", "charts"}
    assert not MonitoringPolicy.objects.exists()


def test_whoever_saw_an_older_one_is_told(site: Site, administrator: Person) -> None:
    on(site, administrator)
    with pytest.raises(StaleVersion, match="The policy of North Hospital"):
        on(site, administrator)
    with pytest.raises(StaleVersion):
        policies.switch_off(site=site, because="x", by=administrator, now=NOW, expected_version=0)


def test_switching_off_asks_for_a_reason_and_for_something_to_end(
    site: Site, administrator: Person
) -> None:
    for because, words in ((" ", "Say why"), ("over", "no policy in force")):
        with pytest.raises(BadInput, match=words):
            policies.switch_off(
                site=site, because=because, by=administrator, now=NOW, expected_version=0
            )
