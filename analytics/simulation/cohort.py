"""Generating an invented service case by case, in constant memory and the same for the same seed.

Attendance follows published facts loosely: 7.7 % do not come to a trauma clinic appointment
(Injury 2023); answers fall to about half at two years (ASMAR 2023;5:e137).
"""

from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import numpy as np

from analytics.simulation import people
from analytics.simulation.course import course_of
from analytics.simulation.records import SimCase
from analytics.simulation.truth import TRUTH

CODES = tuple(TRUTH)
SHARES = np.array([TRUTH[code].share for code in CODES])


def generate(
    procedures: int, *, sites: int, seed: int, until: date, years: int = 4
) -> Iterator[SimCase]:
    """Yield the cases of an invented service, oldest operation first.

    Each case has its own random stream made from the seed and its number, so that no case depends
    on how many came before. Raises ValueError unless there is at least one procedure and one site.
    """
    if procedures < 1 or sites < 1:
        raise ValueError("need at least one procedure and one site")
    span = int(365.25 * years)
    previous: SimCase | None = None
    for number in range(procedures):
        rng = np.random.default_rng([seed, number])
        day = until - timedelta(days=int(span * (1 - (number + 0.5) / procedures)))
        joined = previous is not None and not previous.same_patient and rng.random() < 0.03
        case = _case(rng, number, sites, day, previous if joined else None)
        yield course_of(rng, case, until)
        previous = case


def _case(
    rng: np.random.Generator, number: int, sites: int, day: date, before: SimCase | None
) -> SimCase:
    code = str(rng.choice(CODES, p=SHARES / SHARES.sum()))
    site = before.site if before is not None else int(rng.integers(sites))
    injury, classes = people.injury(rng, day, code)
    if before is not None:
        # Half are the other shoulder of the same person, half the same one hurt again.
        same_side = rng.random() < 0.5
        side = before.injury["side"]
        injury["side"] = side if same_side else ("right" if side == "left" else "left")
        injury["other_shoulder"] = "uninjured" if same_side else "operated_before"
    operated = injury["injured_latest"] + timedelta(days=int(rng.gamma(2.0, 3.5)) + 1)
    construct, reason = people.construct(rng, code)
    return SimCase(
        number=number,
        site=site,
        surgeon=int(rng.integers(3)),
        same_patient=before is not None,
        identity=before.identity if before is not None else people.identity(rng, day),
        injury=injury,
        classes=classes,
        operation=people.operation(rng, operated),
        construct_type=code,
        construct=construct,
        departure_reason=reason,
    )


def bad_rows(columns: tuple[str, ...]) -> list[tuple[dict[str, Any], str]]:
    """Return rows for a case import that each break one rule, with a word for what is wrong."""
    good = {
        "local_id": "BAD-1",
        "family_name": "Torwick",
        "given_name": "Ivo",
        "birth_date": "1980-02-03",
        "sex": "male",
        "injury_date": "2025-03-01",
        "side": "left",
        "procedure_date": "2025-03-06",
        "construct_type": "LP",
    }
    wrong = (
        ({"procedure_date": "2025-02-01"}, "before the injury"),
        ({"construct_type": "PLATE-9"}, "unknown construct type"),
        ({"injury_date": "2025-02-30"}, "impossible date"),
        ({"local_id": ""}, "no identifier"),
        ({"side": "middle"}, "unknown side"),
        ({"birth_date": "03/04/25"}, "ambiguous date"),
    )
    return [
        ({name: {**good, **change}.get(name, "") for name in columns}, word)
        for change, word in wrong
    ]
