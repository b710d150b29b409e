"""Plane geometry on a film: the circle of a marker, the horizontal, heights and nearest points.

A point is (x, y): x counts to the right, y downwards, both in one unit. Pixels that are not square
have to be brought to one unit first (`stretched`).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

Point = tuple[float, float]

# With three points a circle always fits, so its residual says nothing.
FEWEST_ON_RIM = 4
# Beyond this the film lies on its side, and which way is up has to be settled first.
MOST_TILT_DEG = 45.0
STEPS = 100
SMALL = 1e-12


@dataclass(frozen=True)
class Circle:
    """A circle fitted to points on its rim, all in the unit of the points.

    `residual` is the root mean square distance of the points from the rim.
    """

    x: float
    y: float
    radius: float
    residual: float


@dataclass(frozen=True)
class Horizon:
    """The horizontal of a film as a unit vector that points to the right of the picture."""

    x: float = 1.0
    y: float = 0.0

    @property
    def tilt_deg(self) -> float:
        """By how many degrees the right end of the horizontal stands lower than the left one."""
        return math.degrees(math.atan2(self.y, self.x))


LEVEL = Horizon()


def stretched(point: Point, aspect: float) -> Point:
    """Return a point of the pixel grid (column, row) in widths of a pixel.

    `aspect` is the height of a pixel over its width, 1 for square ones. Raises ValueError when it
    is not positive.
    """
    if not aspect > 0:
        raise ValueError(f"a pixel's height over its width has to be positive, got {aspect:g}")
    return point[0], point[1] * aspect


def distance(a: Point, b: Point) -> float:
    """Return the straight distance of two points."""
    return math.hypot(a[0] - b[0], a[1] - b[1])


def horizon(one: Point, other: Point) -> Horizon:
    """Return the horizontal through two points that lie symmetrically on both sides of the body.

    In whichever order they are named, it points to the right. Raises ValueError when the points
    coincide or the line is steeper than 45 degrees.
    """
    left, right = sorted((one, other))
    length = distance(left, right)
    if length < SMALL:
        raise ValueError("the two points of the horizontal coincide")
    level = Horizon((right[0] - left[0]) / length, (right[1] - left[1]) / length)
    if abs(level.tilt_deg) > MOST_TILT_DEG:
        raise ValueError(
            f"the horizontal is tilted by {level.tilt_deg:.0f} degrees; "
            f"at most {MOST_TILT_DEG:.0f} can be corrected"
        )
    return level


def height(upper: Point, lower: Point, level: Horizon = LEVEL) -> float:
    """Return how much one point stands above another, square to the horizontal.

    Negative where the first one stands lower.
    """
    across, down = lower[0] - upper[0], lower[1] - upper[1]
    return down * level.x - across * level.y


def nearest(line: Sequence[Point], point: Point) -> Point:
    """Return the point of a line through corners, in their order, that lies nearest to a point.

    Raises ValueError without a corner.
    """
    if not line:
        raise ValueError("a line needs at least one corner")
    feet = [_foot(a, b, point) for a, b in pairwise(line)] or [line[0]]
    return min(feet, key=lambda foot: distance(foot, point))


def fit_circle(points: Sequence[Point]) -> Circle:
    """Return the circle whose rim comes nearest to the points, by least squares of the distances.

    Starts from the algebraic circle and goes on by Gauss and Newton. Raises ValueError for fewer
    than four points, and for points that lie on one line or on one spot.

    References: I. Kasa, A circle fitting procedure and its error analysis, IEEE Transactions on
    Instrumentation and Measurement 25 (1976) 8-14 (algebraic); W. Gander, G. H. Golub, R. Strebel,
    Least-squares fitting of circles and ellipses, BIT 34 (1994) 558-578 (geometric).
    """
    if len(points) < FEWEST_ON_RIM:
        raise ValueError(f"a circle needs {FEWEST_ON_RIM} points on its rim, got {len(points)}")
    middle = (sum(p[0] for p in points) / len(points), sum(p[1] for p in points) / len(points))
    spread = math.sqrt(sum(distance(p, middle) ** 2 for p in points) / len(points))
    if spread < SMALL:
        raise ValueError("the points of the rim lie on one spot")
    # Around their middle and in units of their spread, numbers are of one size.
    near = [((p[0] - middle[0]) / spread, (p[1] - middle[1]) / spread) for p in points]
    x, y, radius = _nearest_rim(near, *_algebraic(near))
    gaps = [distance(p, (x, y)) - radius for p in near]
    residual = math.sqrt(sum(gap * gap for gap in gaps) / len(gaps))
    return Circle(
        middle[0] + x * spread, middle[1] + y * spread, radius * spread, residual * spread
    )


def _foot(a: Point, b: Point, point: Point) -> Point:
    """Return the point between two corners that lies nearest to another one."""
    along = (b[0] - a[0], b[1] - a[1])
    square = along[0] ** 2 + along[1] ** 2
    if square < SMALL:
        return a
    share = ((point[0] - a[0]) * along[0] + (point[1] - a[1]) * along[1]) / square
    share = min(1.0, max(0.0, share))
    return a[0] + share * along[0], a[1] + share * along[1]


def _algebraic(points: Sequence[Point]) -> tuple[float, float, float]:
    """Return centre and radius from x^2 + y^2 = 2ax + 2by + c; the points' middle is at 0."""
    xx = sum(x * x for x, _ in points)
    yy = sum(y * y for _, y in points)
    xy = sum(x * y for x, y in points)
    by_x = sum(x * (x * x + y * y) for x, y in points)
    by_y = sum(y * (x * x + y * y) for x, y in points)
    det = xx * yy - xy * xy
    if det < 1e-9 * len(points) ** 2:
        raise ValueError("the points of the rim lie on one line")
    a = (by_x * yy - by_y * xy) / (2 * det)
    b = (by_y * xx - by_x * xy) / (2 * det)
    return a, b, math.sqrt((xx + yy) / len(points) + a * a + b * b)


def _nearest_rim(
    points: Sequence[Point], x: float, y: float, radius: float
) -> tuple[float, float, float]:
    """Improve a circle until the distances of the points from its rim are least."""
    for _ in range(STEPS):
        away = [max(distance(p, (x, y)), SMALL) for p in points]
        cos = [(x - p[0]) / d for p, d in zip(points, away, strict=True)]
        sin = [(y - p[1]) / d for p, d in zip(points, away, strict=True)]
        # A rim's best radius is the points' mean distance, so that only the centre is sought.
        mean_cos, mean_sin = sum(cos) / len(cos), sum(sin) / len(sin)
        radius = sum(away) / len(away)
        u, v = [c - mean_cos for c in cos], [s - mean_sin for s in sin]
        uu, vv = sum(c * c for c in u), sum(s * s for s in v)
        uv = sum(c * s for c, s in zip(u, v, strict=True))
        gu = sum(c * (d - radius) for c, d in zip(u, away, strict=True))
        gv = sum(s * (d - radius) for s, d in zip(v, away, strict=True))
        det = uu * vv - uv * uv
        if det < SMALL:
            raise ValueError("the points of the rim lie too nearly on one line")
        dx, dy = (gv * uv - gu * vv) / det, (gu * uv - gv * uu) / det
        x, y = x + dx, y + dy
        if math.hypot(dx, dy) < 1e-11 * max(1.0, radius):
            break
    else:
        raise ValueError("no circle comes near to the points of the rim")
    radius = sum(distance(p, (x, y)) for p in points) / len(points)
    return x, y, radius
