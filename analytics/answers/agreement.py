"""Do the readers agree? Coefficients, limits and the change that can be told from error."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import pandas as pd

from analytics.answers.double_readings import Pairs
from analytics.answers.outcomes import ALL
from analytics.estimators import agreement as estimators
from analytics.estimators.agreement import Change, Icc, Kappa, Limits

# Below this no coefficient is worked out (common practice, no source): its interval would hold nearly
# every value.
FEWEST_PAIRS = 5


@dataclass(frozen=True)
class Measurement:
    """Something that readers say of a film: a number with its unit, or one of some categories.

    `ordered` are the categories in their order, where a distance between them makes sense.
    """

    code: str
    name: str
    unit: str = ""
    categories: tuple[str, ...] = ()
    ordered: bool = False

    @property
    def is_number(self) -> bool:
        """Whether it is measured and not judged."""
        return not self.categories


MEASUREMENTS: dict[str, Measurement] = {
    one.code: one
    for one in (
        Measurement("ccd_injured_mm", "CC distance, injured side", "mm"),
        Measurement("ccd_other_mm", "CC distance, other side", "mm"),
        Measurement("ratio_pct", "CC distance against the other side", "points"),
        Measurement("acd_injured_mm", "Clavicle above acromion, injured side", "mm"),
        Measurement("translation_pct", "Translation of the shaft", "points"),
        Measurement("union", "Union", "", ("none", "partial", "united"), ordered=True),
        Measurement(
            "hardware", "Hardware", "", ("intact", "loose", "broken", "migrated", "removed")
        ),
    )
}
SITE, PAIR, READER = "site", "pair of readers", "reader"


@dataclass(frozen=True)
class Row:
    """One measurement in one group of films read twice.

    `of` is ALL, SITE, PAIR or READER. `pairs` counts the films of which both said something, and
    `one_said` those of which only one did. Everything else is None where the pairs are too few, or
    where it makes no sense of this measurement. `shift` says in words which reading is less which.
    """

    measurement: Measurement
    of: str
    group: str
    pairs: int
    one_said: int
    shift: str
    agreement: Icc | None = None
    consistency: Icc | None = None
    limits: Limits | None = None
    change: Change | None = None
    kappa: Kappa | None = None

    @property
    def is_too_few(self) -> bool:
        """Whether no coefficient is worked out, for want of films."""
        return self.pairs < FEWEST_PAIRS


@dataclass(frozen=True)
class AgreementAnswer:
    """Every measurement in every group that may be shown, the whole first."""

    films: int
    left_out: Mapping[str, int]
    rows: tuple[Row, ...]

    def of_measurement(self, code: str) -> tuple[Row, ...]:
        """Return the rows of one measurement."""
        return tuple(row for row in self.rows if row.measurement.code == code)

    def whole(self, code: str) -> Row:
        """Return the row of one measurement for all films together."""
        return next(row for row in self.rows if row.measurement.code == code and row.of == ALL)


@dataclass(frozen=True)
class _Group:
    """Some films with the two sides on which their readings stand: the first and the second."""

    of: str
    name: str
    table: pd.DataFrame
    shift: str


def answer(found: Pairs, names: Mapping[int, str]) -> AgreementAnswer:
    """Work out how well readers agree: all together, by site, and of each reader who is named.

    `names` are the readers who may be shown, by key; pairs of them are shown where both are. All
    together, and at a site, the first reading of each film stands against the second.
    """
    groups = list(_groups(found.table, names))
    rows = tuple(_row(one, group) for one in MEASUREMENTS.values() for group in groups)
    return AgreementAnswer(len(found.table), found.left_out, rows)


def differences(found: Pairs, measurement: Measurement) -> pd.DataFrame:
    """Return of each film the mean of both readings and the second less the first.

    Columns: film_id, procedure_id, taken_on, site, first, second, mean, difference; the largest
    difference first, in either direction. Empty for what is no number.
    """
    table = found.table
    if not measurement.is_number:
        return pd.DataFrame(columns=["film_id", "procedure_id", "mean", "difference"])
    first, second = (_numbers(table, side, measurement) for side in ("first", "second"))
    known = first.notna() & second.notna()
    apart = (second - first).round(6)
    made = table[["film_id", "procedure_id", "taken_on", "site"]].assign(
        first=first, second=second, mean=(first + second) / 2, difference=apart, size=apart.abs()
    )
    ordered = made.loc[known].sort_values(["size", "film_id"], ascending=[False, True])
    return ordered.drop(columns="size")


def sentence(row: Row) -> str:
    """State what one measurement's agreement is, in plain words."""
    what = row.measurement.name
    if row.is_too_few:
        return (
            f"{what}: {row.pairs} film{'' if row.pairs == 1 else 's'} read twice. Below "
            f"{FEWEST_PAIRS} nothing is worked out."
        )
    if row.kappa is not None:
        return (
            f"{what}: two readers say the same in {row.kappa.observed * 100:.0f}% of {row.pairs} "
            f"films{_weighed(row.measurement)}; chance alone would give "
            f"{row.kappa.by_chance * 100:.0f}%."
        )
    if row.limits is None or row.change is None:
        return f"{what}: {row.pairs} films read twice."
    unit = row.measurement.unit
    return (
        f"{what}: of {row.pairs} films read twice, 19 in 20 differ by between "
        f"{row.limits.low:.1f} and {row.limits.high:.1f} {unit} ({row.shift}). Two readings of "
        f"different films have to differ by more than {row.change.estimate:.1f} {unit} to be told "
        "from error."
    )


