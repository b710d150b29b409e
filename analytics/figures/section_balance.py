"""'Are the lost like the followed?' as a section for paper: standardised differences."""

from collections.abc import Mapping

from analytics.answers.balance import LINE, LINE_SOURCE, Comparison, to_rows
from analytics.figures.balance import dot_words
from analytics.figures.sections import About, Figure, Section, Table, file_table
from analytics.figures.svg_contrasts import dots

NOTE = (
    f"The line at {LINE}: {LINE_SOURCE}; in groups as small as these it is often crossed by chance. An event or "
    "a complication that nobody looked for counts as not found."
)


def section(
    key: str, title: str, found: Mapping[str, Comparison], definition: str, about: About
) -> Section:
    """Return how some pairs of groups differ, each as a figure with its numbers, and as a file."""
    shown = {name: one for name, one in found.items() if one.traits}
    words = [dot_words(one) for one in found.values()]
    return Section(
        key=key,
        title=title,
        sentence=words[0] if words else "",
        figures=tuple(_figure(one, definition, about) for one in shown.values()),
        notes=(*words[1:], *((NOTE,) if shown else ())),
        methods=("standardised",) if shown else (),
        beside=tuple(
            _table(f"{key}-{name}", one, definition, about) for name, one in shown.items()
        ),
    )


def _figure(one: Comparison, definition: str, about: About) -> Figure:
    caption = about.caption(
        f"{one.one.capitalize()} ({one.numbers[0]}) against {one.two} ({one.numbers[1]})",
        f"Standardised differences; right of 0: more, or older, among those {one.one}; dashed: {LINE} either way; "
        "square: beyond it",
        definition,
    )
    return Figure(caption, dots(one))


def _table(name: str, one: Comparison, definition: str, about: About) -> Table:
    caption = about.caption(
        f"{one.one.capitalize()} against {one.two}",
        "Difference of means or shares over the root of the mean variance",
        definition,
    )
    return file_table(name, caption, to_rows(one))
