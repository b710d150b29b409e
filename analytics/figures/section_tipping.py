"""'What could the missing change?' as a section for paper: bounds and suppositions, never an estimate."""

from analytics.answers.outcomes import percent
from analytics.answers.tipping import GroupTipping, TippingAnswer, to_rows
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_tipping import tipping_line
from analytics.figures.tipping import tipping_words

NOTE = (
    "These are bounds and suppositions, never the estimate. No rate is taken for too much here: a target is "
    "decided before looking, and typed on the page."
)


def section(
    key: str, title: str, found: TippingAnswer, horizon: str, definition: str, about: About
) -> Section:
    """Return what the rate would be if those not judged had fared otherwise, by group and for all."""
    whole = found.groups[-1]
    if not whole.eligible:
        return Section(key, title, f"Nobody is eligible at {horizon} yet.")
    tables = [_groups(key, found, horizon, definition, about)]
    if found.suppositions:
        tables.append(_suppositions(found, horizon, definition, about))
    caption = about.caption(
        f"The rate by {horizon}, if those not judged fared differently",
        "All groups; marks: none had it, they fared like those judged, all had it",
        definition,
    )
    return Section(
        key=key,
        title=title,
        sentence=tipping_words(found),
        tables=tuple(tables),
        figures=(Figure(caption, tipping_line(found)),) if found.suppositions else (),
        notes=(NOTE,),
        methods=("bounds", "suppositions"),
    )


def _groups(key: str, found: TippingAnswer, horizon: str, definition: str, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"What those not judged could change by {horizon}, by {about.by}",
            "Bounds: none, and all, of those not judged had the event",
            definition,
        ),
        head=("Group", "Eligible", "Judged", "Events", "Not judged", "Rate, %", "Bounds, %"),
        rows=tuple(_cells(one) for one in found.groups),
        numbers=(1, 2, 3, 4, 5),
        widths=(1.2, 0.9, 0.9, 0.9, 1.0, 1.0, 1.4),
        name=key,
        data=tuple(to_rows(found)),
    )


def _cells(one: GroupTipping) -> tuple[str, ...]:
    seen = one.found
    if seen is None:
        return (one.group, str(one.eligible), "", "", "", "", "")
    return (
        one.group,
        str(one.eligible),
        str(seen.evaluable),
        str(seen.events),
        str(seen.unseen),
        f"{one.rate * 100:.1f}" if one.rate is not None else "nobody judged",
        f"{seen.bounds.low * 100:.1f} to {seen.bounds.high * 100:.1f}",
    )


def _suppositions(found: TippingAnswer, horizon: str, definition: str, about: About) -> Table:
    return Table(
        caption=about.caption(
            f"All groups by {horizon}: supposing that of those not judged", "", definition
        ),
        head=("They", "Had the event", "Rate over all eligible"),
        rows=tuple((one.words, str(one.more), percent(one.rate)) for one in found.suppositions),
        numbers=(1, 2),
        widths=(2.4, 1.0, 1.4),
    )
