"""What becomes of somebody whom a safety notice is about: one function for each step.

undecided -> to be reached, or no carrier; to be reached -> reached, could not be reached, declined;
reached -> reviewed, removed, declined. Removed and died are ends from wherever they come; each end can
be opened again by a further step, and nothing is edited.
"""

from registry.errors import IllegalTransition

UNDECIDED, NOT_ONE = "undecided", "not_one"
TO_REACH, REACHED = "to_reach", "reached"
REVIEWED, REMOVED, UNREACHABLE = "reviewed", "removed", "unreachable"
DIED, DECLINED = "died", "declined"
OPEN = (UNDECIDED, TO_REACH, REACHED)
ENDS = (NOT_ONE, REVIEWED, REMOVED, UNREACHABLE, DIED, DECLINED)
STATES = (*OPEN, *ENDS)
WORDS = {
    UNDECIDED: "to be decided",
    NOT_ONE: "no carrier",
    TO_REACH: "to be reached",
    UNREACHABLE: "could not be reached",
}


def first(*, certain: bool, removed: bool, died: bool) -> str:
    """Return the state in which a carrier is found."""
    if not certain:
        return UNDECIDED
    if removed:
        return REMOVED
    return DIED if died else TO_REACH


def is_one(state: str) -> str:
    """Decide that somebody who may carry it does."""
    return _from(state, (UNDECIDED,), TO_REACH)


def is_none(state: str) -> str:
    """Decide that somebody who may carry it does not."""
    return _from(state, (UNDECIDED,), NOT_ONE)


def decide_again(state: str) -> str:
    """Take back what was decided about somebody who may carry it."""
    return _from(state, (NOT_ONE, TO_REACH), UNDECIDED)


def reach(state: str) -> str:
    """Say that the patient was told."""
    return _from(state, (TO_REACH, UNREACHABLE), REACHED)


def review(state: str) -> str:
    """Say that the patient was seen about it, whether told before or then."""
    return _from(state, (TO_REACH, REACHED, UNREACHABLE, DECLINED), REVIEWED)


def remove(state: str) -> str:
    """Say that the part is not in the patient any more."""
    return _from(state, (TO_REACH, REACHED, REVIEWED, UNREACHABLE, DECLINED), REMOVED)


def give_up(state: str) -> str:
    """Say that the patient could not be reached."""
    return _from(state, (TO_REACH,), UNREACHABLE)


def die(state: str) -> str:
    """Say that the patient died, which leaves nothing to be done."""
    return _from(state, (TO_REACH, REACHED, REVIEWED, UNREACHABLE, DECLINED), DIED)


def decline(state: str) -> str:
    """Say that the patient does not want what is advised."""
    return _from(state, (TO_REACH, REACHED, UNREACHABLE), DECLINED)


def open_again(state: str) -> str:
    """Open an end again, so that the patient is to be reached."""
    return _from(state, (REACHED, REVIEWED, REMOVED, UNREACHABLE, DIED, DECLINED), TO_REACH)


# Each step by its name, as a form and a step that was saved call it.
STEPS = {
    "is_one": is_one,
    "is_none": is_none,
    "decide_again": decide_again,
    "reached": reach,
    "reviewed": review,
    "removed": remove,
    "unreachable": give_up,
    "died": die,
    "declined": decline,
    "opened_again": open_again,
}


def possible(state: str, *, certain: bool) -> list[str]:
    """Return the steps that can follow a state; who surely carries it is not decided about."""
    deciding = ("is_one", "is_none", "decide_again")
    return [
        name
        for name, step in STEPS.items()
        if not (certain and name in deciding) and _allows(step, state)
    ]


def _allows(step: object, state: str) -> bool:
    try:
        step(state)  # type: ignore[operator]
    except IllegalTransition:
        return False
    return True


def _from(state: str, starts: tuple[str, ...], end: str) -> str:
    if state not in starts:
        raise IllegalTransition(
            "The carrier", present=WORDS.get(state, state), wanted=WORDS.get(end, end)
        )
    return end
