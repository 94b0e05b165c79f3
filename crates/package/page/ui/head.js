// The head of a verdict: what was checked, what the record is, what needs attention.

import { half, inGroups, listed, say, shortPath, sizeText, stateWords, utcText } from './lang.js';
import { takenBackBy } from './model.js';
import { button, el, mark, nextStep, pairs, reasonLine, recordLabel, sayApart, section, term } from './dom.js';

/** What was handed over, in one line. */
function droppedWords(model) {
  const values = { name: model.source.name, count: model.source.files, size: sizeText(model.source.bytes), names: listed(model.source.names) };
  return say(model.isPackage ? 'dropped_package' : 'dropped_files', values);
}

/** What lay beside the package, in one line; null where nothing did. */
function outsideWords({ source }) {
  const outside = source.outside ?? [];
  if (outside.length === 0) return null;
  return say('outside_package', { count: outside.length, names: listed([...outside.slice(0, 4), outside.length > 4 ? '…' : '']) });
}

/** Returns title, identity and buttons. */
export function headOf(model, onagain) {
  const { subject } = model;
  const record = subject?.record;
  const blade = record?.blade ?? {};
  // What nobody signed says whose it is, and is not.
  const named = model.answers.signer.state === 'cannot_judge';
  const later = model.records.find(one => one !== subject && !one.holds && (one.sequence ?? 0) > (subject?.sequence ?? 0));
  return [
    record?.issuer?.demo === true ? el('p', { class: 'demo' }, say('demo')) : null,
    el('p', { class: 'over-title' }, subject ? recordLabel(subject) : ''),
    el('h1', { id: 'title', tabindex: -1 }, blade.title ?? say('no_subject')),
    blade.kind_by_make ? el('p', { class: 'under-title' }, term('BladeKind', blade.kind_by_make), blade.construction ? [' · ', term('Construction', blade.construction)] : null) : null,
    pairs([
      [say(named ? 'names_issuer' : 'issued_by'), subject?.issuer],
      [say(named ? 'names_key' : 'key_fingerprint'), subject?.fingerprint ? el('code', null, subject.fingerprint) : null],
      [say('issued_on'), subject?.issued_at ? [utcText(subject.issued_at), el('span', { class: 'quiet-text' }, ` ${say('own_clock')}`)] : null],
      [say('record_name'), subject?.name ? el('code', { class: 'long' }, inGroups(subject.name, 8)) : null],
      [say('checked'), droppedWords(model)],
      [say('files_not_looked'), outsideWords(model)],
    ]),
    el('p', { class: 'buttons no-print' }, button(say('again'), onagain, { id: 'again' }), button(say('print'), () => window.print(), { id: 'print' })),
    later ? el('div', { class: 'box fails' }, el('p', null, mark('fails'), ' ', say('later_doubtful', { file: later.file, sequence: subject.sequence ?? '?' }))) : null,
    model.subjectHolds || !record ? null : subjectBox(model.answers.bytes.state),
  ];
}

/** What is said before the contents of a record whose bytes do not hold, by the state of the bytes: weight and words. */
const SUBJECT_BOXES = {
  altered: ['fails', 'altered_warning'], altered_signed: ['fails', 'signed_warning'], altered_report: ['fails', 'report_warning'],
  cannot_judge: ['unknown', 'unread_warning'], cannot_judge_signed: ['unknown', 'version_warning'], cannot_judge_report: ['unknown', 'unread_warning'],
};

function subjectBox(state) {
  const [weight, key] = SUBJECT_BOXES[state] ?? SUBJECT_BOXES.cannot_judge;
  return el('div', { class: `box ${weight}`, id: 'altered' }, el('p', null, mark(weight), ' ', say(key)));
}

const WEIGHT_ORDER = ['fails', 'unknown', 'confirm'];
/** States that weigh nothing and are told all the same. */
const ALWAYS_TOLD = ['signer/revoked_proved'];
const MOST_NAMED = 5;

/** Returns everything that is not as it should be: withdrawals, then the weightiest first; files in one state stand together. */
export function attentionOf(model) {
  const groups = new Map();
  for (const issue of model.issues) {
    const key = issue.about ? `${issue.part}/${issue.state}` : `${issue.part}/${issue.state}/${issue.reason}${issue.entry ? `/${issue.file}` : ''}`;
    const group = groups.get(key) ?? { part: issue.part, state: issue.state, reason: issue.reason, rule: issue.rule, about: issue.about ?? null, entry: issue.entry ?? null, files: [], ...stateWords(issue.part, issue.state) };
    if (!issue.about) group.files.push(issue.file);
    groups.set(key, group);
  }
  const isFirst = group => group.part === 'withdrawal';
  const rest = WEIGHT_ORDER.flatMap(weight => [...groups.values()].filter(group => group.weight === weight && !isFirst(group)));
  const last = [...groups.values()].filter(({ part, state }) => ALWAYS_TOLD.includes(`${part}/${state}`));
  return [...[...groups.values()].filter(isFirst), ...rest, ...last];
}

/** What a record says of an earlier one: `Record 3 withdraws record 2: “…”`; null where it says nothing of any. */
export function spokenWords(by) {
  const key = { withdrawal: 'withdraws', correction: 'corrects' }[by.purpose] ?? 'speaks_of';
  const { entry, name, statement } = by.speaksOf ?? {};
  if (!statement) return null;
  const of = entry ? say('the_record', { sequence: entry.sequence ?? '?' }) : say('record_not_here', { name: inGroups(name, 8) });
  return sayApart(key, { sequence: by.sequence ?? '?', of, statement });
}

/** Withdrawals and corrections in words of their own: of a record that takes back, or of one that was taken back. */
function takenBackLines({ part, entry }) {
  if (!entry) return null;
  const speakers = part === 'withdrawal' ? [entry] : takenBackBy(entry);
  return speakers.map(by => el('p', { class: 'spoken' }, spokenWords(by) ?? say('speaks_of_none')));
}

function aboutWords(group) {
  if (group.about) return [say(`q_${group.about}`), ' '];
  const named = group.files.slice(0, MOST_NAMED).map((file, index) => [index > 0 ? half([', ', '、']) : '', el('code', null, shortPath(file))]);
  return [named, group.files.length > MOST_NAMED ? ` ${say('attention_more', { count: group.files.length - MOST_NAMED })}` : '', half([': ', '：'])];
}

/** Returns the section of what needs attention. */
export function attentionSection(model) {
  const list = attentionOf(model);
  if (list.length === 0) return section('attention', say('attention'), el('p', null, say('attention_none')));
  const item = group => el('li', { class: group.weight },
    el('p', { class: 'issue' }, mark(group.weight), el('span', null, el('strong', null, say(`weight_${group.weight}`)), half([' – ', '　']), aboutWords(group), el('strong', null, group.word))),
    el('p', null, group.says),
    takenBackLines(group),
    reasonLine(group.rule, group.reason),
    nextStep(group.next));
  return section('attention', say('attention'), el('p', { class: 'quiet-text' }, say('attention_lead')), el('ul', { class: 'issues' }, list.map(item)));
}

/** Returns links to the sections that are there. */
export function contentsList(sections) {
  const links = sections.map(node => el('li', null, el('a', { href: `#${node.id}` }, node.querySelector('h2').textContent)));
  return el('nav', { 'aria-label': say('on_this_page'), class: 'contents no-print' }, el('ul', null, links));
}
