"""The way from a stored value to the grey that is shown: rescale, then table or window (PS3.3 C.11)."""

from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydicom.dataset import Dataset

Values = NDArray[Any]
WHITE = 255
# Without a window the darkest and the brightest half per cent are not counted, so that a marker or
# the edge of the collimator does not make the bones dull. Common practice, no source.
LEFT_OUT_PCT = 0.5


def rescaled(header: Dataset, values: Values) -> Values:
    """Return stored values as the film's own: slope times value plus intercept (C.11.1.1.2)."""
    slope, intercept = _number(header, "RescaleSlope", 1), _number(header, "RescaleIntercept", 0)
    if (slope, intercept) == (1, 0):
        return values
    found: Values = values * slope + intercept
    return found


def usual_ends(header: Dataset, least: float, most: float, sample: Values) -> tuple[float, float]:
    """Return the values that are shown black and white unless somebody asks otherwise.

    Of a sigmoid and a table it is the stretch in which the greys differ.
    """
    table = _table(header)
    if table is not None:
        first, entries, _ = table
        low, high = max(least, first), min(most, first + len(entries) - 1)
    elif (window := _window(header)) is not None:
        centre, width, function = window
        low, high = centre - width / 2, centre + width / 2
        if function == "LINEAR":
            low, high = centre - 0.5 - (width - 1) / 2, centre - 0.5 + (width - 1) / 2
    elif sample.size:
        low, high = np.percentile(sample, [LEFT_OUT_PCT, 100 - LEFT_OUT_PCT])
    else:
        low, high = least, most
    if low >= high:
        low, high = least, most
    return float(low), float(high)


def greys(header: Dataset, values: Values, ends: tuple[float, float] | None) -> Values:
    """Return the grey from 0 to 255 of stored values, by the header's own way or between two ends."""
    film = rescaled(header, values).astype(np.float64)
    if ends is not None:
        shown = _between(film, *ends)
    elif (table := _table(header)) is not None:
        shown = _looked_up(film, table)
    elif (window := _window(header)) is not None:
        shown = _windowed(film, *window)
    else:
        shown = _between(film, float(film.min()), float(film.max()))
    grey: Values = np.clip(np.rint(shown * WHITE), 0, WHITE).astype(np.uint8)
    return WHITE - grey if header.get("PhotometricInterpretation") == "MONOCHROME1" else grey


def has_own_way(header: Dataset) -> bool:
    """Say whether the header says itself how its values are to be shown."""
    return _table(header) is not None or _window(header) is not None


def _between(film: Values, low: float, high: float) -> Values:
    if high <= low:
        return (film > low).astype(np.float64)
    found: Values = (film - low) / (high - low)
    return found


def _windowed(film: Values, centre: float, width: float, function: str) -> Values:
    """Apply a window: C.11.2.1.2.1 (linear), C.11.2.1.3.1 (sigmoid), C.11.2.1.3.2 (exactly linear)."""
    if function == "SIGMOID":
        found: Values = 1 / (1 + np.exp(np.clip(-4 * (film - centre) / width, -700, 700)))
        return found
    if function == "LINEAR_EXACT":
        return _between(film, centre - width / 2, centre + width / 2)
    return _between(film, centre - 0.5 - (width - 1) / 2, centre - 0.5 + (width - 1) / 2)


def _looked_up(film: Values, table: tuple[float, Values, int]) -> Values:
    """Look values up in a table: below its first the first entry, beyond its last the last."""
    first, entries, bits = table
    places = np.clip(np.rint(film) - first, 0, len(entries) - 1).astype(np.int64)
    found: Values = entries[places] / (2**bits - 1)
    return found


def _window(header: Dataset) -> tuple[float, float, str] | None:
    centre, width = (_number(header, name, None) for name in ("WindowCenter", "WindowWidth"))
    function = str(header.get("VOILUTFunction") or "LINEAR")
    if centre is None or width is None or width < (1 if function == "LINEAR" else 1e-9):
        return None
    return centre, width, function


def _table(header: Dataset) -> tuple[float, Values, int] | None:
    sequence = header.get("VOILUTSequence")
    if not sequence:
        return None
    number, first, bits = (int(one) for one in sequence[0].LUTDescriptor)
    data = sequence[0].LUTData
    if isinstance(data, bytes):
        entries = np.frombuffer(data[: len(data) // 2 * 2], "<u2")
    else:
        entries = np.atleast_1d(np.asarray(data, dtype=np.uint16))
    entries = entries[: number or 2**16]
    return (first, entries, bits) if len(entries) and 1 <= bits <= 16 else None


def _number(header: Dataset, keyword: str, otherwise: Any) -> Any:
    value = header.get(keyword)
    if value is None or value == "":
        return otherwise
    # Of several windows the first is the one that the maker puts forward.
    return float(value[0]) if hasattr(value, "append") else float(value)
