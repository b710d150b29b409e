"""The policy of contact: who is tried next, by what, from which day, and when it is enough.

Counted are the tries without success since the patient was last heard of, or since a number, an
address or another contact became known. After some unanswered tries by one means another one is
proposed, not the next call (academic guidance on keeping participants: three unanswered calls, then
another route). Tries of long ago do not count: whoever is due again is tried again. 'Cannot be
reached' is a verdict by rule with its reason, and reversible.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

PHONE, TEXT, EMAIL, LETTER, OTHER_PERSON = "phone", "text", "email", "letter", "other_person"
MEANS = (PHONE, TEXT, EMAIL, LETTER, OTHER_PERSON)
WORDS = {
    PHONE: "phone call",
    TEXT: "text message",
    EMAIL: "e-mail",
    LETTER: "letter",
    OTHER_PERSON: "the other contact",
}
REACHED, DECLINED, WRONG = "reached", "declined", "wrong_contact"
HEARD = (REACHED, DECLINED)
# After so long a silence somebody is tried anew (common practice, no source).
SPELL_DAYS = 90
# A number that is wrong for a call is wrong for a text.
WRONG_TOGETHER = {PHONE: (PHONE, TEXT), TEXT: (PHONE, TEXT)}


class Verdict(StrEnum):
    """What the policy says today."""

    TRY = "try"
    CANNOT = "cannot_be_reached"
    STOPPED = "stopped"


@dataclass(frozen=True)
class Policy:
    """A site's policy: common practice, no source, but for the calls before another route.

    `attempts` by `means` different means over `over_days` days at the least before somebody cannot
    be reached; `days_between` two tries; after `calls_before_other_route` unanswered tries by one
    means another is proposed; two reminders are `reminder_days` apart.
    """

    attempts: int = 6
    means: int = 2
    over_days: int = 14
    days_between: int = 2
    calls_before_other_route: int = 3
    reminder_days: int = 7


@dataclass(frozen=True)
class Try:
    """One try at reaching the patient."""

    on: date
    means: str
    outcome: str


@dataclass(frozen=True)
class Reach:
    """How a patient may be reached, and the tries in vain since they were last heard of.

    `declined_on` is when the patient said that they do not want to come to the review in question.
    """

    available: frozenset[str]
    preferred: str = PHONE
    refused: frozenset[str] = frozenset()
    opted_out: bool = False
    heard_on: date | None = None
    declined_on: date | None = None
    tries: tuple[Try, ...] = ()


@dataclass(frozen=True)
class NextTry:
    """What is to be done next, in words; `means` and `from_on` only where somebody is tried again."""

    verdict: Verdict
    words: str
    means: str = ""
    from_on: date | None = None


def available_means(
    *, phone: str, email: str, address: str, others: Iterable[str]
) -> frozenset[str]:
    """Return the means for which there is a number or an address."""
    has = {PHONE: phone, TEXT: phone, EMAIL: email, LETTER: address, OTHER_PERSON: "".join(others)}
    return frozenset(means for means, where in has.items() if where.strip())


def next_try(policy: Policy, reach: Reach, today: date) -> NextTry:
    """Say who is to be tried next and how, or why nobody is."""
    tries = _spell(reach.tries, today)
    if reach.opted_out:
        return NextTry(Verdict.STOPPED, "does not want to be contacted")
    if reach.declined_on is not None:
        said = f"said on {_day(reach.declined_on)} that they do not want to come"
        return NextTry(Verdict.STOPPED, said)
    ways = _ways(reach, tries)
    if exhausted(policy, tries, ways):
        return NextTry(Verdict.CANNOT, _enough(tries))
    if not ways:
        return _no_way(reach, tries, today)
    means = _choose(policy, reach, tries, ways)
    return _proposal(policy, reach, tries, means, today)


def in_words(proposal: NextTry) -> str:
    """Say a proposal as a sentence begins."""
    starts = {
        Verdict.TRY: "Next",
        Verdict.CANNOT: "Cannot be reached",
        Verdict.STOPPED: "Not to be tried",
    }
    return f"{starts[proposal.verdict]}: {proposal.words}"


def exhausted(policy: Policy, tries: list[Try], ways: list[str]) -> bool:
    """Say whether the policy has been followed to its end without an answer.

    Nobody is asked to use more different means than there are.
    """
    used = {one.means for one in tries}
    return (
        len(tries) >= max(1, policy.attempts)
        and len(used) >= min(policy.means, len(used | set(ways)))
        and (tries[-1].on - tries[0].on).days >= policy.over_days
    )


def _spell(tries: Iterable[Try], today: date) -> list[Try]:
    """Return the tries that belong together: none lies long before the next one, or before today."""
    spell: list[Try] = []
    after = today
    for one in sorted(tries, key=lambda one: one.on, reverse=True):
        if (after - one.on).days > SPELL_DAYS:
            break
        spell.insert(0, one)
        after = one.on
    return spell


def _ways(reach: Reach, tries: list[Try]) -> list[str]:
    """Return the means that may be used, the preferred one first."""
    wrong = {
        other
        for one in tries
        if one.outcome == WRONG
        for other in WRONG_TOGETHER.get(one.means, (one.means,))
    }
    order = sorted(MEANS, key=lambda means: means != reach.preferred)
    usable = reach.available - reach.refused - wrong
    return [means for means in order if means in usable]


def _choose(policy: Policy, reach: Reach, tries: list[Try], ways: list[str]) -> str:
    """Return the first means that has not been tried in vain often enough, else the least tried."""
    times = {means: sum(one.means == means for one in tries) for means in ways}
    fresh = [means for means in ways if times[means] < policy.calls_before_other_route]
    if _needs_another(policy, tries, ways):
        fresh = [means for means in fresh if not times[means]] or fresh
    return fresh[0] if fresh else min(ways, key=lambda means: times[means])


def _needs_another(policy: Policy, tries: list[Try], ways: list[str]) -> bool:
    """Say whether the tries that are left are just enough for the means that are still lacking."""
    used = {one.means for one in tries}
    lacking = min(policy.means, len(used | set(ways))) - len(used)
    return lacking > 0 and policy.attempts - len(tries) <= lacking


def _proposal(policy: Policy, reach: Reach, tries: list[Try], means: str, today: date) -> NextTry:
    from_on = today
    if tries:
        from_on = max(from_on, tries[-1].on + timedelta(days=policy.days_between))
        if len(tries) >= policy.attempts - 1:
            # The last try that counts is made when the days of the policy are over, not before.
            from_on = max(from_on, tries[0].on + timedelta(days=policy.over_days))
    elif reach.heard_on is not None:
        from_on = max(from_on, reach.heard_on + timedelta(days=policy.days_between))
    when = "now" if from_on == today else f"from {_day(from_on)}"
    return NextTry(
        Verdict.TRY, f"{WORDS[means]} {when}{_after(tries, reach.heard_on)}", means, from_on
    )


def _after(tries: list[Try], heard_on: date | None) -> str:
    if not tries:
        return f"; last heard of on {_day(heard_on)}" if heard_on else ""
    return (
        f", after {_tries(tries)}; the last, by {WORDS[tries[-1].means]}, on {_day(tries[-1].on)}"
    )


def _enough(tries: list[Try]) -> str:
    names = [WORDS[means] for means in MEANS if any(one.means == means for one in tries)]
    days = (tries[-1].on - tries[0].on).days
    return f"{_tries(tries)} in {_days(days)} without an answer ({', '.join(names)})"


def _no_way(reach: Reach, tries: list[Try], today: date) -> NextTry:
    """Say what follows when no means is left: a missing number is looked for, not taken as lost."""
    if not reach.available:
        return NextTry(Verdict.TRY, "look for a number or an address: none is recorded", "", today)
    if reach.available <= reach.refused:
        return NextTry(Verdict.STOPPED, "has refused every means that there is")
    return NextTry(Verdict.CANNOT, "every number and address that may be used is wrong")


def _tries(tries: list[Try]) -> str:
    return "1 try" if len(tries) == 1 else f"{len(tries)} tries"


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def _day(day: date) -> str:
    return f"{day:%d %b %Y}"
