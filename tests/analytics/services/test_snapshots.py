from collections import OrderedDict
from datetime import date, timedelta
from typing import Any

import pandas as pd
import pytest

from analytics.endpoints.catalogue import DEFINITIONS
from analytics.models import Snapshot, SnapshotTable
from analytics.rules import keeping
from analytics.selectors import frames
from analytics.services import snapshots
from followup.services import complications, films
from registry.errors import BadInput
from registry.models import Procedure
from tests import builders
from tests.analytics.records import held, lost
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


def test_a_snapshot_of_before_a_table_was_added_opens_with_that_table_empty() -> None:
    followed()
    taken = snapshots.refresh(now=NOW, today=TODAY)
    taken.tables.filter(name="findings").delete()
    snapshots._unpacked.clear()
    with pytest.raises(ValueError, match="was changed after it was taken"):
        snapshots.frames_of(taken)
    hashes = dict(taken.tables.values_list("name", "content_hash"))
    taken.content_hash = snapshots.whole_hash(hashes, taken.cutoff)
    taken.save(update_fields=["content_hash"])
    opened = snapshots.frames_of(taken)
    assert len(opened.readings) == 1
    assert opened.findings.empty


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
        "findings": 0,
        "opted_out": {},
        "motion": 0,
        "questions": 0,
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


def test_a_snapshot_without_a_table_of_today_is_stale() -> None:
    held()
    one = snapshots.refresh(now=NOW, today=TODAY)
    del one.row_counts["motion"]
    assert not snapshots.is_fresh(one, TODAY)


def test_one_without_a_table_of_today_is_made_again_however_large(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    one = snapshots.refresh(now=NOW, today=TODAY)
    monkeypatch.setattr(snapshots, "SMALL", 0)
    del one.row_counts["motion"]
    one.content_hash = "0" * 64
    one.save()
    shown = snapshots.current(now=NOW, today=TODAY)
    assert "motion" in snapshots.Snapshot.objects.get(pk=shown.pk).row_counts


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


def tampered(**changes: object) -> Snapshot:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    SnapshotTable.objects.filter(snapshot=one, name="cases").update(**changes)
    return one


def test_a_snapshot_whose_hash_was_changed_is_refused() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    Snapshot.objects.filter(pk=one.pk).update(content_hash="0" * 64)
    one.refresh_from_db()
    with pytest.raises(ValueError, match="was changed after it was taken"):
        snapshots.frames_of(one)


def test_a_table_whose_hash_was_changed_is_refused() -> None:
    one = tampered(content_hash="0" * 64)
    with pytest.raises(ValueError, match="was changed after it was taken"):
        snapshots.frames_of(one)


def test_a_table_whose_content_was_changed_is_refused_when_it_is_read() -> None:
    one = tampered(content=b"something else")
    opened = snapshots.frames_of(one)
    assert len(opened.readings) == 1
    with pytest.raises(ValueError, match="table cases of snapshot"):
        assert opened.cases.empty


def test_a_table_of_a_snapshot_that_was_dropped_meanwhile_is_missed() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    opened = snapshots.frames_of(one)
    Snapshot.objects.filter(pk=one.pk).delete()
    with pytest.raises(ValueError, match="is not kept any more"):
        assert opened.cases.empty


def test_a_frame_is_read_once_and_only_when_it_is_asked_for(counted: Any) -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    opened = snapshots.frames_of(one)
    with counted() as queries:
        for _ in range(3):
            assert len(snapshots.frames_of(one).readings) == 1
    assert len(queries) == 1
    assert snapshots.frames_of(one) is opened
    with pytest.raises(AttributeError, match="there is no frame 'films'"):
        opened.films  # noqa: B018 - asking is the point


def test_a_process_holds_few_snapshots_unpacked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(snapshots, "_unpacked", OrderedDict())
    for day in range(4):
        snapshots.frames_of(snapshots.refresh(now=NOW, today=TODAY - timedelta(days=4 - day)))
    assert len(snapshots._unpacked) == snapshots.UNPACKED


def test_equal_data_of_another_day_have_another_hash() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY - timedelta(days=1))
    two = snapshots.refresh(now=NOW, today=TODAY)
    assert one.content_hash != two.content_hash
    assert Snapshot.objects.count() == 2


def test_taken_again_a_year_later_the_tables_have_the_same_bytes() -> None:
    followed()
    one = snapshots.refresh(now=NOW, today=TODAY)
    first = dict(one.tables.values_list("name", "content"))
    Snapshot.objects.all().delete()
    two = snapshots.refresh(now=NOW + timedelta(days=365), today=TODAY)
    assert two.content_hash == one.content_hash
    assert dict(two.tables.values_list("name", "content")) == first


def test_a_snapshot_says_which_definitions_shipped() -> None:
    one = snapshots.refresh(now=NOW, today=TODAY)
    assert one.definitions == {row.id: row.version for row in DEFINITIONS.values()}


def test_frames_up_to_an_earlier_day_are_frozen_and_not_kept() -> None:
    followed()
    one = snapshots.as_of(now=NOW, cutoff=date(2026, 6, 10))
    assert Snapshot.objects.count() == 0
    same(snapshots.frames_of(one), frames.build(None, date(2026, 6, 10)))
    kept = snapshots.refresh(now=NOW, today=date(2026, 6, 10))
    assert kept.content_hash == one.content_hash


