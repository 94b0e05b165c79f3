// The language of the page and its words.

import { BLADE_TERMS } from '../words/terms_blade.js';
import { WORK_TERMS } from '../words/terms_work.js';
import { PAGE_WORDS } from '../words/page.js';
import { STATE_WORDS } from '../words/states.js';
import { REASON_WORDS } from '../words/reasons.js';
import { PLACE_WORDS, QUANTITY_WORDS } from '../words/places.js';

let spoken = 'en';

/** Returns the language spoken, `en` or `ja`. */
export function language() {
  return spoken;
}

/** Sets the language spoken, for the document too: style.css shows the lines of the notice by it. */
export function speak(code) {
  spoken = code === 'ja' ? 'ja' : 'en';
  document.documentElement.lang = spoken;
}

/** Returns the first of the reader's languages that the page speaks; English where it speaks none. */
export function languageOf(wanted) {
  const first = wanted.map(code => code.slice(0, 2).toLowerCase()).find(code => code === 'en' || code === 'ja');
  return first ?? 'en';
}

/** Returns one half of a pair, with `{name}` filled in. */
export function half(pair, values = {}) {
  return pair[spoken === 'ja' ? 1 : 0].replace(/\{(\w+)\}/g, (whole, name) => String(values[name] ?? whole));
}

/** Returns words of the page as they stand, nothing filled in. */
export function bareWords(key) {
  return PAGE_WORDS[key][spoken === 'ja' ? 1 : 0];
}

/** Signs that nobody sees, that turn the direction of writing or steer a terminal: Unicode's Cc, Cf, Zl, Zp and what may be ignored. */
const UNSEEN_SIGN = /([\p{Cf}\p{Default_Ignorable_Code_Point}\u2028\u2029\u2800\u0000-\u0008\u000b-\u001f\u007f-\u009f])/u;

/** Returns a text in parts, text and unseen sign by turns; each sign is told by its number, `U+202E`. */
export function visibleParts(text) {
  return String(text).split(UNSEEN_SIGN).map((part, index) => (index % 2 ? `U+${part.codePointAt(0).toString(16).toUpperCase().padStart(4, '0')}` : part));
}

/** Returns a text in which every sign that nobody sees is told by its number. */
export function visible(text) {
  return visibleParts(text).join('');
}

/** Returns words of the page. */
export function say(key, values) {
  return half(PAGE_WORDS[key], values);
}

/** Returns weight, word, sentence and next step of a state; a state that the page does not know stands as it is. */
export function stateWords(part, state) {
  const found = Object.hasOwn(STATE_WORDS, part) && Object.hasOwn(STATE_WORDS[part], state) ? STATE_WORDS[part][state] : null;
  if (found === null) return { weight: 'unknown', word: String(state), says: '', next: '' };
  const [weight, word, says, next] = found;
  return { weight, word: half(word), says: half(says), next: next ? half(next) : '' };
}

/** Returns the word for a quantity of the record. */
export function quantityName(key) {
  return Object.hasOwn(QUANTITY_WORDS, key) ? half(QUANTITY_WORDS[key]) : key;
}

/** Returns a place of a record (a JSON Pointer) in words: `custody event 2 › from whom › name`. */
export function placeWords(pointer) {
  const words = [];
  for (const part of pointer.split('/').slice(1)) {
    if (/^\d+$/.test(part)) words.push(`${words.pop() ?? ''} ${Number(part) + 1}`);
    else words.push(Object.hasOwn(PLACE_WORDS, part) ? half(PLACE_WORDS[part]) : part);
  }
  return words.join(' › ');
}

function termRow(list, key) {
  const terms = BLADE_TERMS[list] ?? WORK_TERMS[list] ?? {};
  return Object.hasOwn(terms, key) ? terms[key] : null;
}

/** Returns a term as parts `{ text, ja }`: romaji, its writing, its meaning; in Japanese the word alone. */
export function termParts(list, key) {
  const row = termRow(list, key);
  if (row === null) return [{ text: String(key), ja: false }];
  const [writing, gloss, japanese] = row;
  if (spoken === 'ja') return [{ text: japanese ?? writing, ja: false }];
  if (writing === '') return [{ text: gloss, ja: false }];
  // Where the key is English the gloss says it again.
  const english = key.split('_').every(part => gloss.split(/[^a-z]+/).some(word => word.startsWith(part)));
  if (english) return [{ text: `${gloss} `, ja: false }, { text: writing, ja: true }];
  return [{ text: `${key.replaceAll('_', ' ')} `, ja: false }, { text: writing, ja: true }, { text: `, ${gloss}`, ja: false }];
}

/** Returns a term as one text, for labels and descriptions. */
export function termText(list, key) {
  return termParts(list, key).map(part => part.text).join('');
}

/** Joins words as the language does. */
export function listed(words) {
  return words.filter(word => word !== '' && word !== null && word !== undefined).join(spoken === 'ja' ? '、' : ', ');
}

/** Returns a time of the record as people write it: `2026-06-01 09:30:00 UTC`. */
export function utcText(time) {
  return typeof time === 'string' ? time.replace('T', ' ').replace('Z', ' UTC') : '';
}

/** Returns a number of bytes in words. */
export function sizeText(bytes) {
  if (bytes < 1000) return `${bytes} B`;
  if (bytes < 1e6) return `${(bytes / 1e3).toFixed(0)} kB`;
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(2)} GB`;
}

/** Returns text in groups, parted by a space. */
export function inGroups(text, size) {
  return (String(text).match(new RegExp(`.{1,${size}}`, 'g')) ?? []).join(' ');
}

/** Returns a path with the digest of a photo cut short: `data/photos/06548b48…4922.jpg`. */
export function shortPath(path) {
  return path.replace(/([0-9a-f]{8})[0-9a-f]{52}([0-9a-f]{4})/, '$1…$2');
}

/** Returns why in the language spoken, or nothing where the page has only the core's English words. */
export function reasonWords(rule) {
  if (spoken === 'en' || !rule) return '';
  if (/^[A-Z]\d+$/.test(rule)) return say('reason_report_rule', { rule });
  return Object.hasOwn(REASON_WORDS, rule) ? half(REASON_WORDS[rule]) : '';
}
