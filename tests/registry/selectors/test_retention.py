from datetime import timedelta

import pytest

from registry.models import Destruction, RetentionHold
from registry.selectors import retention
from tests import builders
from tests.builders import NOW, TODAY
from tests.registry.services.test_retention import ruled

pytestmark = pytest.mark.django_db


def test_each_site_has_a_line_for_each_kind_with_its_rule_or_the_default() -> None:
    both = builders.person("both", north="administrator", south="administrator")
    rule = ruled(both)
    said = {(one.site.code, one.kind.code): (one.rule, one.words) for one in retention.lines(both)}
    assert len(said) == 6
    assert said["north", "patients"] == (rule, "10 years")
    assert said["south", "patients"] == (None, "for as long as nobody decides otherwise")
    assert said["south", "uploads"] == (None, "7 days")
    assert not retention.lines(builders.person("surgeon", north="surgeon"))


def test_a_rule_that_ended_is_in_force_no_more() -> None:
    by = builders.person("ada", north="administrator")
    ruled(by)
    second = ruled(by, 1, keep=12)
    assert list(retention.in_force("patients").values()) == [second]
    assert retention.current(builders.site("north"), "patients") == (second, 2)


def test_what_was_destroyed_elsewhere_is_not_shown() -> None:
    at = {"kind": "uploads", "number": 2, "at": NOW, "words": "x"}
    mine = Destruction.objects.create(site=builders.site("north"), **at)
    Destruction.objects.create(site=builders.site("south"), **at)
    whole = Destruction.objects.create(site=None, **at)
    by = builders.person("ada", north="administrator")
    assert list(retention.destructions(by)) == [whole, mine]


def test_a_hold_stands_through_its_last_day_and_until_it_is_lifted() -> None:
    by = builders.person("ada", north="administrator")
    made = {}
    for name, until, lifted in (
        ("ever", None, None),
        ("today", TODAY, None),
        ("over", TODAY - timedelta(days=1), None),
        ("lifted", None, NOW),
    ):
        patient = builders.patient()
        RetentionHold.objects.create(
            patient=patient,
            site=patient.site,
            until=until,
            reason="x",
            made_at=NOW,
            made_by=by,
            lifted_at=lifted,
            lifted_by=by if lifted else None,
            lifted_because="y" if lifted else "",
        )
        made[name] = patient.pk
    standing = set(retention.held_patients(TODAY).values_list("patient_id", flat=True))
    assert standing == {made["ever"], made["today"]}
