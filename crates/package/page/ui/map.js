// The blade map: both faces to scale, flaws numbered by place, the list of flaws as a real list.

import { half, listed, say, termText } from './lang.js';
import { el, section, svg, term, terms } from './dom.js';
import { numberOf, quantityText } from './decimals.js';
import { flawPlace, shapeOf, tangMiddle } from './map_shape.js';

const MARGIN = 14;
const LABEL = 22;

/** Places labels left to right so that none covers another; returns their x. */
export function spread(wanted, gap, least, most) {
  const order = wanted.map((x, index) => ({ x, index })).sort((a, b) => a.x - b.x);
  order.forEach((one, place) => { one.x = Math.max(one.x, place > 0 ? order[place - 1].x + gap : least); });
  for (let place = order.length - 1, limit = most; place >= 0; place -= 1, limit = order[place + 1].x - gap) order[place].x = Math.min(order[place].x, limit);
  const placed = [];
  for (const { x, index } of order) placed[index] = x;
  return placed;
}

/** A step of the ruler that leaves room for its numbers. */
function rulerStep(length, pixels) {
  const most = Math.max(2, Math.floor(pixels / 56));
  return [10, 20, 50, 100, 200, 500, 1000].find(step => length / step <= most) ?? 2000;
}

function facePaths(shape, x, y) {
  const start = shape.length - shape.point;
  // The point bends most towards the tip: its steps grow finer there.
  const places = [...Array.from({ length: 61 }, (_, index) => start * index / 60), ...Array.from({ length: 24 }, (_, index) => start + shape.point * Math.sin((index + 1) / 24 * Math.PI / 2))];
  const line = height => places.map(at => `${x(at).toFixed(1)} ${y(height(at)).toFixed(1)}`);
  const [top, bottom] = [line(shape.back), line(shape.edge)];
  const body = shape.outline
    ? `M${shape.outline.map(([a, b]) => `${x(a).toFixed(1)} ${y(b).toFixed(1)}`).join(' L')} Z`
    : `M${top.join(' L')} L${[...bottom].reverse().join(' L')} Z`;
  // What was measured is drawn whole; the curve of the point never is.
  const cut = 61;
  const measured = shape.outline ? body : `M${top.slice(0, cut).reverse().join(' L')} L${bottom.slice(0, cut).join(' L')}`;
  const tip = shape.outline ? '' : `M${top.slice(cut - 1).join(' L')} M${bottom.slice(cut - 1).join(' L')}`;
  const [upper, lower] = [shape.back(0), shape.edge(0)];
  const middle = (upper + lower) / 2;
  const spread = (upper - lower) * 0.4;
  const fall = shape.back(-shape.tang) - shape.back(0);
  const end = -shape.tang;
  const tang = `M${x(0)} ${y(middle + spread)} L${x(end)} ${y(middle + fall + spread * 0.7)} L${x(end)} ${y(middle + fall - spread * 0.7)} L${x(0)} ${y(middle - spread)} Z`;
  const yokote = `M${x(start)} ${y(shape.back(start))} L${x(start)} ${y(shape.edge(start))}`;
  return { body, measured, tip, tang, yokote };
}

/** A flaw's extent along blade or tang, following its curve. */
function extentPath({ at, height, least, most }, extent, x, y) {
  const places = Array.from({ length: 9 }, (_, index) => Math.max(least, Math.min(most, at + extent * (index / 8 - 0.5))));
  return `M${places.map(place => `${x(place).toFixed(1)} ${y(height(place)).toFixed(1)}`).join(' L')}`;
}

