"""Which films are read twice, and when two readings lie too far apart."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from followup.rules.measurement_error import MDC_MM

NONE, ALL, SHARE, NEAR = "none", "all", "share", "near"
SECOND, THIRD = 2, 3
# The last day after an operation on which a film is what later ones are compared with; as the shipped
# definitions of a lost reduction have it.
BASELINE_DAYS = 27
# Numbers are kept to one decimal; what differs by less is rounding.
TOLERANCE = 1e-6


@dataclass(frozen=True)
class Policy:
    """A site's policy. Lengths in mm, ratios in per cent of the other side's length.

    Shipped: thresholds of 3 mm (J Orthop Surg Res 2020, s13018-020-01674-x) and 25 % (Mori et al.,
    JBJS Open Access 2017;2:e0007); minimal detectable change from memory; everything else common
    practice, no source. 20 points are what 2 mm are of a healthy side of 10 mm.
    """

    draw: str = NONE
    share_pct: int = 10
    seed: str = "1"
    taken_from: date | None = None
    near_change_mm: float = 3.0
    near_ratio_pct: float = 25.0
    near_margin_pct: float = 20.0
    mdc_mm: float = MDC_MM
    third_mm: float = MDC_MM
    third_pct: float = 20.0


@dataclass(frozen=True)
class Lengths:
    """What one reading says of the CC distance: in mm on a calibrated film, else None.

    `ratio_pct` is how much longer it is than the other side's, stored or following from both.
    """

    ccd_mm: float | None = None
    other_mm: float | None = None
    stored_ratio_pct: float | None = None

    @property
    def ratio_pct(self) -> float | None:
        """The excess over the other side in per cent; None where one side is not known."""
        if self.ccd_mm is not None and self.other_mm:
            return (self.ccd_mm - self.other_mm) / self.other_mm * 100
        return self.stored_ratio_pct


def place_of(seed: str, key: int) -> float:
    """Return where a film stands in a site's draw: a number from 0 up to 1, always the same.

    It follows from the seed and the film's key alone, so that a larger share draws the films of a
    smaller one and some more.
    """
    digest = hashlib.sha256(f"{seed}|{key}".encode()).digest()
    return int.from_bytes(digest[:7], "big") / 2.0**56


def is_drawn(
    policy: Policy, key: int, taken_on: date, reading: Lengths, baseline_mm: float | None = None
) -> bool:
    """Say whether a film, as first read, wants a second reading.

    `baseline_mm` is the CC distance on the film that later ones are compared with, None where there
    is none or this is it.
    """
    if policy.taken_from is not None and taken_on < policy.taken_from:
        return False
    if policy.draw == SHARE:
        return place_of(policy.seed, key) < policy.share_pct / 100
    if policy.draw == NEAR:
        return is_near(policy, reading, baseline_mm)
    return policy.draw == ALL


def is_near(policy: Policy, reading: Lengths, baseline_mm: float | None) -> bool:
    """Say whether a reading lies near one of a site's thresholds, at the margin itself included."""
    if reading.ccd_mm is not None and baseline_mm is not None:
        rise = reading.ccd_mm - baseline_mm
        if abs(rise - policy.near_change_mm) <= policy.mdc_mm + TOLERANCE:
            return True
    ratio = reading.ratio_pct
    return (
        ratio is not None
        and abs(ratio - policy.near_ratio_pct) <= policy.near_margin_pct + TOLERANCE
    )


@dataclass(frozen=True)
class Measured:
    """The first reading of a calibrated film: its day, view and CC distance in mm."""

    taken_on: date
    view: str
    ccd_mm: float


def baseline_of(
    taken_on: date, view: str, fixed_on: Sequence[date], measured: Iterable[Measured]
) -> float | None:
    """Return the CC distance that a film is compared with, in mm.

    It is that of the first measured film of the same view after the last fixation before the film, at
    most `BASELINE_DAYS` after it and on an earlier day than the film's. None where there is none.
    """
    before = [day for day in fixed_on if day <= taken_on]
    if not before:
        return None
    operated = max(before)
    last = min(operated + timedelta(days=BASELINE_DAYS), taken_on - timedelta(days=1))
    fit = [one for one in measured if one.view == view and operated <= one.taken_on <= last]
    return min(fit, key=lambda one: one.taken_on).ccd_mm if fit else None


def disagree(policy: Policy, one: Lengths, two: Lengths) -> bool:
    """Say whether two readings lie farther apart than the limits of a site; at the limit they agree.

    What only one of them could measure is no disagreement of lengths.
    """
    return _apart(one.ccd_mm, two.ccd_mm, policy.third_mm) or _apart(
        one.ratio_pct, two.ratio_pct, policy.third_pct
    )


def _apart(one: float | None, two: float | None, limit: float) -> bool:
    return one is not None and two is not None and abs(one - two) > limit + TOLERANCE
