// Every file that was handed over, and what was found.

import { listed, say } from './lang.js';
import { el, fold, reasonLine, section, stateMark } from './dom.js';

function rows(list) {
  return el('ul', { class: 'files' }, list.map(one => el('li', null,
    el('code', { class: 'long' }, one.file), stateMark(one.part, one.further ?? one.state),
    reasonLine(one.rule, one.reason))));
}

/** Files without a state, folded where they are many. */
function plainRows(paths) {
  const list = el('ul', { class: 'files' }, paths.map(path => el('li', null, el('code', { class: 'long' }, path))));
  return paths.length > 12 ? fold(say('open_fold', { count: paths.length }), null, list) : list;
}

/** Returns the section of files. */
export function filesSection(model) {
  const { parts, bag } = model;
  const outside = model.source.outside ?? [];
  const damage = ['changed', 'missing', 'unlisted'].flatMap(state => (bag[state] ?? []).map(file => ({ file, state, part: 'file' })));
  const folded = parts.length > 12;
  return section('files', say('files'),
    el('p', { class: 'quiet-text' }, say('files_lead')),
    el('h3', null, say('files_signed')),
    folded ? fold(say('open_fold', { count: parts.length }), null, rows(parts)) : rows(parts),
    model.isPackage ? [
      el('h3', null, say('files_damage')), el('p', { class: 'quiet-text' }, say('files_damage_says')),
      damage.length > 0 ? rows(damage) : el('p', null, say('files_damage_none')),
      (bag.ignored_manifests ?? []).length > 0 ? el('p', null, say('files_manifests', { names: listed(bag.ignored_manifests) })) : null,
      model.listedOnly.length > 0 ? [el('h3', null, say('files_listed')), el('p', null, say('files_listed_says')), plainRows(model.listedOnly)] : null,
    ] : null,
    el('h3', null, say('files_not_looked')),
    (bag.not_looked_at ?? []).length > 0
      ? [el('p', { class: 'quiet-text' }, say('files_not_looked_says')), plainRows(bag.not_looked_at)]
      : outside.length > 0 ? null : el('p', null, say('files_not_looked_none')),
    outside.length > 0 ? [el('p', { class: 'quiet-text' }, say('outside_says')), plainRows(outside)] : null);
}