def to_rows(found: AgreementAnswer) -> list[dict[str, Any]]:
    """Return everything as plain rows."""
    return [
        {
            "measurement": row.measurement.code,
            "unit": row.measurement.unit,
            "of": row.of,
            "group": row.group,
            "pairs": row.pairs,
            "one_said": row.one_said,
            **_estimate("icc_2_1", row.agreement),
            **_estimate("icc_3_1", row.consistency),
            "difference_is": row.shift,
            **_estimate("difference", row.limits and row.limits.mean),
            **_estimate("lower_limit", row.limits and row.limits.lower),
            **_estimate("upper_limit", row.limits and row.limits.upper),
            "sem": row.change.std_error_of_measurement if row.change else None,
            **_estimate("mdc_95", row.change),
            **_estimate("kappa", row.kappa),
            "same": row.kappa.observed if row.kappa else None,
        }
        for row in found.rows
    ]


def _estimate(name: str, found: Any) -> dict[str, float | None]:
    return {
        name: found.estimate if found else None,
        f"{name}_low": found.low if found else None,
        f"{name}_high": found.high if found else None,
    }


def _weighed(measurement: Measurement) -> str:
    return ", neighbouring answers counted half" if measurement.ordered else ""


def _groups(table: pd.DataFrame, names: Mapping[int, str]) -> Iterator[_Group]:
    by_order = "the second reading less the first"
    yield _Group(ALL, ALL, table, by_order)
    for site, part in table.groupby("site", sort=True, observed=True):
        yield _Group(SITE, str(site), part, by_order)
    shown = sorted(names, key=lambda key: (names[key], key))
    for key in shown:
        mine = _facing(table, key)
        if len(mine):
            yield _Group(READER, names[key], mine, f"{names[key]} less the other reader")
    for one, two in combinations(shown, 2):
        theirs = _facing(table, two)
        theirs = theirs.loc[theirs["first_reader"] == one]
        if len(theirs):
            both = f"{names[one]} and {names[two]}"
            yield _Group(PAIR, both, theirs, f"{names[two]} less {names[one]}")


def _facing(table: pd.DataFrame, key: int) -> pd.DataFrame:
    """Return the films that a reader read, turned so that theirs is the second reading."""
    own = table.loc[table["second_reader"] == key]
    turned = table.loc[table["first_reader"] == key]
    other_way = {
        name: name.replace("first_", "second_", 1)
        if name.startswith("first_")
        else name.replace("second_", "first_", 1)
        for name in table.columns
        if name.startswith(("first_", "second_"))
    }
    return pd.concat([own, turned.rename(columns=other_way)[table.columns]])


def _row(measurement: Measurement, group: _Group) -> Row:
    if measurement.is_number:
        return _measured(measurement, group)
    return _judged(measurement, group)


def _measured(measurement: Measurement, group: _Group) -> Row:
    first, second = (_numbers(group.table, side, measurement) for side in ("first", "second"))
    both = first.notna() & second.notna()
    counted = (int(both.sum()), int((first.notna() ^ second.notna()).sum()))
    if counted[0] < FEWEST_PAIRS:
        return Row(measurement, group.of, group.name, *counted, group.shift)
    ratings = pd.DataFrame({"first": first[both], "second": second[both]}).to_numpy(float)
    return Row(
        measurement,
        group.of,
        group.name,
        *counted,
        group.shift,
        agreement=estimators.icc(ratings, "ICC(2,1)"),
        consistency=estimators.icc(ratings, "ICC(3,1)"),
        limits=estimators.limits_of_agreement(ratings[:, 1], ratings[:, 0]),
        change=estimators.minimal_detectable_change(ratings),
    )


def _judged(measurement: Measurement, group: _Group) -> Row:
    first, second = (group.table[f"{side}_{measurement.code}"] for side in ("first", "second"))
    both = first.notna() & second.notna()
    counted = (int(both.sum()), int((first.notna() ^ second.notna()).sum()))
    if counted[0] < FEWEST_PAIRS:
        return Row(measurement, group.of, group.name, *counted, group.shift)
    found = estimators.kappa(
        _listed(first[both]),
        _listed(second[both]),
        "linear" if measurement.ordered else None,
        categories=measurement.categories,
    )
    return Row(measurement, group.of, group.name, *counted, group.shift, kappa=found)


def _numbers(table: pd.DataFrame, side: str, measurement: Measurement) -> "pd.Series[float]":
    return pd.to_numeric(table[f"{side}_{measurement.code}"]).astype(float)


def _listed(column: "pd.Series[Any]") -> Sequence[str]:
    return [str(value) for value in column]
