// What is withheld, by place, and what was disclosed.

import { half, listed, placeWords, say } from './lang.js';
import { el, pairs, section } from './dom.js';
import { quantityText } from './decimals.js';

/** A disclosed value as text: texts as they are, money as amount and currency, the rest as JSON. */
function valueText(value) {
  if (typeof value === 'string') return value;
  if (value && typeof value === 'object' && typeof value.amount === 'string') return `${value.amount} ${value.currency}`;
  if (value && typeof value === 'object' && typeof value.value === 'string') return quantityText(value);
  return el('code', { class: 'long' }, JSON.stringify(value));
}

/** Places grouped by what they belong to: the owner's name and address stand in one row. */
function grouped(places) {
  const groups = new Map();
  for (const place of places) {
    const at = place.lastIndexOf('/');
    const parent = place.slice(0, at);
    groups.set(parent, [...(groups.get(parent) ?? []), placeWords(place.slice(at))]);
  }
  return [...groups].map(([parent, names]) => [parent === '' ? half(['the record', '記録']) : placeWords(parent), listed(names)]);
}

/** Returns the section on what is withheld and shown. */
export function withheldSection(model) {
  const { withheld, disclosed } = model;
  const handed = Object.keys(model.result.disclosures ?? {}).length > 0;
  return section('withheld', say('withheld'),
    el('p', null, say('withheld_lead')),
    el('h3', null, say('withheld_places')),
    withheld === null ? el('p', null, say('withheld_unknown')) : withheld.length > 0 ? pairs(grouped(withheld)) : el('p', null, say('withheld_none')),
    el('h3', null, say('shown_places')),
    disclosed.map(({ sequence, values }) => [
      el('h4', null, sequence === null ? say('record_unnumbered') : say('record_label', { sequence })),
      pairs(values.map(one => [placeWords(one.path), valueText(one.value)])),
    ]),
    disclosed.length > 0 ? null : el('p', null, say(handed ? 'shown_unfit' : 'shown_none')));
}
