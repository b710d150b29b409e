"""The DICOM files that pydicom carries, and films of our own, as they would be sent."""

from io import BytesIO
from pathlib import Path
from typing import BinaryIO

import pydicom
from pydicom.dataset import Dataset

from followup.exchange.image_examiner import look_into
from followup.rules.image_arrival import Arrival
from followup.rules.image_files import Limits

FOLDER = Path(pydicom.__file__).parent / "data" / "test_files"
FILES = sorted(path for path in FOLDER.rglob("*") if path.is_file())


def sent(name: str) -> bytes:
    """Return a sample file by its name."""
    (found,) = [path for path in FILES if path.name == name]
    return found.read_bytes()


def taken(content: bytes) -> tuple[Arrival, Dataset, bytes]:
    """Return what is learnt of a file, the header that is kept and the whole kept file."""
    out = BytesIO()
    arrival = look_into(BytesIO(content), out, Limits())
    return arrival, pydicom.dcmread(BytesIO(out.getvalue())), out.getvalue()


def examined_here(source: BinaryIO, limits: Limits, memory_mb: int) -> tuple[Arrival, BinaryIO]:
    """Stand for `examine` in tests of what comes after it: the same, without a process of its own."""
    kept = BytesIO()
    source.seek(0)
    arrival = look_into(source, kept, limits)
    kept.seek(0)
    return arrival, kept
