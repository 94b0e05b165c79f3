// The outline of a blade from its record, in millimetres: along from the datum, up towards the back.

import { numberOf } from './decimals.js';

/** Interpolates between sorted points `[x, y]`; the ends stay level. */
function between(points, x) {
  if (points.length === 0) return null;
  const next = points.findIndex(point => point[0] >= x);
  if (next === -1) return points.at(-1)[1];
  if (next === 0) return points[0][1];
  const [[x0, y0], [x1, y1]] = [points[next - 1], points[next]];
  return x1 === x0 ? y1 : y0 + (y1 - y0) * (x - x0) / (x1 - x0);
}

function sortedPoints(pairs) {
  return pairs.filter(([x, y]) => x !== null && y !== null && Number.isFinite(x) && Number.isFinite(y)).sort((a, b) => a[0] - b[0]);
}

/** Constructions with an edge on both sides: drawn even about the middle, without a back. */
const TWO_EDGED = ['ken_zukuri', 'su_yari', 'sankaku_yari', 'ryo_shinogi_yari', 'jumonji_yari', 'kata_kama_yari'];

/**
 * Returns the shape of a blade, or null without a blade length: `length`, `point` (length of the point), `back(x)` and
 * `edge(x)` (heights in mm), `tang` (its length), `holes`, and which parts were not measured.
 */
export function shapeOf(record) {
  const dimensions = record.dimensions ?? {};
  const length = numberOf(dimensions.blade_length);
  if (length === null || length <= 0) return null;
  const assumed = { point: false, width: false };
  const twoEdged = record.blade?.back_form === 'none' || TWO_EDGED.includes(record.blade?.construction);

  const base = numberOf(dimensions.width_at_base);
  const tip = numberOf(dimensions.width_at_point);
  let point = numberOf(dimensions.point_length);
  const widths = sortedPoints((dimensions.stations ?? []).map(station => [numberOf(station.at), numberOf(station.width)]));
  if (point === null || point <= 0 || point >= length) {
    const last = widths.at(-1)?.[0] ?? 0;
    point = twoEdged ? length - (last > 0 && last < length ? last : length * 0.85) : Math.min(length * 0.06, (tip ?? base ?? 30) * 1.5);
    assumed.point = true;
  }
  if (base !== null && !(widths[0]?.[0] <= 0)) widths.unshift([0, base]);
  if (tip !== null && !(widths.at(-1)?.[0] >= length - point)) widths.push([length - point, tip]);
  if (widths.length === 0) {
    widths.push([0, length / 24]);
    assumed.width = true;
  }

  // The line of the back: as measured, else a parabola of the curvature through its deepest place.
  const curvature = numberOf(dimensions.curvature) ?? 0;
  const deepest = Math.min(length * 0.8, Math.max(length * 0.2, numberOf(dimensions.curvature_at) ?? length / 2));
  const line = sortedPoints((dimensions.back_line ?? []).map(one => [numberOf(one.at), numberOf(one.height)]));
  const arc = x => (x < deepest ? 1 - ((deepest - x) / deepest) ** 2 : 1 - ((x - deepest) / (length - deepest)) ** 2);
  const back = x => (line.length > 2 ? between(line, Math.min(length, Math.max(0, x))) : curvature * (x < 0 ? 2 * x / deepest : arc(Math.min(x, length))));

  // In the point the edge runs up to the tip in a quarter of an ellipse; a point of two edges is leaner.
  const taper = x => {
    const share = Math.min(1, Math.max(0, (x - (length - point)) / point));
    return twoEdged ? 1 - share ** 1.5 : Math.sqrt(1 - share ** 2);
  };
  const width = x => between(widths, Math.min(x, length - point)) * taper(x);
  const spine = twoEdged ? x => width(Math.max(0, x)) / 2 : back;
  const edge = x => spine(x) - width(x);
  let tang = numberOf(dimensions.tang_length);
  if (tang === null && numberOf(dimensions.overall_length) > length) tang = numberOf(dimensions.overall_length) - length;
  if (tang === null || tang <= 0) {
    tang = length * 0.25;
  }
  const holes = (record.tang?.holes ?? []).filter(hole => numberOf(hole.at) !== null)
    .map(hole => ({ at: Math.abs(numberOf(hole.at)), diameter: Math.abs(numberOf(hole.diameter) ?? 5) })).filter(hole => hole.at < tang);
  const outline = (dimensions.outline ?? []).map(one => [numberOf(one.along), numberOf(one.across)]).filter(([x, y]) => x !== null && y !== null);
  return { length, point, back: spine, edge, width, tang, holes, assumed, outline: outline.length > 2 ? outline : null };
}

/** Height of the middle of the tang, mm, at a distance from the datum: it goes on where the blade begins, and falls off with the back. */
export function tangMiddle(shape, distance) {
  const fall = shape.back(-shape.tang) - shape.back(0);
  return (shape.back(0) + shape.edge(0)) / 2 + fall * Math.min(1, distance / shape.tang);
}

/**
 * Where a flaw is drawn: `at`, mm from the datum (below zero on the tang), `height(x)`, and `least` and `most`, between which
 * its extent stays. On the tang lengths run the other way from the same place.
 */
export function flawPlace(shape, flaw) {
  const stated = numberOf(flaw.at) ?? 0;
  if (flaw.zone === 'tang' || stated < 0) {
    return { at: -Math.min(Math.abs(stated), shape.tang), height: x => tangMiddle(shape, -x), least: -shape.tang, most: 0 };
  }
  return { at: Math.min(shape.length, stated), height: x => flawHeight(shape, flaw, x), least: 0, most: shape.length };
}

/** Height of a flaw of the blade on the drawing, mm, by its distance from the edge or by its zone. */
export function flawHeight(shape, flaw, x) {
  const [top, bottom] = [shape.back(x), shape.edge(x)];
  const fromEdge = numberOf(flaw.from_edge);
  if (fromEdge !== null) return Math.min(top, bottom + fromEdge);
  const share = { edge: 0.08, ground: 0.4, ridge: 0.8, back: 1, point: 0.4 }[flaw.zone] ?? 0.5;
  return bottom + (top - bottom) * share;
}
