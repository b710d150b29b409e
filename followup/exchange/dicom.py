"""DICOM files: what their header says, and the file that is kept of them, without anybody's name.

Read in a process of its own with bounded memory (image_examiner); nothing here knows Django.
"""

import warnings
from datetime import date
from typing import Any, BinaryIO

import pydicom
from pydicom.dataset import Dataset, FileDataset, FileMetaDataset
from pydicom.uid import (
    UID,
    DeflatedExplicitVRLittleEndian,
    ExplicitVRLittleEndian,
    SecondaryCaptureImageStorage,
    generate_uid,
)

from followup.exchange.dicom_pixels import Frames
from followup.exchange.dicom_values import FAULTS, text_of, value_of
from followup.rules import dicom_kept
from followup.rules.image_arrival import SaidOf
from followup.rules.image_facts import SPACING_KINDS, ImageFacts, Pair
from followup.rules.image_files import ImageRefused
from followup.rules.view_words import posture_of, view_of

# What a header holds is judged here; a value that is not after the standard is simply not kept.
pydicom.config.settings.reading_validation_mode = pydicom.config.IGNORE
FIRST_YEAR = 1970
# Our own mark in the file's first group, where the archive's or a person's would stand.
WRITER = "HOLDFAST"
WRITER_UID = "2.25.302918374650817264953018273645091827364"
# Kinds of examination whose pictures usually carry writing.
WRITTEN_ON = {"US", "SC", "OT", "XC", "RG"}
SIDES = dict(zip("LRB", ("left", "right", "both"), strict=True))
DAMAGED = (
    "This DICOM file is cut short or damaged: its header cannot be read to its end. "
    "Export the film again and send that."
)


def read_header(source: BinaryIO) -> FileDataset:
    """Return a DICOM file that is open, with its pixels still packed.

    Raises ImageRefused for a damaged file, one without a picture, and one that is packed as a whole.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            meta = pydicom.dcmread(source, stop_before_pixels=True, specific_tags=[0x00080016])
            packed = meta.file_meta.get("TransferSyntaxUID")
            if packed == DeflatedExplicitVRLittleEndian:
                # What unpacks to any size is not unpacked.
                raise ImageRefused(
                    "This DICOM file is packed as a whole ('deflated'). Export it unpacked."
                )
            source.seek(0)
            dataset: FileDataset = pydicom.dcmread(source)
            there = "PixelData" in dataset
        except ImageRefused:
            raise
        except Exception as fault:
            raise ImageRefused(DAMAGED) from fault
    if not there:
        raise ImageRefused("This DICOM file holds no picture. Send the film itself.")
    if not packed:
        raise ImageRefused(
            "This DICOM file does not say how its pixels are packed. Export the film again."
        )
    return dataset


def said_of(header: Dataset) -> SaidOf:
    """Return whom the header says the film is of."""
    family, _, rest = text_of(header, "PatientName").split("=")[0].partition("^")
    return SaidOf(
        number=text_of(header, "PatientID")[:60],
        family_name=family.strip()[:80],
        given_name=rest.split("^")[0].strip()[:80],
        birth_date=_day(text_of(header, "PatientBirthDate"), first_year=1880),
    )


def facts_of(header: Dataset, frames: Frames) -> ImageFacts:
    """Return what the header says of how the film was made; what cannot be is left out."""
    kind = text_of(header, "PixelSpacingCalibrationType")
    days = (
        _day(text_of(header, name)[:8], first_year=FIRST_YEAR)
        for name in ("AcquisitionDate", "AcquisitionDateTime", "ContentDate", "StudyDate")
    )
    side = text_of(header, "ImageLaterality") or text_of(header, "Laterality")
    return ImageFacts(
        rows=frames.rows,
        columns=frames.columns,
        frames=frames.count,
        pixel_spacing_mm=_pair(header, "PixelSpacing"),
        pixel_spacing_kind=kind if kind in SPACING_KINDS else None,
        imager_spacing_mm=_pair(header, "ImagerPixelSpacing"),
        magnification=_between(header, "EstimatedRadiographicMagnificationFactor", 0.5, 20),
        source_to_detector_mm=_between(header, "DistanceSourceToDetector", 100, 10_000),
        source_to_patient_mm=_between(header, "DistanceSourceToPatient", 100, 10_000),
        taken_on=next((day for day in days if day is not None), None),
        view_words=view_of(*_words(header)) or None,
        laterality=SIDES.get(side),
    )


def proposals_of(header: Dataset) -> tuple[str, str]:
    """Return the codes of view and posture that the header's words name; '' where they name none."""
    words = _words(header)
    return view_of(*words), posture_of(*words)


