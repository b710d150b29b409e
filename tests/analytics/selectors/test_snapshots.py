from datetime import timedelta

import pytest

from analytics.models import Snapshot
from analytics.selectors import snapshots as selector
from analytics.services import snapshots
from tests.analytics.records import held
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")


def test_the_kept_snapshots_are_listed_with_what_they_were_made_from() -> None:
    held()
    first = snapshots.refresh(now=NOW - timedelta(hours=3), today=TODAY - timedelta(days=1))
    snapshots.refresh(now=NOW, today=TODAY)
    page, (new, old) = selector.kept(None, NOW)
    assert page.paginator.count == 2
    assert (new.age, old.age) == ("less than a minute old", "3 hours old")
    assert old.short == first.content_hash[:12]
    assert dict(new.counts)["index procedures"] == 1
    assert new.changed == ()


def test_a_definition_that_was_changed_since_is_named() -> None:
    one = snapshots.refresh(now=NOW, today=TODAY)
    Snapshot.objects.filter(pk=one.pk).update(
        definitions={**one.definitions, "rise-3mm": 0}, row_counts={"cases": 4}
    )
    _, (line,) = selector.kept(None, NOW)
    assert line.changed == ("rise-3mm: version 0 then, 1 now",)
    assert line.counts == (("index procedures", 4),)


def test_no_snapshot_is_no_line() -> None:
    page, lines = selector.kept("7", NOW)
    assert (page.paginator.count, lines) == (0, [])
