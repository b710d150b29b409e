"""When the removal of hardware is raised, how loudly, and the ways from one state to the next.

A prompt asks a clinician to decide; it never decides.
"""

from dataclasses import dataclass
from datetime import date, timedelta
from enum import IntEnum

from registry.errors import IllegalTransition

OPEN = frozenset({"raised", "discussed", "planned", "deferred"})
WORDS = {
    "raised": "raised",
    "discussed": "discussed",
    "planned": "planned",
    "deferred": "deferred",
    "declined": "declined",
    "done": "done",
}
NEXT = {
    "raised": frozenset({"discussed", "planned", "deferred", "declined", "done"}),
    "discussed": frozenset({"discussed", "planned", "deferred", "declined", "done"}),
    "planned": frozenset({"discussed", "planned", "deferred", "declined", "done"}),
    "deferred": frozenset({"discussed", "planned", "deferred", "declined", "done", "raised"}),
    # Hardware that was to stay can still come out: the removal is then its answer.
    "declined": frozenset({"raised", "done"}),
    "done": frozenset(),
}


# Hardware that makes trouble, as a film shows it and as a complication says it (common practice,
# no source).
SYMPTOMATIC_ON_FILM = frozenset({"loose", "broken", "migrated"})
SYMPTOMATIC_COMPLICATIONS = frozenset(
    {
        "hardware_irritation",
        "impingement",
        "subacromial_osteolysis",
        "implant_failure",
        "skin_breakdown",
        "infection_deep",
    }
)
# What answers the question. Who discussed or deferred it has left it open.
ANSWERS = frozenset({"planned", "declined", "done"})


class Loudness(IntEnum):
    """How much a prompt insists; it grows with waiting."""

    RESTING = 0
    NOTICE = 1
    ASK = 2
    ACT = 3


@dataclass(frozen=True)
class PromptFacts:
    """What a prompt's loudness depends on. Weeks are counted from the operation.

    `waiting_since` is the day since which nobody has decided: raised, come back, or last spoken of.
    """

    today: date
    performed_on: date
    state: str
    waiting_since: date
    opens_weeks: int | None = None
    due_weeks: int | None = None
    deferred_until: date | None = None
    wish_on: date | None = None


LOUDNESS_WORDS = {
    Loudness.RESTING: "rests",
    Loudness.NOTICE: "new",
    Loudness.ASK: "waiting",
    Loudness.ACT: "act now",
}
ASK_AFTER_DAYS = 28
ACT_AFTER_DAYS = 84


def move(present: str, wanted: str) -> str:
    """Return the wanted state of a hardware decision when it may follow the present one.

    Raises IllegalTransition naming both.
    """
    if wanted not in NEXT[present]:
        raise IllegalTransition(
            "The hardware decision", present=WORDS[present], wanted=WORDS[wanted]
        )
    return wanted


def unsettle(present: str) -> str:
    """Return 'raised' for a question whose removal turned out to be an entry in error.

    Raises IllegalTransition unless it was done.
    """
    if present != "done":
        raise IllegalTransition(
            "The hardware decision", present=WORDS[present], wanted=WORDS["raised"]
        )
    return "raised"


def planned_removal_opens(performed_on: date, opens_weeks: int) -> date:
    """Return the day from which a construct that is meant to come out asks for a decision."""
    return performed_on + timedelta(weeks=opens_weeks)


def fact_of(source: str, words: str) -> str:
    """Return what a finding in words is known by: the same words of the same source are one fact."""
    said = " ".join(words.casefold().split())
    return f"{source}:{said}"[:160]


def loudness(facts: PromptFacts) -> Loudness:
    """Say how much a prompt insists today.

    A deferred one rests until its day, a planned one until its wish date; a construct past its
    removal time always says 'act'. Days for symptomatic hardware: common practice, no source.
    """
    if facts.state not in OPEN:
        return Loudness.RESTING
    if facts.state == "deferred" and facts.deferred_until and facts.today < facts.deferred_until:
        return Loudness.RESTING
    past_due = facts.due_weeks is not None and facts.today > facts.performed_on + timedelta(
        weeks=facts.due_weeks
    )
    if facts.state == "planned" and facts.wish_on and facts.today <= facts.wish_on:
        return Loudness.ACT if past_due else Loudness.NOTICE
    if past_due:
        return Loudness.ACT
    waited = (facts.today - facts.waiting_since).days
    if waited >= ACT_AFTER_DAYS:
        return Loudness.ACT
    return Loudness.ASK if waited >= ASK_AFTER_DAYS else Loudness.NOTICE


def sentence(facts: PromptFacts, *, because: str, union: str | None, union_on: date | None) -> str:
    """Say why the question is open, whether union is confirmed, and how long since surgery."""
    weeks = (facts.today - facts.performed_on).days // 7
    if union == "united" and union_on is not None:
        healed = f"union confirmed on the film of {union_on:%d %b %Y}"
    elif union_on is not None:
        healed = f"union not confirmed (last judged on {union_on:%d %b %Y})"
    else:
        healed = "no film judged for union yet"
    time = ""
    if facts.due_weeks is not None:
        over = weeks - facts.due_weeks
        past = f", {_weeks(over)} past its time"
        time = past if over > 0 else f", due by week {facts.due_weeks}"
    return f"{because}; {_weeks(weeks)} since surgery{time}; {healed}."


def _weeks(number: int) -> str:
    return "1 week" if number == 1 else f"{number} weeks"