def burnt_in_of(header: Dataset) -> str:
    """Say what the header lets one expect of writing in the picture: said, likely, denied, unknown."""
    said = text_of(header, "BurnedInAnnotation").upper()
    if said == "YES":
        return "said"
    if text_of(header, "Modality") in WRITTEN_ON or text_of(header, "ConversionType"):
        return "likely"
    return "denied" if said == "NO" else "unknown"


def without_identity(header: Dataset, frames: Frames) -> FileDataset:
    """Return the header that is kept: what the allow-list names, new numbers, and how it was done.

    The pixels are written after it by `Frames.write`.
    """
    kept = Dataset()
    for one in dicom_kept.KEPT:
        _keep(header, kept, one)
    for keyword, inside in dicom_kept.KEPT_INSIDE.items():
        _keep_inside(header, kept, keyword, inside)
    if frames.is_mapped:
        # Their values are those of the table already.
        for keyword in ("RescaleSlope", "RescaleIntercept"):
            kept.pop(keyword, None)
    for keyword in dicom_kept.REPLACED:
        setattr(kept, keyword, generate_uid(prefix=None))
    for keyword in dicom_kept.EMPTIED:
        setattr(kept, keyword, "")
    for keyword, said in dicom_kept.SAID.items():
        setattr(kept, keyword, said)
    code = Dataset()
    code.CodeValue, code.CodingSchemeDesignator, code.CodeMeaning = dicom_kept.METHOD_CODE
    kept.DeidentificationMethodCodeSequence = [code]
    frames.describe(kept)
    return FileDataset("", kept, preamble=b"\0" * 128, file_meta=_meta(kept))


def _meta(kept: Dataset) -> FileMetaDataset:
    meta = FileMetaDataset()
    kept.SOPClassUID = UID(str(kept.get("SOPClassUID", SecondaryCaptureImageStorage)))
    meta.MediaStorageSOPClassUID = kept.SOPClassUID
    meta.MediaStorageSOPInstanceUID = kept.SOPInstanceUID
    meta.TransferSyntaxUID = ExplicitVRLittleEndian
    meta.ImplementationClassUID = UID(WRITER_UID)
    meta.ImplementationVersionName = WRITER
    return meta


def _keep(header: Dataset, kept: Dataset, one: dicom_kept.Kept) -> None:
    value = value_of(header, one.keyword)
    if value is None or value == "":
        return
    value = list(value) if hasattr(value, "append") else value
    if not one.check(value):
        return
    try:
        setattr(kept, one.keyword, value)
    except FAULTS:
        # A value that the standard's type of this attribute cannot hold is no loss.
        kept.pop(one.keyword, None)


def _keep_inside(
    header: Dataset, kept: Dataset, keyword: str, inside: tuple[dicom_kept.Kept, ...]
) -> None:
    items = value_of(header, keyword)
    rebuilt = []
    for item in list(items)[:1] if isinstance(items, pydicom.Sequence) else []:
        fresh = Dataset()
        for one in inside:
            _keep(item, fresh, one)
        if len(fresh) == len(inside):
            fresh["LUTData"].VR = header_vr(item)
            rebuilt.append(fresh)
    if rebuilt:
        setattr(kept, keyword, rebuilt)


def header_vr(item: Dataset) -> str:
    """Return how a table's data are written in the file: as bytes or as numbers."""
    return "OW" if isinstance(item.LUTData, bytes) else "US"


def _words(header: Dataset) -> tuple[str, ...]:
    names = (
        "ViewPosition",
        "SeriesDescription",
        "ProtocolName",
        "StudyDescription",
        "AcquisitionDeviceProcessingDescription",
        "BodyPartExamined",
    )
    return tuple(text_of(header, name)[:200] for name in names)


def _number(value: Any) -> float | None:
    return float(value) if dicom_kept.numbers(value) and not hasattr(value, "append") else None


def _between(header: Dataset, keyword: str, least: float, most: float) -> float | None:
    number = _number(value_of(header, keyword))
    return number if number is not None and least <= number <= most else None


def _pair(header: Dataset, keyword: str) -> Pair | None:
    """Return a spacing in mm, (between rows, between columns); from 10 micrometres to 10 mm."""
    value = value_of(header, keyword)
    several = list(value) if hasattr(value, "append") else []
    found = [number for number in map(_number, several) if number and 0.01 <= number <= 10]
    return (found[0], found[1]) if len(several) == len(found) == 2 else None


def _day(text: str, *, first_year: int) -> date | None:
    digits = text.replace(".", "").replace("-", "")
    if len(digits) != 8 or not digits.isdecimal():
        return None
    try:
        day = date(int(digits[:4]), int(digits[4:6]), int(digits[6:]))
    except ValueError:
        return None
    return day if day.year >= first_year else None
