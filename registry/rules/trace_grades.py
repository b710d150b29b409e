"""How far a part can be traced, by what is recorded of it."""

GRADES = {
    "batch": "device identifier and batch or serial",
    "identifier": "device identifier alone",
    "catalogue_batch": "catalogue number and batch or serial",
    "catalogue": "catalogue number alone",
    "none": "not obtainable or not recorded",
}


def grade(
    *, device_identifier: str = "", catalogue_number: str = "", batch: str = "", serial: str = ""
) -> str:
    """Return the grade of a part, a key of GRADES; a batch of an article without numbers is none."""
    numbered = bool(batch.strip() or serial.strip())
    if device_identifier.strip():
        return "batch" if numbered else "identifier"
    if catalogue_number.strip():
        return "catalogue_batch" if numbered else "catalogue"
    return "none"
