import re
from pathlib import Path

import pytest

from analytics import load_snapshot
from analytics.services import snapshots
from registry.errors import BadInput
from tests.analytics.records import held, lost
from tests.builders import NOW, TODAY

pytestmark = pytest.mark.usefixtures("defaults")
README = Path(__file__).resolve().parents[2] / "README.md"


def test_the_newest_snapshot_is_loaded_or_the_one_that_is_named() -> None:
    held()
    first = snapshots.refresh(now=NOW, today=TODAY)
    lost()
    second = snapshots.refresh(now=NOW, today=TODAY)
    newest, named = load_snapshot(), load_snapshot(first.content_hash[:12])
    assert (newest.hash, named.hash) == (second.content_hash, first.content_hash)
    assert (len(newest.cases), len(named.cases)) == (2, 1)
    assert newest.cutoff == TODAY
    with pytest.raises(BadInput, match="is kept"):
        load_snapshot("0" * 12)


def test_without_a_snapshot_it_says_how_one_is_taken() -> None:
    with pytest.raises(BadInput, match="refresh_snapshot"):
        load_snapshot()


def test_the_example_of_the_readme_runs(capsys: pytest.CaptureFixture[str]) -> None:
    held()
    one = snapshots.refresh(now=NOW, today=TODAY)
    (example,) = re.findall(r"```python\n(from analytics import.*?)```", README.read_text(), re.S)
    exec(compile(example, "README.md", "exec"), {})  # noqa: S102 - our own example
    said = capsys.readouterr().out
    assert one.content_hash[:12] in said
    assert "LP" in said
