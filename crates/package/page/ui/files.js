// Every file that was handed over, and what was found.

import { listed, say } from './lang.js';
import { el, fold, reasonLine, section, stateMark } from './dom.js';

function rows(list) {
  return el('ul', { class: 'files' }, list.map(one => el('li', null,
    el('code', { class: 'long' }, one.file), stateMark(one.part, one.further ?? one.state),
    reasonLine(one.rule, one.reason))));
}

/** Returns the section of files. */
export function filesSection(model) {
  const { parts, bag } = model;
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
    ] : null,
    el('h3', null, say('files_not_looked')),
    (bag.not_looked_at ?? []).length > 0
      ? [el('p', { class: 'quiet-text' }, say('files_not_looked_says')), el('ul', { class: 'files' }, bag.not_looked_at.map(file => el('li', null, el('code', { class: 'long' }, file))))]
      : el('p', null, say('files_not_looked_none')));
}
