"""Programs that write over one another at the same moment: one of them wins, and the rest are told."""

from concurrent.futures import ThreadPoolExecutor
from datetime import date
from threading import Barrier
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange import film_store
from followup.models import IncomingImage, MotionExam
from followup.services import motion
from registry.models import AuditEntry, Person, Procedure
from tests import builders, trailed
from tests.api import Program, signed_in

pytestmark = [pytest.mark.needs_postgres, pytest.mark.django_db(transaction=True)]
AT_ONCE = 8


@pytest.fixture(autouse=True)
def nine_o_clock(time_machine: Any) -> None:
    """The interface reads the clock; rows that the builders save are not newer than it."""
    time_machine.move_to(builders.NOW)


def all_at_once(person: Person, send: Any) -> list[int]:
    """Let several programs of a person send at the same moment; return the codes they get."""
    line = Barrier(AT_ONCE)

    def one(number: int) -> int:
        program = signed_in(Person.objects.get(pk=person.pk))
        line.wait(timeout=300)
        try:
            return int(send(program, number).status_code)
        finally:
            connection.close()

    with ThreadPoolExecutor(AT_ONCE) as pool:
        return sorted(pool.map(one, range(AT_ONCE)))


def test_of_programs_with_one_version_a_single_one_changes_the_row() -> None:
    surgeon = builders.person("selma", north="surgeon")
    row = builders.procedure()

    def send(program: Program, number: int) -> Any:
        change = {"duration_minutes": 60 + number, "reason": "read the note"}
        return program.change(f"/api/v1/procedures/{row.pk}/", change)

    assert all_at_once(surgeon, send) == [200] + [412] * (AT_ONCE - 1)
    assert Procedure.objects.get(pk=row.pk).version == 2
    changes = AuditEntry.objects.filter(table="registry_procedure", action="update")
    assert changes.count() == 1
    assert trailed.holds()


def test_of_programs_that_record_the_same_exam_a_single_one_does() -> None:
    surgeon = builders.person("selma", north="surgeon")
    hurt = builders.injury()

    def send(program: Program, number: int) -> Any:
        exam = {"examined_on": "2026-07-20", "side": "left", "flexion_deg": 90 + number}
        return program.post("/api/v1/motion-exams/", {"injury": hurt.pk, **exam})

    codes = all_at_once(surgeon, send)
    assert codes[0] == 201
    assert set(codes[1:]) <= {400, 409, 412}
    assert MotionExam.objects.count() == 1


def test_a_program_does_not_write_over_what_a_page_saved_meanwhile() -> None:
    surgeon = builders.person("selma", north="surgeon")
    hurt = builders.injury()
    exam = {"examined_on": date(2026, 7, 20), "side": "left", "mode": "active"}
    at: dict[str, Any] = {"by": surgeon, "now": builders.NOW, "today": builders.TODAY}
    row = motion.record_motion(injury=hurt, values={**exam, "flexion_deg": 90}, **at)
    motion.record_motion(injury=hurt, values={**exam, "flexion_deg": 95}, **at)
    answer = signed_in(surgeon).change(f"/api/v1/motion-exams/{row.pk}/", {"flexion_deg": 10})
    assert answer.status_code == 412
    assert MotionExam.objects.get().flexion_deg == 95


def test_of_programs_that_send_the_same_film_one_brings_it_in() -> None:
    surgeon = builders.person("selma", north="surgeon")
    film = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0)).dicom()
    before = set(dict(film_store.kept()))

    def send(program: Program, _: int) -> Any:
        sent = {"site": "north", "file": SimpleUploadedFile("film.dcm", film)}
        return program.post("/api/v1/films-in/", sent, format="multipart")

    assert all_at_once(surgeon, send) == [201] + [400] * (AT_ONCE - 1)
    # Whoever was slower left no file behind.
    kept = set(dict(film_store.kept())) - before
    assert kept == {IncomingImage.objects.get().stored_name}
