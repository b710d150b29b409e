"use strict";

// The same formulas as followup/rules/geometry.py and landmarks.py, for the eye alone: what is saved
// is worked out from the marks by the service.
(function (measuring) {
  const SIDES = ["injured", "other"];
  const FEWEST_ON_RIM = 4;

  // Pixels need not be square: everything is counted in widths of a pixel.
  function stretched(at, aspect) {
    return [at[0], at[1] * aspect];
  }

  function distance(a, b) {
    return Math.hypot(a[0] - b[0], a[1] - b[1]);
  }

  function horizon(one, other) {
    const [from, to] = one[0] <= other[0] ? [one, other] : [other, one];
    const length = distance(from, to);
    if (length < 1e-9) {
      return null;
    }
    const level = [(to[0] - from[0]) / length, (to[1] - from[1]) / length];
    return Math.abs(tiltOf(level)) > 45 ? null : level;
  }

  function tiltOf(level) {
    return (Math.atan2(level[1], level[0]) * 180) / Math.PI;
  }

  function height(upper, lower, level) {
    return (lower[1] - upper[1]) * level[0] - (lower[0] - upper[0]) * level[1];
  }

  // Everything that the marks say; lengths in widths of a pixel.
  function measures(marks, aspect) {
    const at = {};
    Object.keys(marks).forEach((name) => { at[name] = stretched(marks[name], aspect); });
    const both = at.horizon_left && at.horizon_right;
    const marked = both ? horizon(at.horizon_left, at.horizon_right) : null;
    const level = marked || [1, 0];
    const between = (upper, lower) => (at[upper] && at[lower] ? height(at[upper], at[lower], level) : null);
    const found = { level, tilt: marked ? tiltOf(marked) : null, steep: Boolean(both && !marked), ccd: {}, acd: {} };
    SIDES.forEach((side) => {
      found.ccd[side] = between(`clavicle_under_${side}`, `coracoid_top_${side}`);
      found.acd[side] = between(`clavicle_level_${side}`, `acromion_level_${side}`);
    });
    const { injured, other } = found.ccd;
    found.ratio = injured !== null && other !== null && other > 0 ? ((injured - other) / other) * 100 : null;
    found.difference = injured !== null && other !== null ? injured - other : null;
    return found;
  }

  // One step of Gauss and Newton towards the rim that lies nearest to the points.
  function nearer(points, x, y) {
    const away = points.map((p) => Math.max(distance(p, [x, y]), 1e-12));
    const radius = mean(away);
    const cos = points.map((p, n) => (x - p[0]) / away[n]);
    const sin = points.map((p, n) => (y - p[1]) / away[n]);
    const u = cos.map((c) => c - mean(cos));
    const v = sin.map((s) => s - mean(sin));
    const [uu, vv, uv] = [dot(u, u), dot(v, v), dot(u, v)];
    const gaps = away.map((d) => d - radius);
    const [gu, gv] = [dot(cos, gaps), dot(sin, gaps)];
    const det = uu * vv - uv * uv;
    return det < 1e-12 ? null : [(gv * uv - gu * vv) / det, (gu * uv - gv * uu) / det];
  }

  function mean(values) {
    return values.reduce((sum, one) => sum + one, 0) / values.length;
  }

  function dot(a, b) {
    return a.reduce((sum, one, n) => sum + one * b[n], 0);
  }

  // The circle through the rim of a marker; null where the points make none.
  function circle(rim, aspect) {
    if (rim.length < FEWEST_ON_RIM) {
      return null;
    }
    const points = rim.map((at) => stretched(at, aspect));
    let x = mean(points.map((p) => p[0]));
    let y = mean(points.map((p) => p[1]));
    for (let n = 0; n < 100; n += 1) {
      const step = nearer(points, x, y);
      if (!step || !Number.isFinite(step[0] + step[1])) {
        return null;
      }
      x += step[0];
      y += step[1];
      if (Math.hypot(step[0], step[1]) < 1e-9) {
        break;
      }
    }
    const away = points.map((p) => distance(p, [x, y]));
    const radius = mean(away);
    const residual = Math.sqrt(mean(away.map((d) => (d - radius) ** 2)));
    return { x, y, radius, residual };
  }

  Object.assign(measuring, { SIDES, stretched, distance, height, measures, circle });
})(window.measuring = window.measuring || {});
