"""Setting which films are read twice: over the version that was seen, and into the trail."""

import pytest

from followup.models import ReadingPolicy
from followup.services.reading_policies import save_policy
from registry.errors import BadInput, StaleVersion
from registry.models import AuditEntry, Person
from tests import builders

pytestmark = pytest.mark.django_db


def test_a_policy_and_its_change_are_in_the_trail(administrator: Person) -> None:
    policy = ReadingPolicy(site=builders.site())
    values = {"draw": "share", "share_pct": 20, "seed": "north"}
    save_policy(policy=policy, values=values, expected_version=1, by=administrator)
    save_policy(policy=policy, values={"share_pct": 30}, expected_version=1, by=administrator)
    kept = list(AuditEntry.objects.filter(table="followup_readingpolicy").order_by("id"))
    first, last = kept[0], kept[-1]
    assert (first.action, last.action) == ("insert", "update")
    assert (last.before["share_pct"], last.after["share_pct"]) == (20, 30)
    assert last.person_id == administrator.pk


def test_who_saw_an_older_policy_is_refused(administrator: Person) -> None:
    policy = ReadingPolicy(site=builders.site())
    save_policy(policy=policy, values={"draw": "all"}, expected_version=1, by=administrator)
    mine, theirs = ReadingPolicy.objects.get(), ReadingPolicy.objects.get()
    save_policy(policy=theirs, values={"draw": "none"}, expected_version=1, by=administrator)
    with pytest.raises(StaleVersion):
        save_policy(policy=mine, values={"draw": "near"}, expected_version=1, by=administrator)
    assert ReadingPolicy.objects.get().draw == "none"


@pytest.mark.parametrize(
    "values", [{"draw": "some"}, {"share_pct": 0}, {"seed": ""}, {"third_mm": 0}, {"mdc_mm": -1}]
)
def test_a_policy_that_makes_no_sense_is_refused_by_its_column(
    administrator: Person, values: dict[str, object]
) -> None:
    policy = ReadingPolicy(site=builders.site())
    with pytest.raises(BadInput) as refused:
        save_policy(policy=policy, values=values, expected_version=1, by=administrator)
    assert set(values) <= set(refused.value.faults)
    assert not ReadingPolicy.objects.exists()
