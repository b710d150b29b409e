"""'Whose hardware made trouble, and whose came out?' as a section for paper."""

from collections.abc import Sequence

from analytics.answers.hardware import NUMBERS, Story, to_rows
from analytics.answers.outcomes import ALL
from analytics.answers.outside import HARDWARE
from analytics.figures.section_burden import days
from analytics.figures.sections import About, Section, Table
from followup.rules.scores.catalogue import INSTRUMENTS

METHOD = (
    "Irritation is what somebody recorded as a complication; union is what the last film judged up to the "
    "removal showed, of fractures; counts up to the cut-off"
)


def section(key: str, title: str, stories: Sequence[Story], about: About) -> Section:
    """Return the numbers of the story, a column for each group, and whether scores changed."""
    whole = next(one for one in stories if one.group == ALL)
    if whole.operated == 0:
        return Section(key, title, "No index procedure is in this cohort.")
    out = whole.count("planned") + whole.count("unplanned")
    return Section(
        key=key,
        title=title,
        sentence=(
            f"Hardware irritation was recorded in {whole.count('troubled')} of {whole.operated}; hardware "
            f"came out of {out}, {whole.count('planned')} of them as planned for the construct."
        ),
        tables=(_table(key, stories, about),),
        notes=_scores(stories),
    )


def _scores(stories: Sequence[Story]) -> tuple[str, ...]:
    told = [
        f"{one.group}, {INSTRUMENTS[name].name} ({INSTRUMENTS[name].direction}): median change "
        f"{change:+.1f} in {pairs}, better in {better}"
        for one in stories
        for name, (pairs, change, better) in one.score_change.items()
    ]
    if not told:
        return (
            "Better afterwards? Too few have a score in the year before a removal and one after.",
        )
    return (
        (
            f"Better afterwards? {'; '.join(told)}. Before: the last score in the year up to the removal; "
            "after: the first from six weeks on."
        ),
    )


def _table(key: str, stories: Sequence[Story], about: About) -> Table:
    lines = [
        ("operated", *(str(one.operated) for one in stories)),
        *((label, *(str(one.count(name)) for one in stories)) for name, label in NUMBERS.items()),
        (
            "days to removal: median (quartiles)",
            *(days(one.quartiles) or "none removed" for one in stories),
        ),
    ]
    return Table(
        caption=about.caption(f"Hardware by {about.by}", METHOD),
        head=("Index procedures", *(one.group for one in stories)),
        rows=tuple((label[:1].upper() + label[1:], *cells) for label, *cells in lines),
        numbers=tuple(range(1, 1 + len(stories))),
        widths=(2.4, *(1.0 for _ in stories)),
        name=key,
        data=tuple(to_rows(tuple(stories))),
        shape=HARDWARE,
        outside=about.caption(f"Hardware by {about.by}", ""),
    )