def test_a_snapshot_is_found_by_the_beginning_of_its_hash() -> None:
    one = snapshots.refresh(now=NOW, today=TODAY)
    assert snapshots.named(one.content_hash[:12]) == one
    assert snapshots.named(one.content_hash) == one
    for wrong, said in (
        ("abc", "not the beginning of a hash"),
        ("'; DROP TABLE", "not the beginning of a hash"),
        ("0" * 12, "is kept"),
    ):
        with pytest.raises(BadInput, match=said):
            snapshots.named(wrong)
    Snapshot.objects.create(
        taken_at=NOW,
        cutoff=TODAY,
        audit_position=0,
        content_hash=one.content_hash[:12] + "f" * 52,
        row_counts={},
        code_version="0",
    )
    with pytest.raises(BadInput, match="give more of it"):
        snapshots.named(one.content_hash[:12])


def test_what_nobody_needs_is_dropped_and_what_is_held_stays(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(keeping, "NEWEST", 2)
    monkeypatch.setattr(keeping, "DAYS", 2)
    first = snapshots.refresh(now=NOW, today=TODAY - timedelta(days=9))
    snapshots.keep(snapshot=first, why="quality meeting of June")
    snapshots.keep(snapshot=first, why="quality meeting of June")
    for day in range(8, -1, -1):
        snapshots.refresh(now=NOW, today=TODAY - timedelta(days=day))
    left = [(TODAY - row.cutoff).days for row in Snapshot.objects.all()]
    assert left == [0, 1, 9]
    assert Snapshot.objects.get(pk=first.pk).kept_for == ["quality meeting of June"]
    snapshots.let_go(snapshot=first, why="quality meeting of June")
    snapshots.drop_old()
    assert Snapshot.objects.count() == 2
    assert SnapshotTable.objects.count() == 2 * len(snapshots.NAMES)


def test_verdicts_stored_beside_a_large_snapshot_are_those_that_are_worked_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    lost()
    held()
    small = snapshots.refresh_stale(now=NOW, today=TODAY)
    assert small.tables.count() == len(snapshots.NAMES)
    worked_out = {row.id: snapshots.frames_of(small).verdicts(row) for row in DEFINITIONS.values()}
    monkeypatch.setattr(snapshots, "SMALL", 1)
    large = snapshots.refresh_stale(now=NOW, today=TODAY)
    assert large == small
    assert large.tables.count() == len(snapshots.NAMES) + len(DEFINITIONS)
    assert snapshots.add_verdicts(large) == 0
    monkeypatch.setattr(snapshots, "_unpacked", OrderedDict())
    opened = snapshots.frames_of(large)
    for row in DEFINITIONS.values():
        stored = opened.verdicts(row)
        words = stored.select_dtypes("category").columns
        as_words = stored.astype(dict.fromkeys(words, "object"))
        pd.testing.assert_frame_equal(as_words, worked_out[row.id], check_dtype=False)
    assert "readings" not in vars(opened)


def test_verdicts_of_another_code_are_worked_out_again(monkeypatch: pytest.MonkeyPatch) -> None:
    held()
    monkeypatch.setattr(snapshots, "SMALL", 1)
    one = snapshots.refresh_stale(now=NOW, today=TODAY)
    monkeypatch.setattr("django.conf.settings.CODE_VERSION", "999")
    monkeypatch.setattr(snapshots, "_unpacked", OrderedDict())
    opened = snapshots.frames_of(one)
    assert len(opened.verdicts(DEFINITIONS["rise-3mm"])) == 1
    assert "readings" in vars(opened)
    assert snapshots.add_verdicts(one) == 0


def test_verdicts_of_a_changed_rule_are_worked_out_and_stored_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held()
    monkeypatch.setattr(snapshots, "SMALL", 1)
    one = snapshots.refresh_stale(now=NOW, today=TODAY)
    before = set(one.tables.values_list("name", flat=True))
    monkeypatch.setattr("analytics.selectors.frames.rules_hash", lambda: "f" * 64)
    monkeypatch.setattr(snapshots, "_unpacked", OrderedDict())
    opened = snapshots.frames_of(one)
    assert len(opened.verdicts(DEFINITIONS["rise-3mm"])) == 1
    assert "readings" in vars(opened), "worked out, though the version of the code is the same"
    assert snapshots.refresh_stale(now=NOW, today=TODAY) == one
    after = set(one.tables.values_list("name", flat=True))
    assert before & after == set(snapshots.NAMES)
    assert len(after) == len(before)


def test_frames_opened_early_are_read_from_a_later_snapshot_of_the_same_content(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    held()
    monkeypatch.setattr(snapshots, "_unpacked", OrderedDict())
    one = snapshots.refresh(now=NOW, today=TODAY)
    opened = snapshots.frames_of(one)
    tables = list(one.tables.all())
    again = Snapshot.objects.get(pk=one.pk)
    again.pk = None
    again.save()
    for table in tables:
        table.pk, table.snapshot = None, again
        table.save()
    one.delete()
    assert len(opened.readings) == 2
    again.delete()
    with pytest.raises(ValueError, match="is not kept any more"):
        _ = opened.motion
