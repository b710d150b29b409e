import pytest

from analytics.figures.methods import METHODS, appendix
from analytics.figures.sections import Section


def test_each_method_that_is_used_is_explained_once_with_its_source() -> None:
    sections = [
        Section("a", "A", "", methods=("wilson", "bounds")),
        Section("b", "B", "", methods=("wilson",)),
    ]
    (table,) = appendix(sections).tables
    assert [row[0] for row in table.rows] == [METHODS["wilson"].name, METHODS["bounds"].name]
    assert all(cell for row in table.rows for cell in row)


def test_a_method_that_nobody_has_described_is_an_error() -> None:
    with pytest.raises(KeyError):
        appendix([Section("a", "A", "", methods=("magic",))])
