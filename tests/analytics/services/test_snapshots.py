from datetime import date, timedelta

import pandas as pd
import pytest

from analytics.models import Snapshot
from analytics.selectors import frames
from analytics.services import snapshots
from followup.services import complications, films
from registry.models import Procedure
from tests import builders
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def followed() -> Procedure:
    """Return an index procedure with a film, a reading and a complication."""
    operation = builders.procedure()
    by = operation.recorded_by
    film = films.record_film(
        injury=operation.injury,
        values={"taken_on": date(2026, 6, 7), "view": "zanca", "calibration": "marker"},
        by=by,
        now=NOW,
        today=TODAY,
    )
    films.record_reading(
        film=film, values={"ccd_injured_mm": "9.1"}, reader=by, by=by, now=NOW, today=TODAY
    )
    complications.record_complication(
        procedure=operation,
        values={"kind": "nerve", "detected_on": date(2026, 6, 20), "grade": "I"},
        by=by,
        now=NOW,
        today=TODAY,
    )
    return operation


def same(one: frames.Frames, two: frames.Frames) -> None:
    assert one.cutoff == two.cutoff
    for name in snapshots.NAMES:
        pd.testing.assert_frame_equal(getattr(one, name), getattr(two, name))


def test_a_snapshot_gives_back_the_frames_that_it_froze() -> None:
    followed()
    builders.procedure()
    same(snapshots.frames_of(snapshots.refresh(now=NOW, today=TODAY)), frames.build(None, TODAY))


def test_a_snapshot_of_a_service_without_operations_is_whole_too() -> None:
    same(snapshots.frames_of(snapshots.refresh(now=NOW, today=TODAY)), frames.build(None, TODAY))


def test_the_same_data_give_the_same_hash_and_no_second_snapshot() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    two = snapshots.refresh(now=NOW + timedelta(hours=1), today=TODAY)
    assert one == two
    assert one.content_hash == two.content_hash
    assert one.row_counts == {
        "asked": 0,
        "cases": 1,
        "complications": 1,
        "opted_out": {},
        "motion": 0,
        "readings": 1,
        "reoperations": 0,
        "reviews": Procedure.objects.get().reviews.count(),
        "scores": 0,
    }


def test_a_change_makes_a_snapshot_stale_and_the_next_look_makes_a_new_one() -> None:
    followed()
    one = snapshots.current(now=NOW, today=TODAY)
    assert snapshots.is_fresh(one, TODAY)
    assert snapshots.current(now=NOW, today=TODAY) == one
    builders.procedure()
    assert not snapshots.is_fresh(one, TODAY)
    assert snapshots.current(now=NOW, today=TODAY) != one


def test_a_snapshot_of_yesterday_is_stale() -> None:
    one = snapshots.current(now=NOW, today=TODAY - timedelta(days=1))
    assert not snapshots.is_fresh(one, TODAY)


def test_a_large_service_is_shown_the_old_snapshot_until_a_worker_makes_the_new(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(snapshots, "SMALL", 1)
    builders.procedure()
    one = snapshots.current(now=NOW, today=TODAY)
    builders.procedure()
    assert snapshots.current(now=NOW, today=TODAY) == one
    assert snapshots.refresh_stale(now=NOW, today=TODAY) != one


def test_a_snapshot_that_was_tampered_with_is_refused() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    Snapshot.objects.filter(pk=one.pk).update(content_hash="0" * 64)
    one.refresh_from_db()
    with pytest.raises(ValueError, match="was changed after it was taken"):
        snapshots.frames_of(one)


def test_only_the_newest_snapshots_are_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(snapshots, "KEPT", 2)
    for day in range(4):
        snapshots.refresh(now=NOW, today=TODAY - timedelta(days=4 - day))
    assert [row.cutoff for row in Snapshot.objects.all()] == [
        TODAY - timedelta(days=1),
        TODAY - timedelta(days=2),
    ]
