// The head of a verdict: what was checked, what the record is, what needs attention.

import { half, inGroups, listed, say, sizeText, stateWords, utcText } from './lang.js';
import { button, el, mark, nextStep, pairs, section, term } from './dom.js';

/** What was handed over, in one line. */
function droppedWords(model) {
  const values = { name: model.source.name, count: model.source.files, size: sizeText(model.source.bytes), names: listed(model.source.names) };
  return say(model.isPackage ? 'dropped_package' : 'dropped_files', values);
}

/** Returns title, identity and buttons. */
export function headOf(model, onagain) {
  const { subject } = model;
  const record = subject?.record;
  const blade = record?.blade ?? {};
  const label = subject ? [say('record_label', { sequence: subject.sequence ?? '?', purpose: '' }), subject.purpose ? term('Purpose', subject.purpose) : ''] : '';
  return [
    record?.issuer?.demo === true ? el('p', { class: 'demo' }, say('demo')) : null,
    el('p', { class: 'over-title' }, label),
    el('h1', { id: 'title', tabindex: -1 }, blade.title ?? say('no_subject')),
    blade.kind_by_make ? el('p', { class: 'under-title' }, term('BladeKind', blade.kind_by_make), blade.construction ? [' · ', term('Construction', blade.construction)] : null) : null,
    pairs([
      [say('issued_by'), subject?.issuer],
      [say('key_fingerprint'), subject?.fingerprint ? el('code', null, subject.fingerprint) : null],
      [say('issued_on'), subject?.issued_at ? [utcText(subject.issued_at), el('span', { class: 'quiet-text' }, ` ${say('own_clock')}`)] : null],
      [say('record_name'), subject?.name ? el('code', { class: 'long' }, inGroups(subject.name, 8)) : null],
      [say('checked'), droppedWords(model)],
    ]),
    el('p', { class: 'buttons no-print' }, button(say('again'), onagain, { id: 'again' }), button(say('print'), () => window.print(), { id: 'print' })),
    model.subjectHolds || !record ? null : el('div', { class: 'box fails', id: 'altered' }, el('p', null, mark('fails'), ' ', say('altered_warning'))),
  ];
}

const WEIGHT_ORDER = ['fails', 'unknown', 'confirm'];

/** Returns everything that is not as it should be, the weightiest first. */
export function attentionOf(model) {
  const seen = model.issues.map(issue => ({ ...issue, ...stateWords(issue.part, issue.state) }));
  return WEIGHT_ORDER.flatMap(weight => seen.filter(issue => issue.weight === weight));
}

/** Returns the section of what needs attention. */
export function attentionSection(model) {
  const list = attentionOf(model);
  if (list.length === 0) return section('attention', say('attention'), el('p', null, say('attention_none')));
  const item = issue => el('li', { class: issue.weight },
    el('p', { class: 'issue' }, mark(issue.weight), el('span', null, el('strong', null, say(`weight_${issue.weight}`)), half([': ', '：']), issue.words, half([' – ', '　']), issue.word)),
    el('p', null, issue.says),
    issue.reason ? el('p', { class: 'reason', lang: 'en' }, issue.reason) : null,
    nextStep(issue.next));
  return section('attention', say('attention'), el('p', { class: 'quiet-text' }, say('attention_lead')), el('ul', { class: 'issues' }, list.map(item)));
}

/** Returns links to the sections that are there. */
export function contentsList(sections) {
  const links = sections.map(node => el('li', null, el('a', { href: `#${node.id}` }, node.querySelector('h2').textContent)));
  return el('nav', { 'aria-label': say('on_this_page'), class: 'contents no-print' }, el('ul', null, links));
}
