"""How invented patients live through a year of follow-up: who comes, answers, moves, dies, and when."""

from dataclasses import dataclass

from analytics.simulation.draws import Draws

YEAR = 2
# Each in turn, so that a few patients already meet everything; more often than in any real service.
LEAVING = ("", "died", "", "moved", "", "withdrawn", "", "moved_and_back")
CONSTRUCTS = ("LP", "HP", "LP+A2", "TG", "HP", "LP+A1")
OPERATED_WITHIN = 0.55
REVISED_SHARE, NEW_PHONE_SHARE, REFUSES_EMAIL_SHARE = 0.15, 0.3, 0.1
ABOUT_REMOVAL = ("done", "declined", "deferred", "ignored")


@dataclass(frozen=True)
class Habits:
    """What one patient will do; days are counted from the first of the year, None means never.

    `keeps`, `comes_late`, `answers_calls`, `answers_at_home` are probabilities: of keeping a slot, of
    coming unbooked after a missed one, of answering a call, of answering a questionnaire on a day.
    `waits_days` is how long the question of removal is left before `about_removal` is done.
    """

    number: int
    construct_type: str
    operated_day: int
    keeps: float
    comes_late: float
    answers_calls: float
    answers_at_home: float
    leaving: str
    leaves_day: int | None
    back_day: int | None
    new_phone_day: int | None
    revised_day: int | None
    refuses_email: bool
    about_removal: str
    waits_days: int


def habits(*, seed: int, number: int, days: int) -> Habits:
    """Return how a patient lives through so many days, the same for the same seed and number.

    Raises ValueError for less than four weeks, in which nothing would happen.
    """
    if days < 28:
        raise ValueError(f"a rehearsal takes at least 28 days; got {days}")
    rng = Draws(seed, number, YEAR)
    operated = 1 + int(rng.random() * days * OPERATED_WITHIN)
    leaving = LEAVING[number % len(LEAVING)]
    leaves = operated + rng.integers(10, 150) if leaving else None
    never_comes = rng.chance(0.1)
    return Habits(
        number=number,
        construct_type=CONSTRUCTS[number % len(CONSTRUCTS)],
        operated_day=operated,
        keeps=0.0 if never_comes else rng.uniform(0.6, 1.0),
        comes_late=0.0 if never_comes else 0.4,
        answers_calls=0.1 if never_comes else rng.uniform(0.4, 0.95),
        answers_at_home=rng.choice((0.0, 0.1, 0.4)),
        leaving=leaving,
        leaves_day=leaves,
        back_day=leaves + 25 if leaves is not None and leaving == "moved_and_back" else None,
        new_phone_day=operated + rng.integers(5, 90) if rng.chance(NEW_PHONE_SHARE) else None,
        revised_day=operated + rng.integers(20, 100) if rng.chance(REVISED_SHARE) else None,
        refuses_email=rng.chance(REFUSES_EMAIL_SHARE),
        about_removal=ABOUT_REMOVAL[number // 2 % len(ABOUT_REMOVAL)],
        waits_days=rng.integers(0, 30),
    )
