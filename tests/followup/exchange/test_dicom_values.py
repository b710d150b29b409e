"""Single values of a header, each of which may be damaged."""

import pytest
from pydicom.dataelem import RawDataElement
from pydicom.dataset import Dataset
from pydicom.tag import Tag

from followup.exchange.dicom_values import text_of, value_of, whole_of


def header(**values: object) -> Dataset:
    made = Dataset()
    for name, value in values.items():
        setattr(made, name, value)
    return made


def damaged() -> Dataset:
    """Return a header whose number of rows is one byte, where its type asks for two."""
    made = Dataset()
    tag = Tag(0x0028, 0x0010)
    made[tag] = RawDataElement(tag, "US", 1, b"\x01", 0, False, True)
    return made


def test_a_value_is_read_as_it_is() -> None:
    made = header(Rows=512, PatientID=" 12\0")
    assert value_of(made, "Rows") == 512
    assert (text_of(made, "Rows"), text_of(made, "PatientID")) == ("512", "12")
    assert whole_of(made, "Rows") == 512


def test_what_is_missing_is_nothing() -> None:
    assert value_of(Dataset(), "Rows") is None
    assert text_of(Dataset(), "Rows") == ""
    assert (whole_of(Dataset(), "Rows"), whole_of(Dataset(), "Rows", 1)) == (0, 1)


def test_what_is_damaged_is_nothing() -> None:
    with pytest.raises(Exception, match=r"(?i)length|unpack|bytes"):
        _ = damaged().Rows
    assert value_of(damaged(), "Rows") is None
    assert text_of(damaged(), "Rows") == ""
    assert whole_of(damaged(), "Rows", 1) == 1


def test_what_is_no_number_is_the_other() -> None:
    assert whole_of(header(PatientID="twelve"), "PatientID", 7) == 7