function faceDrawing(shape, flaws, side, frame) {
  const { x, scaleX, scaleY, top, turned } = frame;
  const y = mm => (turned ? top - mm * scaleY : top + mm * scaleY);
  const paths = facePaths(shape, x, y);
  // Across it is drawn wider than along on a narrow screen, and so are the holes.
  const radius = (hole, scale) => Math.max(1.5, hole.diameter / 2 * Math.abs(scale));
  const holes = shape.holes.map(hole => svg('ellipse', { cx: x(-hole.at), cy: y(tangMiddle(shape, hole.at)), rx: radius(hole, scaleX), ry: radius(hole, scaleY), class: 'hole' }));
  const signs = flaws.map(({ flaw, number, labelX, labelY }) => {
    const place = flawPlace(shape, flaw);
    const [cx, cy] = [x(place.at), y(place.height(place.at))];
    const extent = numberOf(flaw.length) ?? 0;
    const kind = flaw.standing === 'suspected' ? ' suspected' : flaw.standing === 'ruled_out' ? ' ruled-out' : '';
    return svg('g', { class: `flaw${kind}` },
      svg('path', { d: `M${cx} ${cy} L${labelX} ${labelY}`, class: 'leader' }),
      extent > 0 ? svg('path', { d: extentPath(place, extent, x, y), class: 'extent' }) : null,
      svg('rect', { x: cx - 3, y: cy - 3, width: 6, height: 6, class: 'spot', transform: `rotate(45 ${cx} ${cy})` }),
      svg('circle', { cx: labelX, cy: labelY, r: 10, class: 'number-ring' }),
      svg('text', { x: labelX, y: labelY + 4, class: 'number' }, String(number)));
  });
  return [
    svg('path', { d: paths.tang, class: 'tang-shape' }), svg('path', { d: paths.body, class: 'blade-shape' }),
    svg('path', { d: paths.measured, class: `contour${shape.assumed.width ? ' assumed' : ''}` }), paths.tip ? svg('path', { d: paths.tip, class: 'contour assumed' }) : null,
    shape.outline || shape.assumed.point ? null : svg('path', { d: paths.yokote, class: 'point-line' }), holes, signs,
    svg('text', { x: MARGIN, y: frame.nameY, class: 'face-name' }, termText('Face', side)),
  ];
}

/** Draws both faces over `pixels` of width. */
export function drawMap(record, shape, pixels) {
  const scale = (pixels - 2 * MARGIN) / (shape.length + shape.tang);
  const greatest = Math.max(...[0, 0.25, 0.5, 0.75].map(share => shape.width(shape.length * share)));
  // On a narrow screen the blade would be a hair: drawn wider, and said so.
  const times = [1, 2, 3, 4].find(factor => greatest * scale * factor >= 16) ?? 4;
  const scaleY = -scale * times;
  const x = mm => MARGIN + (mm + shape.tang) * scale;
  const heights = Array.from({ length: 41 }, (_, index) => shape.length * index / 40).flatMap(at => [shape.back(at), shape.edge(at)]);
  heights.push(shape.back(-shape.tang) - greatest, shape.back(-shape.tang));
  const [highest, lowest] = [Math.max(...heights), Math.min(...heights)];
  const tall = (highest - lowest) * -scaleY;
  const flaws = (record.flaws ?? []).map((flaw, index) => ({ flaw, number: index + 1 }));
  // On every face that it shows on; what shows on edge or back alone stands on the first.
  const onUra = ({ flaw }) => flaw.faces.includes('ura');
  const sides = { omote: flaws.filter(one => one.flaw.faces.includes('omote') || !onUra(one)), ura: flaws.filter(onUra) };

  // From above: numbers of the first face, the face, the ruler, the second face, its numbers.
  const labelAbove = 18;
  const firstTop = labelAbove + LABEL;
  const rulerY = firstTop + tall + 26;
  const secondTop = rulerY + 40;
  const labelBelow = secondTop + tall + LABEL;
  const height = labelBelow + 18;
  const placed = (list, labelY) => {
    const wanted = list.map(({ flaw }) => x(flawPlace(shape, flaw).at));
    const places = spread(wanted, 24, MARGIN + 10, pixels - MARGIN - 10);
    return list.map((one, index) => ({ ...one, labelX: places[index], labelY }));
  };
  const step = rulerStep(shape.length, shape.length * scale);
  const ticks = Array.from({ length: Math.floor(shape.length / step) + 1 }, (_, index) => index * step);
  const ruler = svg('g', { class: 'ruler' },
    svg('path', { d: `M${x(0)} ${rulerY} H${x(shape.length)} ${ticks.map(at => `M${x(at)} ${rulerY} v5`).join(' ')}` }),
    ticks.map(at => svg('text', { x: x(at), y: rulerY + 17 }, String(at))));
  const drawing = svg('svg', { viewBox: `0 0 ${pixels} ${height}`, width: pixels, height, role: 'img', 'aria-label': say('map_described', { length: shape.length, flaws: flaws.length }), class: 'blade-map' },
    faceDrawing(shape, placed(sides.omote, labelAbove), 'omote', { x, scaleX: scale, scaleY, top: firstTop - highest * scaleY, turned: false, nameY: firstTop + tall + 16 }),
    ruler,
    faceDrawing(shape, placed(sides.ura, labelBelow), 'ura', { x, scaleX: scale, scaleY, top: secondTop + lowest * scaleY, turned: true, nameY: secondTop - 6 }));
  return { drawing, times };
}

