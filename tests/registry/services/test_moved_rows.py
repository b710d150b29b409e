"""What an act changed is kept, and put back where nobody has changed it since."""

from datetime import date, timedelta
from typing import Any

import pytest

from registry.errors import BadInput, IllegalTransition
from registry.models import Injury, PatientMerge
from registry.services import moved_rows, records
from registry.services.moved_rows import Along, Watch, hand_on, mark_undone, put_back
from tests import builders
from tests.builders import NOW

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=1)


def changed(*injuries: Injury) -> dict[str, Any]:
    """Date some injuries anew, add one, and return what that was."""
    watch = Watch(Injury.everything.filter(site=injuries[0].site))
    by = injuries[0].recorded_by
    hand_on(injuries, by=by, now=NOW, side="right", injured_earliest=date(2026, 5, 1))
    builders.injury(injuries[0].patient)
    return watch.found()


def test_only_what_differs_is_kept_and_what_is_new() -> None:
    one, two = builders.injury(), builders.injury()
    watch = Watch(Injury.everything.filter(pk__in=[one.pk, two.pk]))
    assert watch.found() == {}
    found = changed(one)["registry_injury"]
    assert found["changed"] == {
        str(one.pk): {"side": ["left", "right"], "injured_earliest": ["2026-06-01", "2026-05-01"]}
    }
    assert found["added"] == [Injury.objects.latest("pk").pk]


def test_values_are_put_back_and_what_was_added_is_void() -> None:
    one = builders.injury()
    found = changed(one)
    put_back([Injury], found, by=one.recorded_by, now=LATER)
    one.refresh_from_db()
    assert (one.side, one.injured_earliest, one.version) == ("left", date(2026, 6, 1), 3)
    assert list(Injury.objects.all()) == [one]


def test_what_was_changed_since_stands() -> None:
    one = builders.injury()
    found = changed(one)
    added = Injury.objects.latest("pk")
    hand_on(
        [Injury.objects.get(pk=one.pk)], by=one.recorded_by, now=NOW, injured_earliest="2026-05-09"
    )
    records.save(added, {"mechanism": "sport"}, by=one.recorded_by, now=NOW, expected_version=1)
    put_back([Injury], found, by=one.recorded_by, now=LATER)
    one.refresh_from_db()
    assert (one.side, one.injured_earliest) == ("left", date(2026, 5, 9))
    assert Injury.objects.filter(pk=added.pk).exists()


def test_void_rows_are_handed_on_too() -> None:
    one = builders.injury()
    records.void(one, by=one.recorded_by, now=NOW, expected_version=1, reason="x")
    rows = Injury.everything.filter(pk=one.pk)
    assert hand_on(rows, by=one.recorded_by, now=NOW, side="right") == [one.pk]
    assert rows.get().side == "right"


def test_an_act_is_marked_undone_once() -> None:
    kept, merged = builders.patient(), builders.patient()
    by = kept.recorded_by
    act = PatientMerge.objects.create(
        kept=kept, merged=merged, merged_at=NOW, merged_by=by, reason="x"
    )
    mark_undone(act, what="This merge", by=by, now=NOW)
    with pytest.raises(IllegalTransition, match="This merge is 'undone'"):
        mark_undone(act, what="This merge", by=by, now=NOW)


def test_a_reason_is_asked_for() -> None:
    with pytest.raises(BadInput, match="Say how you know"):
        moved_rows.reason_of(" ")
    assert moved_rows.reason_of(" the note ") == "the note"
    assert Along({}).turned is False
