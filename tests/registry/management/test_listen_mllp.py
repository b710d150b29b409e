"""The listener as a process of its own: several senders, a kill between commit and answer, a resend."""

import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from threading import Barrier

import hl7
import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from registry.management.commands.listen_mllp import Takes
from registry.models import AuditEntry, HospitalMessage
from registry.models.identities import Identity
from tests import builders, hospital

ROOT = Path(__file__).resolve().parents[3]
SETUP = """
from tests import builders, hospital
from registry.models.identities import Identifier
hospital.door()
patient = builders.patient(family_name="Testfamily")
Identifier.objects.update(value="4711")
"""
AT_ONCE = 6


def started(data: Path, *words: str) -> "subprocess.Popen[str]":
    kept = {key: value for key, value in os.environ.items() if not key.startswith("HOLDFAST_")}
    given = {"HOLDFAST_DATA_DIR": str(data), "DJANGO_SETTINGS_MODULE": "config.settings"}
    return subprocess.Popen(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env={**kept, **given, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a service of its own on a file, with one patient and an open door."""
    data = tmp_path_factory.mktemp("service")
    for words in (("migrate", "-v0"), ("shell", "-v0", "-c", SETUP)):
        process = started(data, *words)
        _, faults = process.communicate(timeout=300)
        assert process.returncode == 0, faults
    return data


@contextmanager
def listener(data: Path) -> Iterator[tuple["subprocess.Popen[str]", int]]:
    process = started(data, "listen_mllp", "--site", "north", "--port", "0")
    assert process.stdout is not None
    try:
        said = process.stdout.readline()
        assert said.startswith("Listening at 127.0.0.1:"), said
        yield process, int(said.strip().rstrip(".").rpartition(":")[2])
    finally:
        process.kill()
        process.communicate(timeout=60)


def sent(port: int, content: bytes) -> hl7.Message:
    """Send a message and return its answer."""
    with socket.create_connection(("127.0.0.1", port), timeout=60) as line:
        line.sendall(b"\x0b" + content + b"\x1c\r")
        got = b""
        while not got.endswith(b"\x1c\r"):
            more = line.recv(4096)
            assert more, "the line was cut"
            got += more
    return hl7.parse(got[1:-2].decode())


def asked(data: Path, query: str) -> list[tuple[object, ...]]:
    with sqlite3.connect(data / "holdfast.sqlite3", timeout=30) as link:
        return link.execute(query).fetchall()


def test_the_process_answers_honestly_and_is_none_the_worse_for_bad_messages(service: Path) -> None:
    with listener(service) as (process, port):
        good = hospital.adt("A08", "4711", phone="0555 1", control_id="P1")
        assert (sent(port, good)["MSA.1"], sent(port, good)["MSA.2"]) == ("AA", "P1")
        bad = sent(port, hospital.adt("A08", "4711", control_id="P2").replace(b"PID|", b"ZID|"))
        assert bad["MSA.1"] == "AE"
        assert "no PID" in str(bad["ERR.8"])
        assert sent(port, b"nonsense")["MSA.1"] == "AE"
        assert sent(port, hospital.adt("A60", "4711"))["MSA.1"] == "AR"
        with ThreadPoolExecutor(AT_ONCE) as pool:
            many = [
                hospital.adt("A08", "4711", phone=f"0555 {n}", at=f"2026112509{n:02d}00")
                for n in range(24)
            ]
            answers = list(pool.map(lambda content: sent(port, content)["MSA.1"], reversed(many)))
        assert set(answers) == {"AA"}
        process.send_signal(signal.SIGTERM)
        said, _ = process.communicate(timeout=60)
        assert "Stopped." in said
    assert asked(service, "SELECT phone FROM registry_identity") == [("0555 23",)]
    # Each was taken or overtaken, and the ones that cannot be used are kept to be seen.
    refused = asked(service, "SELECT answer FROM registry_hospitalmessage WHERE fate = 'refused'")
    assert sorted(refused) == [("AE",), ("AE",), ("AR",)]


def test_a_listener_killed_after_the_commit_and_before_its_answer_was_read_does_no_harm(
    service: Path,
) -> None:
    content = hospital.adt(
        "A08", "4711", address="Kill Lane 9", at="20261125100000", control_id="K1"
    )
    with listener(service) as (process, port):
        line = socket.create_connection(("127.0.0.1", port), timeout=60)
        line.sendall(b"\x0b" + content + b"\x1c\r")
        until = time.monotonic() + 60
        while not asked(service, "SELECT 1 FROM registry_hospitalmessage WHERE control_id = 'K1'"):
            assert time.monotonic() < until, "the message was never kept"
        process.send_signal(signal.SIGKILL)
        line.close()
    with listener(service) as (_, port):
        assert sent(port, content)["MSA.1"] == "AA"
    kept = "SELECT fate, times FROM registry_hospitalmessage WHERE control_id = 'K1'"
    assert asked(service, kept) == [("taken", 2)]
    changes = (
        "SELECT count(*) FROM registry_auditentry WHERE \"table\" = 'registry_identity' "
        "AND after LIKE '%Kill Lane 9%' AND before NOT LIKE '%Kill Lane 9%'"
    )
    assert asked(service, changes) == [(1,)]


@pytest.mark.django_db
def test_a_listener_does_not_start_for_a_site_without_an_open_door() -> None:
    builders.site()
    with pytest.raises(CommandError, match="open its door"):
        call_command("listen_mllp", site="north")
    with pytest.raises(CommandError, match="no site"):
        call_command("listen_mllp", site="nowhere")


@pytest.mark.django_db
def test_addresses_that_are_none_are_named_before_anything_listens(
    settings: pytest.FixtureRequest,
) -> None:
    hospital.door()
    settings.HL7_ALLOWED = ["hospital"]  # type: ignore[attr-defined]
    with pytest.raises(CommandError, match="HOLDFAST_HL7_ALLOWED: 'hospital'"):
        call_command("listen_mllp", site="north")


@pytest.mark.django_db
def test_a_message_that_could_not_be_kept_is_to_be_sent_again() -> None:
    door = hospital.door(is_open=False)
    answer = hl7.parse(Takes(door.site)(hospital.adt("A08", "1")).decode())
    assert answer["MSA.1"] == "AE"
    assert "send it again" in str(answer["ERR.8"])


@pytest.mark.needs_postgres
@pytest.mark.django_db(transaction=True)
def test_several_listeners_with_the_same_message_at_once_have_one_effect() -> None:
    site = hospital.door().site
    patient = builders.patient(family_name="Testfamily")
    number = hospital.number_of(patient)
    contents = [
        hospital.adt("A08", number, phone=f"0555 {n}", at=f"202611250900{n:02d}") for n in range(4)
    ]
    begin = Barrier(AT_ONCE)

    def one(_: int) -> list[bytes]:
        begin.wait(timeout=300)
        try:
            return [Takes(site)(content) for content in contents]
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = [answer for some in pool.map(one, range(AT_ONCE)) for answer in some]
    assert all(b"MSA|AA|" in answer for answer in answers)
    assert list(HospitalMessage.objects.values_list("times", flat=True)) == [AT_ONCE] * 4
    assert Identity.objects.get(patient=patient).phone == "0555 3"
    entries = AuditEntry.objects.filter(table="registry_identity", action="update")
    new = [one.after["phone"] for one in entries if one.after["phone"] != one.before["phone"]]
    assert len(new) == len(set(new))
