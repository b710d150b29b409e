import pytest
from pydicom.datadict import dictionary_VR, tag_for_keyword

from followup.rules import dicom_kept
from followup.rules.dicom_kept import KEPT, may_remain, numbers, shaped, terms

# Attributes with 'X' (removed) in the column Basic Profile of DICOM PS3.15 table E.1-1, or 'Z' and 'D'
# (emptied, replaced), that a radiograph usually carries; from memory.
IDENTIFYING = {
    *("AccessionNumber", "AcquisitionDate", "AcquisitionTime", "AdmittingDiagnosesDescription"),
    *("ContentDate", "ContentTime", "DetectorID", "DeviceSerialNumber", "InstitutionName"),
    *("InstitutionAddress", "InstitutionalDepartmentName", "OperatorsName", "OtherPatientIDs"),
    *("PatientAge", "PatientAddress", "PatientBirthDate", "PatientComments", "PatientID"),
    *("PatientName", "PatientSex", "PatientSize", "PatientWeight", "PerformingPhysicianName"),
    *("ProtocolName", "ReferringPhysicianName", "RequestAttributesSequence", "SeriesDate"),
    *("SeriesDescription", "StationName", "StudyDate", "StudyDescription", "StudyID", "StudyTime"),
    *("DerivationDescription", "ImageComments", "PlateID", "CassetteID", "UID", "OverlayData"),
}


def test_nothing_that_the_profile_removes_is_on_the_list() -> None:
    assert not {one.keyword for one in KEPT} & IDENTIFYING


def test_every_line_names_an_attribute_and_a_reason() -> None:
    for one in (*KEPT, *(one for many in dicom_kept.KEPT_INSIDE.values() for one in many)):
        assert tag_for_keyword(one.keyword) is not None, one.keyword
        assert len(one.why) > 10
    assert all(tag_for_keyword(keyword) for keyword in may_remain())
    assert len({one.keyword for one in KEPT}) == len(KEPT)


def test_no_attribute_for_free_words_is_kept_as_it_came() -> None:
    free = {"LO", "LT", "PN", "SH", "ST", "UC", "UT", "UR", "DA", "TM", "DT"}
    assert not [one.keyword for one in KEPT if dictionary_VR(one.keyword) in free]


@pytest.mark.parametrize("value", ["DOE^JANE", "", None, [1, "x"], "nan", [], ["1"] * 9])
def test_what_is_no_number_is_not_kept_as_one(value: object) -> None:
    assert not numbers(value)
    assert numbers(1)
    assert numbers(["0.139", 0.14])


def test_words_are_kept_only_when_they_are_known() -> None:
    check = terms("AP", "PA")
    assert check("AP")
    assert not check("DOE^JANE")
    assert not check(["AP", "DOE^JANE"])
    assert shaped("[A-Z]{2}")("AP")
    assert not shaped("[A-Z]{2}")("AP DOE")
