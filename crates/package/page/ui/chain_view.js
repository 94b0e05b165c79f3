// The chain of records as a line in time.

import { half, inGroups, say, shortPath, utcText } from './lang.js';
import { el, mark, pairs, reasonLine, recordLabel, sayApart, section, stateMark } from './dom.js';
import { evidenceWords } from './answers.js';
import { DOUBTFUL_STANDINGS, takenBackBy } from './model.js';

function gapItem(from, to) {
  const words = from === to ? say('chain_gap', { sequence: from }) : say('chain_gaps', { from, to });
  return el('li', { class: 'gap' }, el('p', null, words));
}

/** By which records this one was withdrawn or corrected, and with which words. */
function takenBackWords(entry) {
  return takenBackBy(entry).map(by => el('p', { class: 'spoken' }, mark('confirm'), ' ',
    sayApart(by.purpose === 'withdrawal' ? 'chain_withdrawn' : 'chain_corrected', { sequence: by.sequence ?? '?', statement: by.speaksOf.statement })));
}

function recordItem(entry, before, model) {
  const newKey = before && before.fingerprint && entry.fingerprint && before.fingerprint !== entry.fingerprint;
  const evidence = entry.evidence ?? [];
  return el('li', { class: entry.holds ? 'link' : 'link doubtful' },
    el('h3', null, recordLabel(entry)),
    el('p', null, stateMark('record', entry.state), entry === model.subject ? el('span', { class: 'quiet-text' }, ` · ${say('chain_this')}`) : null),
    takenBackWords(entry),
    pairs([
      [say('issued_by'), entry.issuer],
      [say('chain_key'), entry.fingerprint ? [el('code', null, entry.fingerprint), newKey ? el('strong', null, ` ${say('chain_new_key')}`) : null] : null],
      [say('chain_standing'), DOUBTFUL_STANDINGS.includes(entry.standing) ? stateMark('signer', entry.standing) : null],
      [say('issued_on'), entry.issued_at ? [utcText(entry.issued_at), ' ', el('span', { class: 'quiet-text' }, say('own_clock'))] : null],
      [say('timestamps'), evidence.length > 0 ? el('ul', { class: 'plain-list' }, evidence.map(one => el('li', null, evidenceWords(one)))) : null],
      [say('record_name'), entry.name ? el('code', { class: 'long' }, inGroups(entry.name, 8)) : null],
      [say('chain_file'), el('code', { class: 'long' }, entry.file)],
    ]));
}

/** Returns the section of the chain. */
export function chainSection(model) {
  const items = [];
  let next = 1;
  let before = null;
  for (const entry of model.records) {
    if (Number.isInteger(entry.sequence)) {
      if (entry.sequence > next) items.push(gapItem(next, entry.sequence - 1));
      next = entry.sequence + 1;
    }
    items.push(recordItem(entry, before, model));
    before = entry;
  }
  return section('chain', say('chain'),
    el('p', null, stateMark('completeness', model.chain.state)),
    model.faults.length > 0 ? el('ul', { class: 'plain-list' }, model.faults.map(fault => el('li', null, el('code', null, shortPath(fault.file)), half([': ', '：']), reasonLine(fault.rule, fault.reason)))) : null,
    el('p', { class: 'quiet-text' }, say('chain_lead')),
    el('ol', { class: 'chain' }, items, el('li', { class: 'open-end' }, el('p', null, say('chain_later')))));
}
