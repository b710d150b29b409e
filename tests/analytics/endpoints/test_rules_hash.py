from pathlib import Path

import pytest

from analytics.endpoints.rules_hash import HERE, hash_of, rules_hash


def test_it_is_that_of_the_rules_as_they_are_written() -> None:
    assert rules_hash() == hash_of(HERE)
    assert {"catalogue.py", "reduction.py", "displacement.py", "union.py", "harms.py"} <= {
        one.name for one in HERE.glob("*.py")
    }


def test_a_changed_renamed_or_added_rule_changes_it(tmp_path: Path) -> None:
    rule = tmp_path / "rise.py"
    rule.write_text("LIMIT = 3.0\n")
    first = hash_of(tmp_path)
    assert hash_of(tmp_path) == first
    (tmp_path / "notes.txt").write_text("no rule")
    assert hash_of(tmp_path) == first
    rule.write_text("LIMIT = 5.0\n")
    changed = hash_of(tmp_path)
    rule.rename(tmp_path / "fall.py")
    renamed = hash_of(tmp_path)
    (tmp_path / "more.py").write_text("")
    assert len({first, changed, renamed, hash_of(tmp_path)}) == 4


def test_a_folder_without_rules_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="no source files"):
        hash_of(tmp_path)