function flawItem(flaw, number) {
  const mm = quantity => quantityText(quantity);
  const size = [
    flaw.length ? say('flaw_length', { value: mm(flaw.length) }) : '', flaw.width ? say('flaw_width', { value: mm(flaw.width) }) : '',
    flaw.depth ? say('flaw_depth', { value: mm(flaw.depth) }) : '', flaw.area ? mm(flaw.area) : '', flaw.count ? say('flaw_count', { count: flaw.count }) : '',
  ];
  const place = [say(flaw.zone === 'tang' ? 'flaw_at_tang' : 'flaw_at', { at: flaw.zone === 'tang' ? String(flaw.at.value).replace(/^-/, '') : flaw.at.value }), flaw.from_edge ? say('flaw_edge', { edge: flaw.from_edge.value }) : ''];
  return el('li', { value: number },
    el('p', null, el('strong', null, term('FlawKind', flaw.kind)), half([': ', '：']), listed(place), ' · ', term('Zone', flaw.zone), ' · ', terms('Face', flaw.faces)),
    el('p', { class: 'quiet-text' }, term('Standing', flaw.standing), ' · ', half(['progress: ', '進行：']), term('Progress', flaw.progress), flaw.through_temper ? ` · ${say('flaw_through')}` : '', listed(size) ? ` · ${listed(size)}` : ''),
    flaw.note ? el('p', null, flaw.note) : null);
}

/** Returns the section with map and list of flaws; the drawing follows the width of the page. */
export function mapSection(record) {
  const shape = shapeOf(record);
  const holder = el('div', { class: 'map-holder' });
  const wide = el('p', { class: 'quiet-text' }, '');
  const flaws = record.flaws ?? [];
  const draw = pixels => {
    const { drawing, times } = drawMap(record, shape, pixels);
    holder.replaceChildren(drawing);
    wide.textContent = times > 1 ? say('map_wide', { times }) : '';
  };
  if (shape) {
    let last = 0;
    const fit = () => {
      const pixels = Math.floor(holder.clientWidth);
      if (pixels > 200 && pixels !== last) {
        last = pixels;
        draw(pixels);
      }
    };
    // Drawn in the next frame: drawing changes the height that is being observed.
    new ResizeObserver(() => requestAnimationFrame(fit)).observe(holder);
    draw(960);
  }
  const datum = record.dimensions?.datum;
  return section('map', say('map'),
    shape ? [holder, el('p', { class: 'quiet-text' }, datum ? say('map_axis', { datum: termText('Datum', datum) }) : '', half(['. ', '。']), say('map_turned'), half([' ', '']), say('map_dashed'), shape.assumed.width ? [half([' ', '']), say('map_outline')] : ''), wide] : el('p', null, say('map_none')),
    el('h3', null, say('flaw_list')),
    flaws.length > 0 ? el('ol', { class: 'flaws' }, flaws.map((flaw, index) => flawItem(flaw, index + 1))) : el('p', null, say('flaw_none')));
}
