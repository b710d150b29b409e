"""What is kept of DICOM files, and that nothing else is."""

from collections.abc import Iterator
from datetime import date

import numpy as np
import pydicom
import pytest
from pydicom.dataset import Dataset
from pydicom.pixels import pixel_array

from analytics.simulation import shoulder_films
from analytics.simulation.shoulder_films import Shoulders
from followup.exchange.dicom_pixels import frame_of
from followup.rules.dicom_kept import may_remain
from followup.rules.image_arrival import SaidOf
from followup.rules.image_files import ImageRefused
from tests.followup.exchange.dicom_samples import FILES, sent, taken

FILM = shoulder_films.draw(Shoulders(rows=60, columns=90, imager_spacing_mm=2.0))
# Every attribute that remains of any of the samples, by keyword; the file's own group apart.
REMAINING = {
    *("BitsAllocated", "BitsStored", "HighBit", "PixelRepresentation", "SamplesPerPixel"),
    *("Rows", "Columns", "NumberOfFrames", "PhotometricInterpretation", "PlanarConfiguration"),
    *("PixelData", "PixelSpacing", "ImagerPixelSpacing", "PixelAspectRatio"),
    *("RescaleIntercept", "RescaleSlope", "WindowCenter", "WindowWidth", "VOILUTFunction"),
    *("DistanceSourceToDetector", "DistanceSourceToPatient", "PresentationLUTShape"),
    *("LossyImageCompression", "LossyImageCompressionRatio", "LossyImageCompressionMethod"),
    *("Modality", "SOPClassUID", "ViewPosition", "BurnedInAnnotation", "Laterality"),
    *("BodyPartExamined", "PatientOrientation"),
    # Written anew, or empty.
    *("SOPInstanceUID", "StudyInstanceUID", "SeriesInstanceUID", "PatientIdentityRemoved"),
    *("DeidentificationMethod", "DeidentificationMethodCodeSequence"),
    *("CodeValue", "CodingSchemeDesignator", "CodeMeaning"),
    *("StudyDate", "StudyTime", "AccessionNumber", "ReferringPhysicianName", "PatientName"),
    *("PatientID", "PatientBirthDate", "PatientSex", "StudyID", "SeriesNumber", "InstanceNumber"),
}
STANDARD = "1.2.840.10008"
META = {
    *("FileMetaInformationGroupLength", "FileMetaInformationVersion", "MediaStorageSOPClassUID"),
    *("MediaStorageSOPInstanceUID", "TransferSyntaxUID", "ImplementationClassUID"),
    *("ImplementationVersionName",),
}


def elements(dataset: Dataset) -> Iterator[pydicom.DataElement]:
    """Yield every element, those inside sequences too."""
    for element in dataset:
        yield element
        if element.VR == "SQ":
            for item in element.value:
                yield from elements(item)


def readable() -> Iterator[tuple[str, Dataset, Dataset, bytes]]:
    """Yield each sample that can be taken: its name, what was sent, what is kept."""
    for path in FILES:
        try:
            _, kept, whole = taken(path.read_bytes())
        except ImageRefused:
            continue
        if whole.startswith(b"\0" * 128):
            yield path.name, pydicom.dcmread(path), kept, whole


@pytest.fixture(scope="module")
def samples() -> list[tuple[str, Dataset, Dataset, bytes]]:
    return list(readable())


@pytest.mark.filterwarnings("ignore")
def test_every_attribute_that_remains_of_the_samples_is_listed(
    samples: list[tuple[str, Dataset, Dataset, bytes]],
) -> None:
    assert len(samples) > 70
    found = {one.keyword for _, _, kept, _ in samples for one in elements(kept)}
    assert found - REMAINING == set()
    assert found <= may_remain()
    assert {one.keyword for _, _, kept, _ in samples for one in kept.file_meta} == META
    assert all(kept.PatientIdentityRemoved == "YES" for _, _, kept, _ in samples)


@pytest.mark.filterwarnings("ignore")
def test_no_word_of_a_person_place_or_day_is_left_anywhere_in_the_samples(
    samples: list[tuple[str, Dataset, Dataset, bytes]],
) -> None:
    of_somebody = {"PN", "LO", "SH", "LT", "ST", "UT", "DA", "DT", "UI"}
    for name, was, _, whole in samples:
        words = {
            str(value).strip()
            for element in elements(was)
            if element.VR in of_somebody or element.tag.is_private
            for value in (element.value if element.VM > 1 else [element.value])
        }
        telling = {
            word
            for word in words
            if len(word) >= 6 and word.strip("0.") and not word.startswith(STANDARD)
        }
        header = whole[: whole.index(b"\xe0\x7f\x10\x00")]
        assert [word for word in telling if word.encode(errors="replace") in header] == [], name


