from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import pydicom
import pytest
from PIL import Image
from pydicom.dataset import Dataset

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange.image_examiner import examine, look_into
from followup.rules.image_files import ImageRefused, Limits
from tests.followup.exchange.dicom_samples import sent

FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
MEMORY_MB = 1500


@pytest.fixture
def as_file(tmp_path: Path) -> Callable[[bytes], BinaryIO]:
    def write(content: bytes) -> BinaryIO:
        path = tmp_path / "sent"
        path.write_bytes(content)
        return path.open("rb")

    return write


def test_the_other_process_finds_what_this_one_would(as_file: Callable[[bytes], BinaryIO]) -> None:
    with as_file(FILM.dicom()) as source:
        arrival, kept = examine(source, Limits(), MEMORY_MB)
    with kept:
        whole = kept.read()
    assert arrival == look_into(BytesIO(FILM.dicom()), BytesIO(), Limits())
    assert pydicom.dcmread(BytesIO(whole)).PatientName == ""


def test_a_refusal_comes_back_in_its_words(as_file: Callable[[bytes], BinaryIO]) -> None:
    with as_file(b"hello") as source, pytest.raises(ImageRefused, match="neither DICOM nor PNG"):
        examine(source, Limits(), MEMORY_MB)


def test_what_libraries_print_does_not_get_between(as_file: Callable[[bytes], BinaryIO]) -> None:
    # The library for JPEG 2000 complains aloud about this one.
    with (
        as_file(sent("JPEG2000-embedded-sequence-delimiter.dcm")) as source,
        pytest.raises(ImageRefused, match="cut short or damaged"),
    ):
        examine(source, Limits(), MEMORY_MB)


def test_a_file_that_asks_for_too_much_memory_is_put_aside(
    as_file: Callable[[bytes], BinaryIO],
) -> None:
    header = pydicom.dcmread(BytesIO(FILM.dicom()))
    # Millions of empty items in a few bytes each, which become objects of hundreds.
    header.ReferencedImageSequence = [Dataset()]
    header["ReferencedImageSequence"].is_undefined_length = True
    written = BytesIO()
    header.save_as(written, enforce_file_format=True)
    item = b"\xfe\xff\x00\xe0\x00\x00\x00\x00"
    assert written.getvalue().count(item) == 1
    hostile = written.getvalue().replace(item, item * 4_000_000)
    with as_file(hostile) as source, pytest.raises(ImageRefused, match="more memory or time"):
        examine(source, Limits(), 600)


def test_a_picture_is_expected_to_carry_writing() -> None:
    written, out = BytesIO(), BytesIO()
    Image.new("L", (4, 3), 7).save(written, "PNG", pnginfo=None)
    written.seek(0)
    arrival = look_into(written, out, Limits())
    assert (arrival.kind, arrival.burnt_in) == ("png", "likely")
    assert (arrival.facts.rows, arrival.facts.columns) == (3, 4)
    assert arrival.said_of.is_empty
