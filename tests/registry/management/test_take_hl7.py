"""Messages of the hospital's system from files."""

from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from registry.models import HospitalMessage
from tests import builders, hospital

pytestmark = pytest.mark.django_db


def run(*files: Path) -> str:
    said = StringIO()
    call_command("take_hl7", *files, site="north", stdout=said, stderr=said)
    return said.getvalue()


def batch(folder: Path, *messages: bytes, promises: int | None = None) -> Path:
    rows = [b"FHS|^~\\&|PAS", b"BHS|^~\\&|PAS", *messages]
    count = len(messages) if promises is None else promises
    path = folder / "batch.hl7"
    path.write_bytes(b"\r\n".join([*rows, f"BTS|{count}".encode(), b"FTS|1", b""]))
    return path


def test_a_batch_is_taken_and_told_by_fates_and_twice_is_once(tmp_path: Path) -> None:
    hospital.door()
    patient = builders.patient(family_name="Testfamily")
    number = hospital.number_of(patient)
    path = batch(
        tmp_path,
        hospital.adt("A08", number, phone="0555 1", control_id="1"),
        hospital.adt("A08", "9", family="Stranger", control_id="2"),
    )
    for _ in range(2):
        assert "2 messages read: 1 taken, 1 about nobody and nothing of ours." in run(path)
    assert HospitalMessage.objects.count() == 2
    assert set(HospitalMessage.objects.values_list("way", flat=True)) == {"file"}


def test_a_file_that_lost_messages_says_so_and_the_others_are_taken(tmp_path: Path) -> None:
    hospital.door()
    with pytest.raises(CommandError, match="1 faults"):
        run(batch(tmp_path, hospital.adt("A08", "9", family="Stranger"), promises=3))
    assert HospitalMessage.objects.count() == 1


def test_a_message_that_cannot_be_used_ends_with_a_fault(tmp_path: Path) -> None:
    hospital.door()
    with pytest.raises(CommandError, match="1 faults"):
        run(batch(tmp_path, hospital.adt("A60", "9")))


def test_a_file_without_messages_or_a_site_without_a_door_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.hl7"
    path.write_bytes(b"\n")
    builders.site()
    with pytest.raises(CommandError, match="no message"):
        run(path)
    with pytest.raises(CommandError, match="open the door"):
        run(batch(tmp_path, hospital.adt("A08", "9")))
    with pytest.raises(CommandError, match="no site"):
        call_command("take_hl7", path, site="nowhere")
    with pytest.raises(CommandError, match="cannot be read"):
        run(tmp_path / "gone")
