"""'When did it happen, and when was it found?' as a section for paper."""

from analytics.answers.outcomes import percent
from analytics.answers.timing import At, Course, Timing, span_words, to_rows
from analytics.figures.section_outcomes import interval
from analytics.figures.sections import About, Figure, Section, Table
from analytics.figures.svg_intervals import panels

METHODS = ("between-films", "incidence", "detection")
HEAD = (
    "Group",
    "Judged",
    "Events, ever",
    "Known at the day",
    "Happened",
    "95% interval",
    "Found, % (95% interval)",
)


def section(key: str, title: str, found: Timing, about: About) -> Section:
    """Return both curves of each group, and by the day of the horizon the shares of both."""
    if found.total is None:
        return Section(key, title, "Nobody can be judged yet.")
    caption = about.caption(
        f"{found.definition.name}: when it happened, and when it was found",
        "Band between solid lines: happened, at least and at most, by Turnbull's estimate times the share "
        "without a revision or a death; dashes: found, by Aalen and Johansen's. Each ends where too few "
        "are known",
        found.definition.label,
    )
    return Section(
        key=key,
        title=title,
        sentence=f"{found.sentence} The shares are of that very day, while the rates count what was found to the end of "
        "its window.",
        tables=(_table(key, found, about),),
        figures=(Figure(caption, panels(found)),),
        notes=_test(found),
        methods=METHODS,
    )


def _test(found: Timing) -> tuple[str, ...]:
    if found.p_value is None:
        return ()
    return (
        (
            f"Does it happen sooner in some of {', '.join(found.compared)}, among those with neither revision "
            f"nor death so far? Sun's log-rank test by relabelling: p = {found.p_value:.3f}. It holds only if "
            "no group is filmed more often than another, and does not say which differ or by how much; a large "
            "p does not show that they are alike."
        ),
    )


def _table(key: str, found: Timing, about: About) -> Table:
    courses = (*found.courses, *([found.total] if found.total else ()))
    return Table(
        caption=about.caption(
            f"By day {found.horizon.days}, by {about.by}",
            "Happened: Turnbull's estimate, interval by resampling; found: Aalen and Johansen's",
            found.definition.label,
        ),
        head=HEAD,
        rows=tuple(_cells(course, _here(course, found.horizon.code)) for course in courses),
        numbers=(1, 2, 3),
        widths=(0.9, 0.7, 0.7, 0.9, 2.2, 1.2, 1.6),
        name=key,
        data=tuple(to_rows(found)),
    )


def _here(course: Course, horizon: str) -> At:
    return next(one for one in course.at if one.horizon.code == horizon)


def _cells(course: Course, one: At) -> tuple[str, ...]:
    lies = one.between
    return (
        course.group,
        str(course.subjects),
        str(course.events),
        str(one.known),
        span_words(lies) if lies else "too few known",
        f"{percent(lies.low)} to {percent(lies.high)}" if lies else "",
        interval(one.found),
    )
