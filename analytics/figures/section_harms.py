"""'What went wrong?' as a section for paper."""

from dataclasses import replace

from analytics.answers.burden import ANY
from analytics.answers.harms import (
    HarmsAnswer,
    KindRow,
    Reoperations,
    reoperation_rows,
    to_rows,
)
from analytics.answers.outcomes import ALL
from analytics.answers.outside import HARMS, LATER
from analytics.figures import section_outcomes
from analytics.figures.section_outcomes import METHODS, bounds_of, interval
from analytics.figures.sections import About, Section, Table, file_table

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
        beside=(
            file_table(
                f"{key}-kinds-by-group",
                about.caption(f"Complications by kind, {about.by} and {whole.horizon.name}", ""),
                to_rows(result),
            ),
        ),
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
        # A kind has no row of a group in which nobody had it, so that the groups' rows do not add up:
        # outside the team they would tell what the rows of any kind hide.
        data=tuple(row for row in to_rows(result) if row["kind"] == ANY or row["group"] == ALL),
        shape=HARMS,
        outside=about.caption(f"Complications by {result.any_kind.horizon.name}", ""),
    )


def _cells(one: KindRow) -> tuple[str, ...]:
    row = one.row
    counts = (str(row.operated), str(row.evaluable), str(row.events))
    return (one.name, *counts, interval(row.rate), bounds_of(row.bounds))


def _reoperations(key: str, result: HarmsAnswer, about: About) -> Table:
    kinds = list(dict.fromkeys(name for one in result.reoperations for name in one.counts))
    what = "Operations after the index procedure, up to the cut-off"
    return Table(
        caption=about.caption(
            what, "Procedures with at least one, and their share with Wilson's 95% interval"
        ),
        head=("Group", "Operated", *(name.capitalize() for name in kinds)),
        rows=tuple(_later(one, kinds) for one in result.reoperations),
        numbers=(1,),
        name=f"{key}-reoperations",
        widths=(0.9, 0.8, *(1.2 for _ in kinds)),
        data=tuple(reoperation_rows(result)),
        shape=LATER,
        outside=about.caption(what, ""),
    )


def _later(one: Reoperations, kinds: list[str]) -> tuple[str, ...]:
    cells = (f"{one.counts[name]}: {interval(one.share[name])}" for name in kinds)
    return (one.group, str(one.operated), *cells)
