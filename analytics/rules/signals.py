"""The states of a signal, the only ways from one to the next, and its place among the open ones.

A signal says that a chart has crossed its limit. It asks for somebody to look, and is no verdict on
anybody: first the data are checked, then the cases are gone through, and it ends with a finding.
"""

from collections.abc import Collection, Mapping
from datetime import date

from registry.errors import BadInput, IllegalTransition

RAISED, CHECKS, REVIEW = "raised", "checks", "review"
FINDING, ACTION, CLOSED = "finding", "action", "closed"
WORDS = {
    RAISED: "raised",
    CHECKS: "data being checked",
    REVIEW: "cases under review",
    FINDING: "finding written down",
    ACTION: "action agreed",
    CLOSED: "closed",
}
STATES = tuple(WORDS)
OPEN = tuple(state for state in STATES if state != CLOSED)

COMPLETENESS, CODING, CASE_MIX = "completeness", "coding", "case_mix"
# What has to be looked at before a signal is discussed in any other way.
SUBJECTS: Mapping[str, str] = {
    COMPLETENESS: "Completeness: who could not be judged, and why",
    CODING: "Coding: what is unclassified, missing, entered late or entered twice",
    CASE_MIX: "Case mix: whether the patients are those that the chart was made from",
}
# Findings that the data themselves give, before any case is gone through.
FROM_DATA = frozenset({"data", "case_mix"})


def _move(present: str, wanted: str, *allowed: str) -> str:
    if present not in allowed:
        raise IllegalTransition("The signal", present=WORDS[present], wanted=WORDS[wanted])
    return wanted


def begin_checks(present: str) -> str:
    """Return 'checks' for a signal that was raised.

    Raises IllegalTransition.
    """
    return _move(present, CHECKS, RAISED)


def take_check(present: str) -> str:
    """Return the state after one of the three checks was recorded: the first one begins them.

    Raises IllegalTransition for a signal of which a finding is written down already.
    """
    if present == RAISED:
        return begin_checks(present)
    if present not in (CHECKS, REVIEW):
        raise IllegalTransition("The signal", present=WORDS[present], wanted=WORDS[CHECKS])
    return present


def begin_review(present: str, recorded: Collection[str]) -> str:
    """Return 'review', in which a signal may be discussed; all three checks come before it.

    `recorded` holds the subjects of the checks that were recorded for it. Raises IllegalTransition,
    or BadInput naming the checks that are not recorded.
    """
    state = _move(present, REVIEW, CHECKS)
    refuse_unchecked(recorded)
    return state


def write_finding(present: str, kind: str, recorded: Collection[str]) -> str:
    """Return 'finding'; what the data themselves explain needs no review of cases.

    Raises IllegalTransition, or BadInput naming the checks that are not recorded.
    """
    sources = (CHECKS, REVIEW) if kind in FROM_DATA else (REVIEW,)
    state = _move(present, FINDING, *sources)
    refuse_unchecked(recorded)
    return state


def agree_action(present: str) -> str:
    """Return 'action' for a signal with a finding.

    Raises IllegalTransition.
    """
    return _move(present, ACTION, FINDING)


def close(present: str, finding: str) -> str:
    """Return 'closed' for a signal whose finding is written down.

    Raises BadInput where there is no finding, else IllegalTransition.
    """
    if present != CLOSED and not finding.strip():
        raise BadInput(
            {"finding": "A signal is not closed without a finding; write it down first."}
        )
    return _move(present, CLOSED, FINDING, ACTION)


def reopen(present: str) -> str:
    """Return 'review' for a signal that was closed too early; what was found stays in its history.

    Raises IllegalTransition.
    """
    return _move(present, REVIEW, CLOSED)


def refuse_unchecked(recorded: Collection[str]) -> None:
    """Refuse to go on while one of the three checks is not recorded.

    Raises BadInput naming those that are missing.
    """
    missing = [
        words.split(":")[0].lower() for code, words in SUBJECTS.items() if code not in recorded
    ]
    if missing:
        raise BadInput(
            f"The data come first: {', '.join(missing)} not looked at yet. Record each check with "
            "what was found, then go on."
        )


def next_acts(state: str, recorded: Collection[str]) -> tuple[str, ...]:
    """Return the names of the functions above that a signal in a state may go through next."""
    checked = set(SUBJECTS) <= set(recorded)
    return {
        RAISED: (),
        CHECKS: ("begin_review", "write_finding") if checked else (),
        REVIEW: ("write_finding",),
        FINDING: ("agree_action", "close"),
        ACTION: ("close",),
        CLOSED: ("reopen",),
    }[state]


def days_late(due_on: date, today: date) -> int:
    """Return how many days a signal is past its day; 0 while it is not."""
    return max(0, (today - due_on).days)


def late_words(due_on: date, today: date) -> str:
    """Say how a signal stands to its day."""
    late = days_late(due_on, today)
    if late:
        return f"{late} day{'' if late == 1 else 's'} late"
    left = (due_on - today).days
    return "due today" if left == 0 else f"due in {left} day{'' if left == 1 else 's'}"
