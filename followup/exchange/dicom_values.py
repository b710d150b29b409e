"""Single values of a DICOM header, any of which may be damaged."""

import struct
from typing import Any

from pydicom.dataset import Dataset
from pydicom.errors import BytesLengthException

# What the library raises where the bytes of a value are not what its type asks for. It converts a value
# only when it is asked for; what else is raised is a fault of ours, and is not swallowed.
FAULTS = (
    ArithmeticError,
    AttributeError,
    BytesLengthException,
    EOFError,
    LookupError,
    NotImplementedError,
    TypeError,
    ValueError,
    struct.error,
)


def value_of(header: Dataset, keyword: str) -> Any:
    """Return a value of the header; None where it is missing or cannot be read."""
    try:
        return header.get(keyword)
    except FAULTS:
        return None


def text_of(header: Dataset, keyword: str) -> str:
    """Return a value as text; '' where it is missing or cannot be read."""
    value = value_of(header, keyword)
    try:
        return "" if value is None else str(value).replace("\0", "").strip()
    except FAULTS:
        return ""


def whole_of(header: Dataset, keyword: str, otherwise: int = 0) -> int:
    """Return a value as a whole number, or another where it is missing or none."""
    value = value_of(header, keyword)
    try:
        return otherwise if value is None or value == "" else int(value)
    except FAULTS:
        return otherwise
