import io
from pathlib import Path

from django.conf import settings

from followup.rules.case_columns.catalogue import (
    BY_GROUP,
    BY_NAME,
    COLUMNS,
    EXAMPLES,
    documentation,
    template,
)
from registry.exchange import sheets

TEMPLATE = Path(settings.BASE_DIR) / "fixtures" / "import_template.csv"


def test_no_two_columns_share_a_name() -> None:
    assert len(BY_NAME) == len(COLUMNS)


def test_names_are_lower_case_and_of_one_word() -> None:
    assert all(name == name.casefold() and name.isidentifier() for name in BY_NAME)


def test_few_columns_are_required() -> None:
    assert sum(column.required for column in COLUMNS) <= 12


def test_every_column_belongs_to_one_group() -> None:
    assert sum(len(columns) for columns in BY_GROUP.values()) == len(COLUMNS)


def test_every_column_says_what_it_means() -> None:
    assert all(column.meaning for column in COLUMNS)


def test_a_needed_column_is_a_column() -> None:
    assert {column.needs for column in COLUMNS} - {""} <= set(BY_NAME)


def test_examples_are_given_for_columns_that_exist() -> None:
    assert set(EXAMPLES) <= set(BY_NAME)


def test_required_columns_have_both_examples() -> None:
    assert all(all(column.examples) for column in COLUMNS if column.required)


def test_the_template_file_is_what_the_columns_say() -> None:
    target = io.StringIO(newline="")
    sheets.write_rows(target, *template())
    assert TEMPLATE.read_bytes().decode() == target.getvalue()


def test_the_documentation_has_one_line_for_every_column_or_group_of_repeats() -> None:
    head, rule, *lines = documentation()
    assert head.count("|") == rule.count("|") == 5
    assert all(line.count("|") == 5 for line in lines)
    names = [line.split("`")[1] for line in lines]
    assert len(names) == len(set(names))
    assert names[0] == "local_id"
    assert "f{T}_ccd_injured_mm" in names
    assert "f3m_date" not in names


def test_the_documentation_marks_what_is_required() -> None:
    required = [line.split("`")[1] for line in documentation() if line.endswith("| yes |")]
    assert required == [column.name for column in COLUMNS if column.required]


def test_the_documentation_lists_codes_and_units() -> None:
    lines = "\n".join(documentation())
    assert "`left`, `right`" in lines
    assert "whole number, minutes" in lines
