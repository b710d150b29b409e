"""How long levelling takes: `python tests/bench/load.py 2000`.

Makes one site with so many reviews that wait for a slot in the next eight weeks, on five clinic days a
week, and prints the time of the pure assignment when the slots are plenty, just enough and too few;
then the time of computing, showing and applying a proposal, and of the page of the load, over a
database of its own. One run, one machine; on a busy one the processor's time says more.
"""

import os
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
WEEKS, DAYS_A_WEEK, ALL_WEEKS = 8, 5, 26
MONDAY = date(2026, 11, 23)
SEED = 11


def timed(what: str, do: Callable[[], Any]) -> Any:
    """Do something, print how long it took and how much of that it computed; return the result."""
    began, worked = time.perf_counter(), time.process_time()
    done = do()
    took, work = time.perf_counter() - began, time.process_time() - worked
    print(f"{what}: {took:.2f} s ({work:.2f} s of the processor)")
    return done


def dates(number: int) -> list[tuple[date, date, date, date]]:
    """Return window, due and proposed days of so many reviews, more of them in the early weeks."""
    draw = np.random.default_rng(SEED)
    last = WEEKS * 7
    found = []
    for _ in range(number):
        due = 7 + int(min(draw.integers(last - 7), draw.integers(last - 7)))
        opens, closes = due - int(draw.integers(3, 30)), due + int(draw.integers(3, 60))
        proposed = due - max(0, due % 7 - (DAYS_A_WEEK - 1))
        first = max(opens, proposed - 2)
        found.append(tuple(MONDAY + timedelta(n) for n in (first, due, closes, proposed)))
    return found


def level_alone(number: int) -> None:
    """Time the assignment by itself."""
    from followup.rules.load import Waiting, level, moves  # noqa: PLC0415 - after the path is set

    reviews = [Waiting(n, *one) for n, one in enumerate(dates(number))]
    held = [
        MONDAY + timedelta(weeks=week, days=day)
        for week in range(ALL_WEEKS)
        for day in range(DAYS_A_WEEK)
    ]
    for words, share in (("plenty", 1.6), ("just enough", 1.0), ("too few", 0.7)):
        slots = int(share * number / (WEEKS * DAYS_A_WEEK))
        eight = {day: slots for day in held if day < MONDAY + timedelta(weeks=WEEKS)}
        answer = timed(
            f"assignment, {number} reviews, slots {words} ({slots} a day)",
            lambda free=eight: level(reviews, free),
        )
        short = ", ".join(f"{one.short} short on {len(one.days)} days" for one in answer.shortages)
        print(f"  {len(moves(reviews, answer))} move, {len(answer.left)} without a day; {short}")


def level_a_service(number: int) -> None:
    """Time the whole way through a database of its own."""
    import django  # noqa: PLC0415

    with tempfile.TemporaryDirectory(prefix="holdfast-bench-") as folder:
        os.environ |= {"HOLDFAST_DATA_DIR": folder, "DJANGO_SETTINGS_MODULE": "config.settings"}
        django.setup()
        from django.core.management import call_command  # noqa: PLC0415

        call_command("migrate", verbosity=0)
        _whole_way(number)


def _whole_way(number: int) -> None:
    from django.test import Client  # noqa: PLC0415

    from followup.services import load  # noqa: PLC0415
    from registry.models import Person  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415

    _service(number)
    by, site = Person.objects.get(username="connie"), builders.site()
    now = datetime.now().astimezone()
    at: dict[str, Any] = {"by": by, "now": now, "today": MONDAY + timedelta(days=2)}
    proposal = timed(
        f"proposal computed and kept, {number} reviews", lambda: load.propose(site=site, **at)
    )
    moving = proposal.lines.filter(outcome="open").count()
    client = Client()
    client.force_login(by)
    done = timed(
        f"proposal applied, {moving} moves",
        lambda: load.apply(proposal=proposal, expected_version=1, **at),
    )
    print(f"  {done.moved} moved, {len(done.left_alone)} left alone")
    client.get("/load/")
    for path in ("/load/", "/load/?clinic=all", f"/load/proposals/{proposal.pk}/"):
        answer = timed(f"page {path}", lambda url=path: client.get(url))
        assert answer.status_code == 200, path


def _service(number: int) -> None:
    """Write one site with so many patients operated once, each with one review that waits."""
    from django.db import transaction  # noqa: PLC0415

    from followup.models import Review  # noqa: PLC0415
    from registry.models.patients import new_key  # noqa: PLC0415
    from tests import builders  # noqa: PLC0415
    from tests.followup.waiting import waiting  # noqa: PLC0415
    from tests.many import copies  # noqa: PLC0415

    builders.person("connie", north="coordinator")
    slots = number // (WEEKS * DAYS_A_WEEK)
    for day in range(DAYS_A_WEEK):
        builders.clinic(weekday=day, slots=slots)
    first: Review = waiting()
    operation = first.procedure
    with transaction.atomic():
        people = copies(operation.injury.patient, number, key=lambda _: new_key())
        copies(operation.injury.patient.identity, number, patient=lambda n: people[n])
        hurt = copies(operation.injury, number, patient=lambda n: people[n])
        done = copies(operation, number, injury=lambda n: hurt[n])
        when = dates(number)
        copies(
            first,
            number,
            procedure=lambda n: done[n],
            opens_on=lambda n: when[n][0],
            due_on=lambda n: when[n][1],
            closes_on=lambda n: when[n][2],
            proposed_on=lambda n: when[n][3],
        )


if __name__ == "__main__":
    wanted = int((sys.argv[1:] or ["2000"])[0])
    level_alone(wanted)
    level_a_service(wanted)
