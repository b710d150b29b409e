"""How much two readings of one film differ by although nothing has changed."""

# What repeated readings of a CC distance differ by, about 1.5 to 2 mm: from memory. A site that has
# enough double readings of its own says another number in its policy of second readings.
MDC_MM = 2.0


def is_within_error(change_mm: float, mdc_mm: float = MDC_MM) -> bool:
    """Say whether a change in mm is smaller than the minimal detectable change, in either direction.

    Lengths are kept to 0.1 mm, so that a change of the very size is one. Raises ValueError for a
    minimal detectable change that is not above 0.
    """
    if not mdc_mm > 0:
        raise ValueError(f"the minimal detectable change must be above 0 mm, got {mdc_mm}")
    return round(abs(change_mm), 1) < round(mdc_mm, 1)
