"""Two hundred writers at the same twenty visits, at the same moment, through the real web server.

On SQLite, where one writes at a time and the others wait their turn, fifty writers at ten visits: who waits
in vain for 20 seconds is told so, and may send the same again.
"""

import json
import os
import re
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Barrier
from typing import Any

import httpx
import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.urls import reverse

from followup.models import MotionExam, Review, Score
from registry.models import AuditEntry
from tests import builders, trailed
from tests.copied import Service

ROOT = Path(__file__).resolve().parents[2]
VISITS, SURGEONS = 20, 10
FEW_VISITS, FEW_SURGEONS = 10, 5
# Sent again so often by whoever is told that the service is too busy.
TRIES = 10
Answered = tuple[int, int, int, str]


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """Serve this test's own database by processes as in production."""
    held = connection.settings_dict
    where = f"{held['HOST'] or '127.0.0.1'}:{held['PORT'] or 5432}/{held['NAME']}"
    given = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_DATA_DIR": str(tmp_path),
        "HOLDFAST_DATABASE": f"postgresql://{held['USER']}:{held['PASSWORD']}@{where}",
        "HOLDFAST_SECRET_KEY": settings.SECRET_KEY,
    }
    with served(given, tmp_path / "said") as found:
        yield found


@contextmanager
def served(given: dict[str, str], said_in: Path) -> Iterator[str]:
    """Serve a database by two processes of sixteen threads; yield the address."""
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    more = {
        "HOLDFAST_BIND": f"127.0.0.1:{port}",
        "HOLDFAST_WEB_PROCESSES": "2",
        "HOLDFAST_WEB_THREADS": "16",
    }
    words = [sys.executable, "-m", "gunicorn", "-c", "python:config.serving", "config.wsgi"]
    with said_in.open("w") as said:
        process = subprocess.Popen(words, cwd=ROOT, env={**given, **more}, stdout=said, stderr=said)
        try:
            wait_for(f"http://127.0.0.1:{port}", said_in)
            yield f"http://127.0.0.1:{port}"
        finally:
            process.terminate()
            process.wait(60)


def wait_for(address: str, said: Path) -> None:
    until = time.monotonic() + 120
    while time.monotonic() < until:
        try:
            if httpx.get(f"{address}/health/alive/", timeout=5).status_code == 200:
                return
        except httpx.TransportError:
            time.sleep(0.2)
    raise AssertionError(said.read_text())


def signed_in(name: str) -> dict[str, str]:
    """Return the cookies of a surgeon who is signed in."""
    client = Client()
    client.force_login(builders.person(name, north="surgeon"))
    return {"sessionid": client.cookies["sessionid"].value}


def visits(number: int = VISITS) -> list[Review]:
    found = []
    for count in range(number):
        whose = builders.patient(family_name=f"Quill{count}")
        operation = builders.procedure(of=builders.injury(of=whose))
        found.append(operation.reviews.get(step__code="6m"))
    return found


def written_at_once(
    address: str, rows: list[tuple[int, int]], people: list[dict[str, str]]
) -> list[Answered]:
    """Let everybody save every visit at the same moment; return by visit and person what each was told."""
    line = Barrier(len(rows) * len(people), timeout=300)
    limits = httpx.Limits(max_connections=1)

    def write(job: tuple[int, int, int]) -> Answered:
        key, version, number = job
        page = f"{address}{reverse('clinic-visit', args=[key])}"
        with httpx.Client(cookies=people[number], limits=limits, timeout=300) as client:
            shown = client.get(page).text
            secret = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', shown)
            assert secret, shown[:500]
            sent = {
                "csrfmiddlewaretoken": secret.group(1),
                "version": str(version),
                "visited_on": "2026-11-25",
                # Each writes what nobody else does, so that a mixture would show.
                "flexion_deg": str(100 + number),
                "pain_nrs": str(number),
                "next_step_note": f"as surgeon {number} says",
            }
            line.wait()
            for _ in range(TRIES):
                answer = client.post(page, data=sent)
                if answer.status_code != 500:
                    break
                assert "half-saved" in answer.text, answer.text[:500]
        return key, number, answer.status_code, answer.text

    jobs = [(key, version, number) for key, version in rows for number in range(len(people))]
    with ThreadPoolExecutor(len(jobs)) as pool:
        return list(pool.map(write, jobs))


def one_won(answers: list[Answered], visits: int, people: int) -> dict[int, int]:
    """Hold that of each visit one was saved and each other was told by whom; return who won which."""
    codes = Counter(code for _, _, code, _ in answers)
    assert codes == {302: visits, 409: visits * (people - 1)}
    winners = {review: number for review, number, code, _ in answers if code == 302}
    assert len(winners) == visits
    for review, number, code, said in answers:
        if code == 409:
            assert "Somebody else saved this first" in said
            assert (
                f"<td>as surgeon {winners[review]} says</td><td>as surgeon {number} says</td>"
                in said
            )
    return winners


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_of_all_who_save_a_visit_at_once_one_does_whole_and_each_other_is_told(
    address: str,
) -> None:
    builders.load_defaults()
    rows = [(row.pk, row.version) for row in visits()]
    people = [signed_in(f"surgeon{n}") for n in range(SURGEONS)]
    begun = AuditEntry.objects.filter(table="followup_review", action="update").count()
    winners = one_won(written_at_once(address, rows, people), VISITS, SURGEONS)
    for review, number in winners.items():
        holds_whole(Review.objects.get(pk=review), number)
    assert (MotionExam.objects.count(), Score.objects.count()) == (VISITS, VISITS)
    changes = AuditEntry.objects.filter(table="followup_review", action="update").count() - begun
    assert changes == VISITS
    assert trailed.holds()


BEGUN = f"""
import json
import django
django.setup()
from tests import builders
from tests.config import test_many_writers as writers
builders.load_defaults()
rows = [(row.pk, row.version) for row in writers.visits({FEW_VISITS})]
people = [writers.signed_in(f"surgeon{{n}}") for n in range({FEW_SURGEONS})]
print(json.dumps([rows, people]))
"""
ENDED = f"""
import json, sys
import django
django.setup()
from followup.models import MotionExam, Review, Score
from tests import trailed
from tests.config import test_many_writers as writers
for review, number in json.loads(sys.argv[1]):
    writers.holds_whole(Review.objects.get(pk=review), number)
assert (MotionExam.objects.count(), Score.objects.count()) == ({FEW_VISITS}, {FEW_VISITS})
assert trailed.holds()
"""


@pytest.mark.either_engine
def test_on_sqlite_they_wait_their_turn_and_no_change_is_lost(tmp_path: Path) -> None:
    service = Service(tmp_path)
    service.run("migrate", "-v0")
    rows, people = json.loads(service.run("-c", BEGUN).stdout.splitlines()[-1])
    with served(service.settings(), tmp_path / "said") as address:
        answers = written_at_once(address, [tuple(row) for row in rows], people)
    winners = one_won(answers, FEW_VISITS, FEW_SURGEONS)
    service.run("-c", ENDED, json.dumps(list(winners.items())))
    assert "rules hold" in service.run("verify_records").stdout


def holds_whole(row: Review, number: int) -> None:
    """Hold that a visit has all that one surgeon wrote, and nothing of another."""
    hurt: Any = row.procedure.injury
    assert (row.state, row.version) == ("attended", 2)
    assert row.next_step_note == f"as surgeon {number} says"
    assert MotionExam.objects.get(injury=hurt).flexion_deg == 100 + number
    assert Score.objects.get(injury=hurt).value == number
    assert row.changed_by.username == f"surgeon{number}"
