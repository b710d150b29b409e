"""What stays of a DICOM header: an allow-list, each line with its reason. All else goes.

It follows the Basic Application Level Confidentiality Profile of DICOM PS3.15 Annex E, and is stricter:
there a list says what is removed, here one says what is kept. Words stay only where they are one of
the terms that we know, because a name can be written into any field that takes text.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass
from math import isfinite
from typing import Any

Check = Callable[[Any], bool]


@dataclass(frozen=True)
class Kept:
    """One attribute that stays, why, and what its values must be for that."""

    keyword: str
    why: str
    check: Check


def numbers(value: Any) -> bool:
    """Say whether a value is one number or several, none of them endless."""
    several = list(value) if isinstance(value, list | tuple) else [value]
    try:
        return 0 < len(several) <= 8 and all(isfinite(float(one)) for one in several)
    except (TypeError, ValueError, OverflowError):
        return False


def terms(*known: str) -> Check:
    """Return a check for values that are all among the terms given."""

    def check(value: Any) -> bool:
        several = value if isinstance(value, list | tuple) else [value]
        try:
            return 0 < len(several) <= 8 and all(str(one) in known for one in several)
        except (TypeError, ValueError):
            return False

    return check


def shaped(pattern: str) -> Check:
    """Return a check for values that are written in one way, such as a registered number."""
    compiled = re.compile(pattern)

    def check(value: Any) -> bool:
        several = value if isinstance(value, list | tuple) else [value]
        return 0 < len(several) <= 8 and all(compiled.fullmatch(str(one)) for one in several)

    return check


WHERE = "how far a pixel reaches: lengths are measured by it"
HOW = "how far the source stood: the enlargement is estimated by it"
SHOWS = "what is shown, for the reader"
BLACK = "which values are shown black and white"
PIXELS = "without it the pixels cannot be read"
LOSS = "readers have to know that the picture has lost detail"
KEPT: tuple[Kept, ...] = (
    Kept(
        "SOPClassUID",
        "what kind of object the file is",
        shaped(r"1\.2\.840\.10008\.5\.1\.4\.[0-9.]{1,40}"),
    ),
    Kept(
        "Modality",
        "what kind of examination it is",
        terms(
            "CR", "CT", "DX", "MG", "MR", "NM", "OT", "PT", "PX", "RF", "RG", "SC", "US", "XA", "XC"
        ),
    ),
    Kept("ViewPosition", SHOWS, terms("AP", "PA", "LL", "RL", "RLD", "LLD", "RLO", "LLO", "AXIAL")),
    Kept("PatientOrientation", SHOWS, shaped(r"[ALPRFH]{1,3}")),
    Kept("ImageLaterality", SHOWS, shaped("[LRUB]")),
    Kept("Laterality", SHOWS, shaped("[LR]")),
    Kept(
        "BodyPartExamined",
        SHOWS,
        terms("SHOULDER", "CLAVICLE", "CHEST", "SCAPULA", "ACJOINT", "HUMERUS", "ARM", "THORAX"),
    ),
    Kept("PixelSpacing", WHERE, numbers),
    Kept("PixelSpacingCalibrationType", WHERE, terms("GEOMETRY", "FIDUCIAL")),
    Kept("ImagerPixelSpacing", WHERE, numbers),
    Kept("NominalScannedPixelSpacing", WHERE, numbers),
    Kept("PixelAspectRatio", WHERE, numbers),
    Kept("EstimatedRadiographicMagnificationFactor", HOW, numbers),
    Kept("DistanceSourceToDetector", HOW, numbers),
    Kept("DistanceSourceToPatient", HOW, numbers),
    Kept("RescaleIntercept", BLACK, numbers),
    Kept("RescaleSlope", BLACK, numbers),
    Kept("WindowCenter", BLACK, numbers),
    Kept("WindowWidth", BLACK, numbers),
    Kept("VOILUTFunction", BLACK, terms("LINEAR", "LINEAR_EXACT", "SIGMOID")),
    Kept("PresentationLUTShape", BLACK, terms("IDENTITY", "INVERSE")),
    Kept("BurnedInAnnotation", "warns of writing in the picture", terms("YES", "NO")),
    Kept("LossyImageCompression", LOSS, terms("00", "01")),
    Kept("LossyImageCompressionRatio", LOSS, numbers),
    Kept("LossyImageCompressionMethod", LOSS, shaped(r"ISO_[0-9_]{1,12}")),
)
# A sequence is kept only as far as its items hold what is listed here, and rebuilt from that.
KEPT_INSIDE: dict[str, tuple[Kept, ...]] = {
    "VOILUTSequence": (
        Kept("LUTDescriptor", BLACK, numbers),
        Kept("LUTData", BLACK, lambda value: value is not None),
    ),
}
# Written anew from the pixels themselves, whatever the header said.
OF_THE_PIXELS: tuple[str, ...] = (
    "SamplesPerPixel",
    "PhotometricInterpretation",
    "PlanarConfiguration",
    "NumberOfFrames",
    "Rows",
    "Columns",
    "BitsAllocated",
    "BitsStored",
    "HighBit",
    "PixelRepresentation",
    "PixelData",
)
# Written anew, so that the object stays whole: numbers of our own, empty where it has to be there.
REPLACED: tuple[str, ...] = ("SOPInstanceUID", "StudyInstanceUID", "SeriesInstanceUID")
EMPTIED: tuple[str, ...] = (
    "StudyDate",
    "StudyTime",
    "AccessionNumber",
    "ReferringPhysicianName",
    "PatientName",
    "PatientID",
    "PatientBirthDate",
    "PatientSex",
    "StudyID",
    "SeriesNumber",
    "InstanceNumber",
)
# Says that and how it was done (PS3.15 E.1.1).
SAID: dict[str, str] = {
    "PatientIdentityRemoved": "YES",
    "DeidentificationMethod": "Holdfast allow-list after PS3.15 Annex E, Basic Profile",
}
METHOD_CODE = ("113100", "DCM", "Basic Application Confidentiality Profile")


def may_remain() -> frozenset[str]:
    """Return the keyword of every attribute that a stored file can hold."""
    listed = {one.keyword for one in KEPT}
    return frozenset(
        listed
        | set(KEPT_INSIDE)
        | {one.keyword for inside in KEPT_INSIDE.values() for one in inside}
        | set(OF_THE_PIXELS)
        | set(REPLACED)
        | set(EMPTIED)
        | set(SAID)
        | {
            "DeidentificationMethodCodeSequence",
            "CodeValue",
            "CodingSchemeDesignator",
            "CodeMeaning",
        }
    )
