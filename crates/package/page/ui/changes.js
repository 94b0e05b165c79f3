// What changed between the first and the last record with dimensions.

import { half, quantityName, say, termText } from './lang.js';
import { el, fold, mark, sayApart, scrolling, section } from './dom.js';
import { takenBackBy } from './model.js';
import { changeOf, decimal, quantityText } from './decimals.js';

const SINGLE = [
  'blade_length', 'curvature', 'overall_length', 'tang_length', 'point_length', 'width_at_base', 'width_at_point', 'thickness_at_base',
  'thickness_at_point', 'back_thickness_at_base', 'back_notch_depth', 'edge_notch_depth', 'mass',
];
/** Quantities that are measured from the datum: another datum makes them other quantities. */
const FROM_DATUM = ['blade_length', 'curvature', 'tang_length'];
const AT_STATION = ['width', 'ridge_thickness', 'back_thickness', 'ridge_width'];

function rowsOf(first, last) {
  const sameDatum = first.datum === last.datum;
  return SINGLE.flatMap(key => {
    if (key === 'mass' && first.mass_state !== last.mass_state) return [];
    if (key === 'point_length' && first.point_convention !== last.point_convention) return [];
    if (FROM_DATUM.includes(key) && !sameDatum) return [];
    const change = changeOf(first[key], last[key]);
    return change === null ? [] : [{ name: quantityName(key), first: first[key], last: last[key], change }];
  });
}

function stationRows(first, last) {
  if (first.datum !== last.datum) return [];
  const place = station => Number(station.at?.value);
  return (first.stations ?? []).flatMap(before => {
    const after = (last.stations ?? []).find(station => decimal(station.at?.value) !== null && place(station) === place(before));
    return AT_STATION.flatMap(key => {
      const change = changeOf(before[key], after?.[key]);
      return change === null ? [] : [{ name: say('at_station', { what: quantityName(key), at: place(before) }), first: before[key], last: after[key], change }];
    });
  });
}

function table(rows, caption) {
  const head = ['changes_quantity', 'changes_first', 'changes_last', 'changes_change', ''].map(key => el(key ? 'th' : 'td', key ? { scope: 'col' } : null, key ? say(key) : ''));
  const row = ({ name, first, last, change }) => el('tr', null,
    el('th', { scope: 'row' }, name),
    el('td', { 'data-label': say('changes_first') }, quantityText(first)), el('td', { 'data-label': say('changes_last') }, quantityText(last)),
    el('td', { 'data-label': say('changes_change') }, el('strong', null, change.text)),
    el('td', null, el('span', { class: `state ${change.beyond ? 'holds' : 'plain'}` }, mark(change.beyond ? 'holds' : 'plain'), el('span', { class: 'word' }, say(change.beyond ? 'changes_beyond' : 'changes_within')))));
  return scrolling(caption, el('table', { class: 'changes' }, el('caption', { class: 'unseen' }, caption), el('thead', null, el('tr', null, head)), el('tbody', null, rows.map(row))));
}

/** Fewest equal quantities that are called taken over: one or two can be read the same twice. */
const FEWEST_TAKEN_OVER = 3;

/** Whether every quantity compared is the same, reading by reading: so they look when nothing was measured again. */
export function takenOver(rows) {
  const plain = value => (Array.isArray(value) ? value.map(plain) : value !== null && typeof value === 'object'
    ? Object.keys(value).sort().map(key => [key, plain(value[key])]) : value);
  // How it was measured is left out: what was taken over from another workshop says so there.
  const read = quantity => JSON.stringify(plain(['as_read', 'value', 'unit', 'standard_uncertainty'].map(key => quantity[key] ?? null)));
  return rows.length >= FEWEST_TAKEN_OVER && rows.every(({ first, last }) => read(first) === read(last));
}

/** Says of the records compared which were withdrawn or corrected since: their numbers may no longer stand. */
function takenBackEnds(ends) {
  return ends.flatMap(entry => takenBackBy(entry).map(by => el('p', { class: 'box confirm' }, mark('confirm'), ' ',
    sayApart(by.purpose === 'withdrawal' ? 'changes_withdrawn' : 'changes_corrected', { sequence: entry.sequence ?? '?', by: by.sequence ?? '?', statement: by.speaksOf.statement }))));
}

/** Returns the section on changes. */
export function changesSection(records) {
  const measured = records.filter(entry => entry.holds && entry.record?.dimensions);
  if (measured.length < 2) return section('changes', say('changes'), el('p', null, say('changes_one')));
  const [first, last] = [measured[0], measured.at(-1)];
  const [before, after] = [first.record.dimensions, last.record.dimensions];
  const rows = rowsOf(before, after);
  const stations = stationRows(before, after);
  const lead = say('changes_lead', {
    first: first.sequence, first_purpose: termText('Purpose', first.purpose), last: last.sequence, last_purpose: termText('Purpose', last.purpose),
  });
  const massApart = before.mass && after.mass && before.mass_state !== after.mass_state;
  const stated = state => (state ? termText('MassState', state) : half(['not stated', '記載なし']));
  return section('changes', say('changes'),
    el('p', null, lead),
    takenBackEnds([first, last]),
    takenOver([...rows, ...stations]) ? el('p', { class: 'box confirm' }, mark('confirm'), ' ', say('changes_taken_over', { count: rows.length + stations.length })) : null,
    rows.length > 0 ? table(rows, say('changes_table')) : null,
    stations.length > 0 ? fold(say('changes_stations'), null, table(stations, `${say('changes_table')}: ${say('changes_stations')}`)) : null,
    massApart ? el('p', null, say('changes_mass', { first: stated(before.mass_state), last: stated(after.mass_state) })) : null,
    before.datum === after.datum ? null : el('p', null, say('changes_datum')),
    el('p', { class: 'quiet-text' }, say('changes_how')));
}
