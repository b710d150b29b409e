"""'Are the data sound?' as a section for paper: completeness, coding and case mix, before any signal."""

from datetime import date

from analytics.answers.checks import Checks, number
from analytics.figures.sections import About, Section, Table, plain_table


def section(
    key: str, title: str, found: Checks, days: tuple[date, date], definition: str, about: About
) -> Section:
    """Return the three checks of the operations of some days against all that came before."""
    period = f"operated from {days[0]:%d %b %Y} to {days[1]:%d %b %Y}"
    chance = (
        f" With these numbers chance alone gives up to {found.by_chance:.2f}."
        if found.by_chance
        else ""
    )
    beyond = sum(one.marked for one in found.mix)
    return Section(
        key=key,
        title=title,
        sentence=(
            f"Those {period} who {found.evaluable.words}: {found.evaluable.written}. {beyond} of "
            f"{len(found.mix)} facts of the case mix differ by more than 0.1 standard deviations from the "
            f"{found.before} cases before.{chance}"
        ),
        tables=(
            _coding(key, found, period, definition, about),
            _mix(f"{key}-case-mix", found, period, about),
        ),
        methods=("standardised",),
    )


def _coding(key: str, found: Checks, period: str, definition: str, about: About) -> Table:
    rows = [
        (found.evaluable.words, found.evaluable.written),
        *((words, str(count)) for words, count in found.reasons),
        *((one.words, one.written) for one in found.coding),
        *((f"entry of {one.words}", one.written) for one in found.delays),
        ("possible double entries", str(len(found.doubles))),
    ]
    caption = about.caption(
        f"Completeness and coding of those {period}",
        "Shares with Wilson's 95% interval",
        definition,
    )
    return Table(
        caption=caption,
        head=("What", "Found"),
        rows=tuple((words[:1].upper() + words[1:], told) for words, told in rows),
        widths=(1.6, 2.4),
        name=key,
        data=tuple({"what": words, "found": told} for words, told in rows),
    )


def _mix(name: str, found: Checks, period: str, about: About) -> Table:
    caption = about.caption(
        f"Case mix of the {found.since} {period} against the {found.before} before",
        "Standardised differences; marked where beyond 0.1 either way",
    )
    return plain_table(
        name,
        caption,
        {"fact": "Fact", "before": "Before", "since": "Since", "difference": "Difference"},
        [
            {
                "fact": one.words[:1].upper() + one.words[1:],
                "before": one.before,
                "since": one.since,
                "difference": f"{number(one.standardised)}{', beyond' if one.marked else ''}",
            }
            for one in found.mix
        ],
    )
