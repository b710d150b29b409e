"""'Does anybody stand apart?' as a section for paper: funnels of sites and of surgeons, no ranking.

What shows surgeons is marked, so that it reaches those alone who may see them.
"""

from collections.abc import Sequence

from analytics.answers.funnels import PLACES, Funnel, Unit, sentence, to_rows
from analytics.answers.outcomes import percent
from analytics.figures.section_outcomes import interval
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_funnels import funnel_drawing

SURGEONS = "surgeons"
HEAD = (
    *("Name", "Operated", "Eligible", "Evaluable", "Events"),
    *("Rate, % (95% interval)", "95% limits", "99.8% limits", "Lies"),
)
OFF = "Funnels of surgeons are off: no site here has a written policy that switches them on."
METHOD = "Exact binomial limits with interpolation, 95% and 99.8%, around the rate of all together"


def section(key: str, title: str, found: Sequence[Funnel], about: About) -> Section:
    """Return the funnels that can be drawn, with their units in order of name, and why others cannot."""
    drawn = [one for one in found if not one.refused]
    refused = [f"{one.definition.name}, {one.of}: {one.refused}" for one in found if one.refused]
    off = (OFF,) if not any(one.of == SURGEONS for one in found) else ()
    return Section(
        key=key,
        title=title,
        sentence=(
            "A point beyond a limit asks for the data to be looked at first; it is no verdict. Nobody is ranked, and "
            "lying within the limits does not show that all are alike."
        ),
        tables=tuple(_table(key, one, about) for one in drawn),
        figures=tuple(_figure(one, about) for one in drawn),
        notes=(*off, *refused),
        methods=("funnel",) if drawn else (),
        paired=True,
    )


def _figure(one: Funnel, about: About) -> Figure:
    caption = about.caption(
        f"{one.of.capitalize()}. {sentence(one)}",
        METHOD,
        one.definition.label,
    )
    return Figure(caption, funnel_drawing(one), surgeons=one.of == SURGEONS)


def _table(key: str, one: Funnel, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"{one.definition.name} by {one.horizon.name}: {one.of} in the order of their names",
            "",
            one.definition.label,
        ),
        head=HEAD,
        rows=tuple(_cells(unit) for unit in one.units),
        numbers=(1, 2, 3, 4),
        widths=(1.5, 0.75, 0.7, 0.8, 0.6, 1.5, 1.2, 1.2, 1.5),
        name=f"{key}-{one.definition.endpoint.replace('_', '-')}-{one.of}",
        data=tuple(to_rows(one)),
        surgeons=one.of == SURGEONS,
    )


def _cells(unit: Unit) -> tuple[str, ...]:
    counts = (unit.operated, unit.eligible, unit.evaluable, unit.events)
    return (
        unit.name,
        *map(str, counts),
        interval(unit.rate) or "nobody evaluable",
        f"{percent(unit.low_alert)} to {percent(unit.high_alert)}",
        f"{percent(unit.low_alarm)} to {percent(unit.high_alarm)}",
        PLACES[unit.place],
    )
