import pytest

from followup.rules.case_columns import column


def test_required_columns_keep_everything_else() -> None:
    (changed,) = column.required(column.text("a", "group", "field", "meaning", 5))
    assert (changed.required, changed.longest, changed.kind) == (True, 5, column.Kind.TEXT)


@pytest.mark.parametrize(
    ("made", "kind", "field"),
    [
        (column.code("a", "g", "m", "x", "y"), column.Kind.CODE, "a"),
        (column.code("a", "g", "m", "x", field="b"), column.Kind.CODE, "b"),
        (column.count("a", "g", "m", "holes"), column.Kind.COUNT, "a"),
        (column.tenth("a", "g", "m", "mm", field="b"), column.Kind.TENTH, "b"),
    ],
)
def test_a_value_goes_to_the_field_of_its_column_or_to_another(
    made: column.Column, kind: column.Kind, field: str
) -> None:
    assert (made.kind, made.field, made.required) == (kind, field, False)
