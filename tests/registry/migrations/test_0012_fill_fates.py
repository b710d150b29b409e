"""Lines of files that were imported before their fate was kept."""

import importlib
from types import SimpleNamespace
from typing import Any

fill = importlib.import_module("registry.migrations.0012_fill_fates").fill


class Rows:
    """Just enough of a table to be filled: rows as dicts, narrowed and changed."""

    def __init__(self, rows: list[dict[str, Any]]) -> None:
        self.rows = rows

    def filter(self, **which: Any) -> "Rows":
        return Rows([row for row in self.rows if all(_is(row, *one) for one in which.items())])

    def update(self, **values: Any) -> None:
        for row in self.rows:
            row.update(values)


def _is(row: dict[str, Any], name: str, wanted: Any) -> bool:
    field, _, how = name.partition("__")
    if how == "isnull":
        return (row[field] is None) == wanted
    if how == "startswith":
        return str(row[field]).startswith(wanted)
    return bool(row[field] == wanted)


def test_each_line_gets_the_fate_that_its_facts_tell() -> None:
    rows = [
        {"procedure": 1, "reason": "", "fate": ""},
        {"procedure": None, "reason": "imported before, and voided since", "fate": ""},
        {"procedure": None, "reason": "the same as line 2", "fate": ""},
        {"procedure": None, "reason": "this operation is recorded already, by hand", "fate": ""},
        {"procedure": None, "reason": "side: 'l' is not one of", "fate": ""},
    ]
    model = SimpleNamespace(objects=Rows(rows))
    fill(SimpleNamespace(get_model=lambda app, name: model), None)
    assert [row["fate"] for row in rows] == ["landed", "known", "known", "known", "refused"]
