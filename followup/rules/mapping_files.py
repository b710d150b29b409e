"""What was settled about a file, as JSON that a person can read, keep and give again."""

from collections.abc import Mapping
from typing import Any

from followup.rules.case_columns.catalogue import BY_NAME
from followup.rules.case_translation import DECIMALS, NAMES, ColumnUse, Translation
from followup.rules.column_survey import word_key
from registry.errors import BadInput
from registry.rules.date_styles import COUNTED, ORDERS, DateStyle

PARTS = ("encoding", "separator", "columns", "same_for_all", "words")
USES = ("field", "dates", "last_year", "counts_from", "decimal")
LEFT_OUT = "left out"


def to_plain(found: Translation) -> dict[str, Any]:
    """Return what was settled as what JSON can keep; a column that is left out says so."""
    return {
        "columns": {use.header: _use_to_plain(use) for use in found.uses},
        "same_for_all": dict(found.same_for_all),
        "words": {name: dict(words) for name, words in found.words.items()},
    }


def from_plain(kept: Mapping[str, Any]) -> Translation:
    """Return what was settled. Raises BadInput saying what cannot be used, and where."""
    _only(kept, PARTS, "the mapping")
    columns, words = kept.get("columns"), kept.get("words", {})
    same = kept.get("same_for_all", {})
    if not isinstance(columns, Mapping) or not columns:
        raise BadInput("the mapping names no columns; give 'columns'")
    if not all(isinstance(part, Mapping) for part in (words, same, *words.values())):
        raise BadInput("'words' and 'same_for_all' are names with values")
    for name in same:
        if name not in BY_NAME:
            raise BadInput(f"'same_for_all': '{name}' is no field")
    return Translation(
        tuple(_use(header, use) for header, use in columns.items()),
        {name: str(value) for name, value in same.items()},
        {
            name: {word_key(str(word)): str(code) for word, code in given.items()}
            for name, given in words.items()
        },
    )


def _use_to_plain(use: ColumnUse) -> Any:
    if not use.column:
        return LEFT_OUT
    said = {
        "field": use.column,
        "dates": use.dates.order,
        "last_year": use.dates.last_year,
        "counts_from": use.dates.counts_from,
        "decimal": use.decimal,
    }
    return {name: value for name, value in said.items() if value}


def _use(header: str, given: Any) -> ColumnUse:
    if given == LEFT_OUT:
        return ColumnUse(header, "")
    if isinstance(given, str):
        given = {"field": given}
    if not isinstance(given, Mapping):
        raise BadInput(f"column '{header}': give a field, or '{LEFT_OUT}'")
    _only(given, USES, f"column '{header}'")
    name = given.get("field", "")
    if name not in BY_NAME and name not in NAMES:
        raise BadInput(f"column '{header}': '{name}' is no field; see the list of columns")
    style = DateStyle(
        _one_of(header, "dates", given.get("dates", ""), ("", *ORDERS)),
        _year(header, given.get("last_year", 0)),
        _one_of(header, "counts_from", str(given.get("counts_from", "")), ("", *COUNTED)),
    )
    decimal = _one_of(header, "decimal", given.get("decimal", ""), DECIMALS)
    return ColumnUse(header, name, style, decimal)


def _only(given: Mapping[str, Any], names: tuple[str, ...], where: str) -> None:
    strange = [name for name in given if name not in names]
    if strange:
        raise BadInput(f"{where}: '{strange[0]}' is not known; use {', '.join(names)}")


def _one_of(header: str, name: str, value: Any, allowed: tuple[str, ...]) -> str:
    if value not in allowed:
        choices = ", ".join(one for one in allowed if one)
        raise BadInput(f"column '{header}', {name}: '{value}' is not one of: {choices}")
    return str(value)


def _year(header: str, value: Any) -> int:
    if (
        isinstance(value, bool)
        or not isinstance(value, int)
        or not (value == 0 or 1950 <= value <= 2150)
    ):
        raise BadInput(f"column '{header}', last_year: '{value}' is no year from 1950 to 2150")
    return value
