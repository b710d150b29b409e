"""'What went wrong?' as a section for paper."""

from dataclasses import replace
from typing import Any

from analytics.answers.harms import HarmsAnswer, KindRow, to_rows
from analytics.answers.outcomes import ALL
from analytics.answers.outside import HARMS
from analytics.figures import section_outcomes
from analytics.figures.section_outcomes import METHODS, bounds_of, interval
from analytics.figures.sections import About, Section, Table

HEAD = (
    "Kind",
    "Operated",
    "Evaluable",
    "Events",
    "Rate, % (95% interval)",
    "If none or all not judged had it, %",
)


def section(key: str, title: str, result: HarmsAnswer, about: About) -> Section:
    """Return complications by group and by kind, and the operations that followed, apart."""
    whole = result.any_kind
    if whole.total.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    # What it has for outside is in the table of kinds: the same counts are not hidden twice.
    tables = [replace(section_outcomes.rates_table(f"{key}-any", whole, about), shape=None)]
    if result.kinds:
        tables.append(_kinds(key, result, about))
    tables.append(_reoperations(key, result, about))
    return Section(
        key=key,
        title=title,
        sentence=whole.sentence,
        tables=tuple(tables),
        figures=section_outcomes.figures(whole, about),
        notes=("A planned removal is not a complication and is counted apart.",),
        methods=METHODS,
    )


def _kinds(key: str, result: HarmsAnswer, about: About) -> Table:
    caption = about.caption(
        f"Complications by kind and {result.any_kind.horizon.name}, all groups",
        "Procedures with at least one; Wilson's 95% interval",
    )
    return Table(
        caption=caption,
        head=HEAD,
        rows=tuple(_cells(one) for one in result.kinds),
        numbers=(1, 2, 3),
        name=f"{key}-kinds",
        widths=(2.0, 0.8, 0.8, 0.8, 1.6, 1.6),
        data=tuple(to_rows(result)),
        shape=HARMS,
        outside=about.caption(f"Complications by {result.any_kind.horizon.name}", ""),
    )


def _cells(one: KindRow) -> tuple[str, ...]:
    row = one.row
    counts = (str(row.operated), str(row.evaluable), str(row.events))
    return (one.name, *counts, interval(row.rate), bounds_of(row.bounds))


def _reoperations(key: str, result: HarmsAnswer, about: About) -> Table:
    kinds = list(dict.fromkeys(name for one in result.reoperations for name in one.counts))
    rows: list[dict[str, Any]] = [
        {"group": one.group, "operated": one.operated, **one.counts} for one in result.reoperations
    ]
    total = {name: sum(row[name] for row in rows) for name in ("operated", *kinds)}
    rows.append({"group": ALL, **total})
    names = ("group", "operated", *kinds)
    return Table(
        caption=about.caption(
            "Operations after the index procedure",
            "Procedures with at least one, up to the cut-off",
        ),
        head=("Group", "Operated", *(name.capitalize() for name in kinds)),
        rows=tuple(tuple(str(row[name]) for name in names) for row in rows),
        numbers=tuple(range(1, len(names))),
        name=f"{key}-reoperations",
        widths=(1.4, *(1.0 for _ in names[1:])),
        data=tuple(rows),
    )
