"""Two hundred writers at the same twenty visits, at the same moment, through the real web server."""

import os
import re
import socket
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
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

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
ROOT = Path(__file__).resolve().parents[2]
VISITS, SURGEONS = 20, 10


@pytest.fixture
def address(tmp_path: Path) -> Iterator[str]:
    """Serve this test's own database by processes as in production."""
    held = connection.settings_dict
    with socket.socket() as found:
        found.bind(("127.0.0.1", 0))
        port = found.getsockname()[1]
    where = f"{held['HOST'] or '127.0.0.1'}:{held['PORT'] or 5432}/{held['NAME']}"
    given = {
        **os.environ,
        "DJANGO_SETTINGS_MODULE": "config.settings",
        "HOLDFAST_DATA_DIR": str(tmp_path),
        "HOLDFAST_DATABASE": f"postgresql://{held['USER']}:{held['PASSWORD']}@{where}",
        "HOLDFAST_SECRET_KEY": settings.SECRET_KEY,
        "HOLDFAST_BIND": f"127.0.0.1:{port}",
        "HOLDFAST_WEB_PROCESSES": "2",
        "HOLDFAST_WEB_THREADS": "16",
    }
    words = [sys.executable, "-m", "gunicorn", "-c", "python:config.serving", "config.wsgi"]
    with (tmp_path / "said").open("w") as said:
        process = subprocess.Popen(words, cwd=ROOT, env=given, stdout=said, stderr=said)
        try:
            wait_for(f"http://127.0.0.1:{port}", tmp_path / "said")
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


def visits() -> list[Review]:
    found = []
    for number in range(VISITS):
        whose = builders.patient(family_name=f"Quill{number}")
        operation = builders.procedure(of=builders.injury(of=whose))
        found.append(operation.reviews.get(step__code="6m"))
    return found


def test_of_all_who_save_a_visit_at_once_one_does_whole_and_each_other_is_told(
    address: str,
) -> None:
    builders.load_defaults()
    rows = visits()
    people = [signed_in(f"surgeon{n}") for n in range(SURGEONS)]
    begun = AuditEntry.objects.filter(table="followup_review", action="update").count()
    line = Barrier(VISITS * SURGEONS, timeout=300)
    limits = httpx.Limits(max_connections=1)

    def write(job: tuple[Review, int]) -> tuple[int, int, int, str]:
        row, number = job
        page = f"{address}{reverse('clinic-visit', args=[row.pk])}"
        with httpx.Client(cookies=people[number], limits=limits, timeout=300) as client:
            shown = client.get(page).text
            secret = re.search(r'name="csrfmiddlewaretoken" value="([^"]+)"', shown)
            assert secret, shown[:500]
            sent = {
                "csrfmiddlewaretoken": secret.group(1),
                "version": str(row.version),
                "visited_on": "2026-11-25",
                # Each writes what nobody else does, so that a mixture would show.
                "flexion_deg": str(100 + number),
                "pain_nrs": str(number),
                "next_step_note": f"as surgeon {number} says",
            }
            line.wait()
            answer = client.post(page, data=sent)
        return row.pk, number, answer.status_code, answer.text

    jobs = [(row, number) for row in rows for number in range(SURGEONS)]
    with ThreadPoolExecutor(len(jobs)) as pool:
        answers = list(pool.map(write, jobs))
    codes = Counter(code for _, _, code, _ in answers)
    assert codes == {302: VISITS, 409: VISITS * (SURGEONS - 1)}
    winners = {review: number for review, number, code, _ in answers if code == 302}
    assert len(winners) == VISITS
    for review, number, code, said in answers:
        if code == 409:
            assert "Somebody else saved this first" in said
            assert (
                f"<td>as surgeon {winners[review]} says</td><td>as surgeon {number} says</td>"
                in said
            )
    for review, number in winners.items():
        holds_whole(Review.objects.get(pk=review), number)
    assert (MotionExam.objects.count(), Score.objects.count()) == (VISITS, VISITS)
    changes = AuditEntry.objects.filter(table="followup_review", action="update").count() - begun
    assert changes == VISITS
    assert trailed.holds()


def holds_whole(row: Review, number: int) -> None:
    """Hold that a visit has all that one surgeon wrote, and nothing of another."""
    hurt: Any = row.procedure.injury
    assert (row.state, row.version) == ("attended", 2)
    assert row.next_step_note == f"as surgeon {number} says"
    assert MotionExam.objects.get(injury=hurt).flexion_deg == 100 + number
    assert Score.objects.get(injury=hurt).value == number
    assert row.changed_by.username == f"surgeon{number}"
