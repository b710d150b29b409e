"""What is recorded of one part, in words."""

from registry.rules.trace_grades import GRADES, grade

TRAY = "batch not obtainable (tray)"


def traced_by(
    *,
    device_identifier: str,
    catalogue_number: str,
    batch: str,
    serial: str,
    batch_not_obtainable: bool,
) -> str:
    """Return by what a part can be traced, as a sentence's part."""
    if batch_not_obtainable and not (device_identifier or catalogue_number):
        return TRAY
    said = GRADES[
        grade(
            device_identifier=device_identifier,
            catalogue_number=catalogue_number,
            batch=batch,
            serial=serial,
        )
    ]
    return f"{said}, {TRAY}" if batch_not_obtainable and not serial else said
