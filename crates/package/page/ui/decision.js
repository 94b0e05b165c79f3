// Overrides first, then decision, stops and findings: words of the workshop, as they were sealed.

import { half, listed, say, utcText } from './lang.js';
import { el, fold, mark, pairs, section, term } from './dom.js';
import { numberText } from './decimals.js';
import { spokenWords } from './head.js';

function overrides(record) {
  return (record.overrides ?? []).map(one => el('div', { class: 'box confirm override' },
    el('h3', null, mark('confirm'), ' ', say('override_of')),
    el('p', null, one.reason),
    el('p', { class: 'quiet-text' }, listed([one.name, utcText(one.at)]), ' · ', say('rule'), ' ', el('code', null, one.rule))));
}

function underHold(record) {
  const lines = record.worked_under_hold ?? [];
  if (lines.length === 0) return null;
  return el('div', { class: 'box confirm' }, el('h3', null, mark('confirm'), ' ', say('under_hold')),
    el('ul', { class: 'plain-list' }, lines.map(line => el('li', null, say('under_hold_pass', { pass: line.pass }), half([': ', '：']), line.message, ' ', el('code', null, line.rule)))));
}

function finding(one) {
  const numbers = (one.numbers ?? []).map(number => [number.name, numberText(number)]);
  return el('li', { class: `finding ${one.level}` },
    el('p', null, one.message),
    el('p', { class: 'quiet-text' }, el('code', null, `${one.plugin}/${one.rule}`), ' · ', say('source'), half([': ', '：']), one.source),
    numbers.length > 0 ? fold(say('numbers'), null, pairs(numbers)) : null);
}

function findingsOf(level, record) {
  return (record.findings ?? []).filter(one => one.level === level);
}

function foldedFindings(words, list, open) {
  return list.length === 0 ? null : fold(`${words} (${list.length})`, { open }, el('ul', { class: 'findings' }, list.map(finding)));
}

/** Returns the section on decision and findings of a record; `entry` is the model's of it. */
export function decisionSection(record, entry = null) {
  const levels = Object.fromEntries(['stop', 'caution', 'info'].map(level => [level, findingsOf(level, record)]));
  const counts = { all: (record.findings ?? []).length, stop: levels.stop.length, caution: levels.caution.length, info: levels.info.length };
  const { decision } = record;
  return section('decision', say('decision'),
    overrides(record),
    underHold(record),
    el('div', { class: 'box decision' },
      decision ? [
        el('p', { class: 'big' }, term('Verdict', decision.verdict)),
        el('p', null, decision.reason),
        el('p', { class: 'quiet-text' }, say('decided_by'), half([': ', '：']), el('bdi', null, decision.by)),
      ] : el('p', null, say('no_decision')),
      el('p', null, counts.all > 0 ? say('counts', counts) : say('no_findings')),
      levels.stop.map(one => el('p', { class: 'stop' }, el('strong', null, term('Level', 'stop'), half([': ', '：'])), one.message))),
    (decision?.answers ?? []).length > 0 ? el('div', null, el('h3', null, say('answers_given')),
      el('ul', { class: 'plain-list' }, decision.answers.map(one => el('li', null, el('code', null, one.rule), half([': ', '：']), term('AnswerKind', one.kind), ' – ', one.how)))) : null,
    record.refers_to ? el('div', null, el('h3', null, say('refers_to')), el('p', null, (entry?.speaksOf ? spokenWords(entry) : null) ?? record.refers_to.statement), el('p', null, el('code', { class: 'long' }, record.refers_to.record))) : null,
    foldedFindings(say('stops'), levels.stop, false),
    foldedFindings(say('cautions'), levels.caution, true),
    foldedFindings(say('informs'), levels.info, false),
    (record.findings ?? []).some(one => (one.numbers ?? []).some(number => number.standard_uncertainty !== undefined)) ? el('p', { class: 'quiet-text' }, say('numbers_how')) : null,
    el('p', { class: 'quiet-text' }, say('as_written')));
}