def test_names_hidden_in_fields_that_are_kept_go_too() -> None:
    film = FILM.with_header(
        ViewPosition="MARLOWE",
        BodyPartExamined="AGNETA",
        Modality="MARLOWE",
        PixelSpacingCalibrationDescription="Agneta Marlowe",
        WindowCenterWidthExplanation="AGNETA",
        ImageComments="Agneta",
        OperatorsName="Marlowe",
        StationName="MARLOWE",
    )
    header = pydicom.dcmread(pydicom.filebase.DicomBytesIO(film.dicom()))
    block = header.private_block(0x0011, "MARLOWE", create=True)
    block.add_new(1, "LO", "Agneta")
    header.add_new(0x60000022, "LO", "Agneta Marlowe")
    inside = Dataset()
    inside.LUTDescriptor, inside.LUTExplanation = [2, 0, 8], "Agneta Marlowe"
    inside.LUTData, inside.PatientName = [0, 255], "Marlowe^Agneta"
    header.VOILUTSequence = [inside]
    other = Dataset()
    other.PatientName, other.RequestedProcedureDescription = "Marlowe^Agneta", "Agneta"
    header.RequestAttributesSequence = [other]
    header.preamble = b"Agneta Marlowe".ljust(128, b"\0")
    header.file_meta.SourceApplicationEntityTitle = "MARLOWE"
    written = pydicom.filebase.DicomBytesIO()
    header["LUTData" if "LUTData" in header else "VOILUTSequence"].value[0]["LUTData"].VR = "US"
    header.save_as(written, enforce_file_format=True)
    arrival, kept, whole = taken(written.getvalue())
    assert arrival.said_of == SaidOf("N-004711", "Marlowe", "Agneta", date(1971, 3, 4))
    assert b"gneta" not in whole.replace(b"GNETA", b"gneta")
    assert b"arlowe" not in whole.replace(b"ARLOWE", b"arlowe")
    assert b"004711" not in whole
    assert [one.keyword for one in kept.VOILUTSequence[0]] == ["LUTDescriptor", "LUTData"]


def test_the_facts_of_a_film_are_those_of_its_header() -> None:
    arrival, kept, _ = taken(FILM.with_header(ImageLaterality="B", ViewPosition="AP").dicom())
    facts = arrival.facts
    assert (facts.rows, facts.columns, facts.frames) == (60, 90, 1)
    assert facts.imager_spacing_mm == (2.0, 2.0)
    assert facts.pixel_spacing_mm is None
    assert facts.magnification == 1.1
    assert facts.source_to_detector_mm == 1800
    assert facts.source_to_patient_mm == pytest.approx(1636.3636)
    assert facts.taken_on == date(2026, 7, 17)
    assert (arrival.view, arrival.posture, facts.laterality) == ("zanca", "upright", "both")
    assert arrival.burnt_in == "denied"
    assert kept.StudyDate == ""


@pytest.mark.parametrize(
    ("said", "burnt_in"),
    [
        ({"BurnedInAnnotation": "YES"}, "said"),
        ({"BurnedInAnnotation": None}, "unknown"),
        ({"Modality": "SC"}, "likely"),
    ],
)
def test_writing_in_the_picture_is_warned_of(said: dict[str, str], burnt_in: str) -> None:
    assert taken(FILM.with_header(**said).dicom())[0].burnt_in == burnt_in


def test_values_that_cannot_be_are_left_out() -> None:
    said = {"PixelSpacing": [0, 900], "DistanceSourceToDetector": 3, "StudyDate": "00010101"}
    facts = taken(FILM.with_header(**said, PixelSpacingCalibrationType="GEOMETRY").dicom())[0].facts
    assert facts.pixel_spacing_mm is None
    assert facts.source_to_detector_mm is None
    assert facts.taken_on is None
    assert facts.pixel_spacing_kind == "GEOMETRY"


def test_the_pixels_of_a_film_are_kept_to_the_bit() -> None:
    _, kept, _ = taken(FILM.dicom())
    assert (pixel_array(kept) == FILM.values).all()
    original = pydicom.dcmread(pydicom.filebase.DicomBytesIO(sent("MR_small_bigendian.dcm")))
    _, kept, whole = taken(sent("MR_small_bigendian.dcm"))
    assert (pixel_array(kept) == pixel_array(original)).all()
    assert (frame_of(pydicom.filebase.DicomBytesIO(whole), 1)[1] == pixel_array(original)).all()


def test_bits_beyond_the_value_are_cleared() -> None:
    header = pydicom.dcmread(pydicom.filebase.DicomBytesIO(FILM.dicom()))
    header.PixelData = (FILM.values | np.uint16(0x7000)).tobytes()
    written = pydicom.filebase.DicomBytesIO()
    header.save_as(written, enforce_file_format=True)
    _, kept, _ = taken(written.getvalue())
    assert (pixel_array(kept) == FILM.values).all()


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("JPGExtended.dcm", "JPEG with 12 bits"),
        ("JPEG-lossy.dcm", "JPEG with 12 bits"),
        ("MR_truncated.dcm", "cut short or damaged"),
        ("image_dfl.dcm", "deflated"),
        ("rtplan.dcm", "holds no picture"),
        ("DICOMDIR", "holds no picture"),
        ("rtdose.dcm", "of a kind that is not shown"),
        ("meta_missing_tsyntax.dcm", "does not say how its pixels are packed"),
        ("no_meta.dcm", "neither DICOM nor PNG nor JPEG"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_what_to_do(name: str, said: str) -> None:
    content = next(path for path in FILES if path.name == name).read_bytes()
    with pytest.raises(ImageRefused, match=said):
        taken(content)
