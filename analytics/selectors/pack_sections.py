"""Which sections a pack has, in their order: one line for each question of the quality meeting."""

from collections.abc import Callable

from analytics.answers.covariates import COVARIATES
from analytics.answers.enough import NOTHING
from analytics.answers.horizons import HORIZONS
from analytics.endpoints.catalogue import DELAYED, LOSS, NONUNION, UNION, definitions_of
from analytics.figures import (
    section_balance,
    section_burden,
    section_comparison,
    section_enough,
    section_following,
    section_function,
    section_hardware,
    section_harms,
    section_literature,
    section_outcomes,
    section_strip,
    section_timing,
    section_tipping,
)
from analytics.figures.section_following import Followed
from analytics.figures.sections import Section
from analytics.selectors import outcomes, pack_drift
from analytics.selectors.enough import enough_answer
from analytics.selectors.function import recorded
from analytics.selectors.literature import literature_answer, published
from analytics.selectors.outcomes import Given
from analytics.selectors.pack_asked import Asked
from registry.errors import BadInput

# Every pack adjusts for the same, whatever the figures say: nobody chooses it after looking.
ADJUSTED = ("age_years", "sex")
UNCHOSEN = "It is chosen under Setup."


def loss_of_reduction(asked: Asked) -> Section:
    """Whether the reduction held: rates, bounds and curves."""
    return _rates(asked, LOSS, "held", "Did it hold?")


def loss_between_films(asked: Asked) -> Section:
    """When a reduction was lost, beside when that was found."""
    return _timing(asked, LOSS, "held-when", "When was it lost, and when was that found?")


def union(asked: Asked) -> Section:
    """Whether fractures united: rates, bounds and curves."""
    return _rates(asked, UNION, "united", "Did it unite?")


def union_between_films(asked: Asked) -> Section:
    """When fractures united, beside when that was found."""
    return _timing(asked, UNION, "united-when", "When did it unite, and when was that found?")


def nonunion(asked: Asked) -> Section:
    """Which fractures had not united at six months."""
    return _rates(asked, NONUNION, "not-united", "Did it fail to unite by 6 months?")


def delayed(asked: Asked) -> Section:
    """Which fractures united only after six months."""
    return _rates(asked, DELAYED, "late-united", "Did it unite late?")


def _rates(asked: Asked, endpoint: str, key: str, title: str) -> Section:
    first = min(one.from_days for one in definitions_of(endpoint))
    if HORIZONS[asked.rule.horizon].days < first:
        later = next(one.name for one in HORIZONS.values() if one.days >= first)
        name = HORIZONS[asked.rule.horizon].name
        words = f"This cannot be known by {name}; a pack with a horizon of {later} or more has it."
        return Section(key, title, words)
    view = asked.view(endpoint)
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    return section_outcomes.section(key, title, outcomes.outcome_answer(view), asked.about)


def _timing(asked: Asked, endpoint: str, key: str, title: str) -> Section:
    view = asked.view(endpoint)
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    return section_timing.section(key, title, outcomes.timing_answer(view), asked.about)


def _unchosen(key: str, title: str, view: Given) -> Section:
    state = view.unchosen.state if view.unchosen is not None else ""
    return Section(key, title, f"{state} {UNCHOSEN}")


def strip(asked: Asked) -> Section:
    """The rate of loss under every definition that ships."""
    view = asked.view()
    own = "" if view.unchosen else view.definition.id
    result = outcomes.strip_answer(view)
    return section_strip.section("rules", "Does it depend on the rule?", result, asked.about, own)


def comparison(asked: Asked) -> Section:
    """Each group against the largest, as it is and adjusted."""
    view, key, title = asked.view(), "compared", "Which construct does better?"
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    adjusted = [name for name in ADJUSTED if name != view.rule.by]
    result = outcomes.compare_answer(view, covariates=adjusted)
    words = [COVARIATES[name].words for name in adjusted]
    return section_comparison.section(key, title, result, asked.about, words)


def harms(asked: Asked) -> Section:
    """What went wrong: complications by group and kind, and operations afterwards."""
    result = outcomes.harm_answer(asked.view("any_complication"))
    return section_harms.section("harms", "What went wrong?", result, asked.about)


def burden(asked: Asked) -> Section:
    """How many events there were, over procedures and over the time that people were seen."""
    rows = outcomes.burden_answer(asked.view("any_complication"))
    return section_burden.section("burden", "How much went wrong?", rows, asked.about)


def hardware(asked: Asked) -> Section:
    """Whose hardware made trouble, and whose came out."""
    stories = outcomes.hardware_answer(asked.view("any_complication"))
    title = "Whose hardware made trouble, and whose came out?"
    return section_hardware.section("hardware", title, stories, asked.about)


def following(asked: Asked) -> Section:
    """Where everybody went between the operation and the analysis, completeness, and each step."""
    view, key, title = asked.view(), "following", "How well do we follow?"
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    found = asked.following
    followed = Followed(found.flows(), found.completeness(), found.attendance(), found.responses)
    return section_following.section(key, title, followed, view.definition.label, asked.about)


def balance(asked: Asked) -> Section:
    """How the followed differ from the lost, and those who answer from those who do not."""
    view, key, title = asked.view(), "balance", "Are the lost like the followed?"
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    found = asked.following.balances()
    return section_balance.section(key, title, found, view.definition.label, asked.about)


def tipping(asked: Asked) -> Section:
    """What the rates would be if those not judged had fared otherwise."""
    view, key, title = asked.view(), "tipping", "What could the missing change?"
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    found, horizon = asked.following.tipping(None), HORIZONS[view.rule.horizon].name
    return section_tipping.section(key, title, found, horizon, view.definition.label, asked.about)


def function(asked: Asked) -> Section:
    """Motion and scores over time by group, at the horizon, and within people."""
    view = asked.view()
    title = "How do they move and feel?"
    return section_function.section(
        "function", title, recorded(view), view.min_at_risk, asked.about
    )


def enough(asked: Asked) -> Section:
    """What more years would tell of the two groups with the most judged cases."""
    view, key, title = asked.view(), "enough", "How much more would we need?"
    if view.unchosen is not None:
        return _unchosen(key, title, view)
    try:
        found = enough_answer(view, asked.following.result, ("", ""), (NOTHING, NOTHING))
    except BadInput:
        words = "A comparison takes two groups, and there are fewer in this cohort."
        return Section(key, title, words)
    return section_enough.section(key, title, found, view.definition.label, asked.about)


def literature(asked: Asked) -> Section:
    """What others report, beside ours; no targets."""
    views = [asked.view(endpoint) for endpoint in published().endpoints()]
    results = [literature_answer(view) for view in views if view.unchosen is None]
    return section_literature.section("literature", "What do others report?", results, asked.about)


SECTIONS: tuple[Callable[[Asked], Section], ...] = (
    loss_of_reduction,
    loss_between_films,
    strip,
    comparison,
    union,
    union_between_films,
    nonunion,
    delayed,
    harms,
    burden,
    hardware,
    following,
    balance,
    tipping,
    function,
    pack_drift.checks,
    pack_drift.funnels,
    pack_drift.charts,
    enough,
    literature,
)
