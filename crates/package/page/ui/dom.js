// Elements, made from text and never from markup: nothing that a file says can become part of the page.

import { half, bareWords, reasonWords, say, stateWords, termParts, visible, visibleParts } from './lang.js';

const SVG_SPACE = 'http://www.w3.org/2000/svg';
/** Attributes whose text is read by people. */
const SHOWN_ATTRIBUTES = ['alt', 'aria-label', 'title'];

function filled(element, attributes, children) {
  for (const [name, value] of Object.entries(attributes ?? {})) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith('on')) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? '' : SHOWN_ATTRIBUTES.includes(name) ? visible(value) : String(value));
  }
  append(element, children);
  return element;
}

/** Appends texts, nodes and lists of them; leaves out what is not there. In texts what nobody sees is shown by its number. */
export function append(element, children) {
  for (const child of children.flat(9)) {
    if (child === null || child === undefined || child === false || child === '') continue;
    if (typeof child === 'object') element.append(child);
    else visibleParts(child).forEach((part, index) => element.append(index % 2 ? signNumber(element, part) : part));
  }
}

/** The number of a sign that is not seen, set apart from the text around it. */
function signNumber(element, words) {
  if (element.namespaceURI === SVG_SPACE || element.tagName === 'OPTION') return words;
  return el('span', { class: 'sign-number' }, words);
}

/** Words of the page with the values filled in, each kept from turning the direction of the words around it. */
export function sayApart(key, values) {
  return bareWords(key).split(/\{(\w+)\}/).map((part, index) => (index % 2 ? el('bdi', null, values[part]) : part));
}

/** Makes an HTML element; attributes that begin with `on` are listeners. */
export function el(name, attributes, ...children) {
  return filled(document.createElement(name), attributes, children);
}

/** Makes an SVG element. */
export function svg(name, attributes, ...children) {
  return filled(document.createElementNS(SVG_SPACE, name), attributes, children);
}

/** Returns a term of a closed list, its Japanese writing marked as such. */
export function term(list, key) {
  if (key === null || key === undefined) return null;
  return termParts(list, key).map(part => (part.ja ? el('span', { lang: 'ja' }, part.text) : part.text));
}

/** Returns number and purpose of a record. */
export function recordLabel(entry) {
  const number = entry.sequence === null ? say('record_unnumbered') : say('record_label', { sequence: entry.sequence });
  return entry.purpose ? [number, ' · ', term('Purpose', entry.purpose)] : number;
}

/** Returns terms one after another. */
export function terms(list, keys) {
  return (keys ?? []).map((key, index) => [index > 0 ? half([' · ', '、']) : '', term(list, key)]);
}

/** Returns a section with its heading. */
export function section(id, title, ...children) {
  return el('section', { id, 'aria-labelledby': `${id}-title` }, el('h2', { id: `${id}-title` }, title), children);
}

/** Returns a list of names and values; rows whose value is not there are left out. */
export function pairs(rows, attributes) {
  const there = rows.filter(row => row && [row[1]].flat(9).some(part => part !== null && part !== undefined && part !== '' && part !== false));
  if (there.length === 0) return null;
  return el('dl', { class: 'pairs', ...attributes }, there.map(([name, value]) => el('div', null, el('dt', null, name), el('dd', null, value))));
}

/** Returns something foldable. */
export function fold(summary, attributes, ...children) {
  return el('details', attributes, el('summary', null, summary), children);
}

/** A table that scrolls by itself on a narrow screen, reachable by keyboard. */
export function scrolling(label, table) {
  return el('div', { class: 'scrolling', role: 'region', 'aria-label': label, tabindex: 0 }, table);
}

/**
 * The mark of a weight: a line that is whole (holds), broken (fails), open at one end (to be confirmed), dotted (cannot be
 * checked), or thin (told). It never stands without its word.
 */
export function mark(weight) {
  const shapes = {
    holds: [svg('rect', { x: 2, y: 7, width: 32, height: 6, class: 'ink' })],
    fails: [svg('path', { d: 'M2 5 L16 5 L13 11 L2 11 Z M20 9 L34 9 L34 15 L17 15 Z', class: 'ink' })],
    confirm: [svg('rect', { x: 2, y: 7, width: 15, height: 6, class: 'ink' }), svg('path', { d: 'M17 7.75 H33.25 M17 12.25 H33.25', class: 'line' })],
    unknown: [4, 14, 24].map(x => svg('rect', { x, y: 7, width: 6, height: 6, class: 'ink' })),
    plain: [svg('path', { d: 'M2 10 H34', class: 'line' })],
  };
  return svg('svg', { class: 'mark', viewBox: '0 0 36 20', width: 36, height: 20, 'aria-hidden': 'true', focusable: 'false' }, shapes[weight] ?? shapes.unknown);
}

/** Mark and word of a state. */
export function stateMark(part, state) {
  const words = stateWords(part, state);
  return el('span', { class: `state ${words.weight}` }, mark(words.weight), el('span', { class: 'word' }, words.word));
}

/** A button. */
export function button(words, onclick, attributes) {
  return el('button', { type: 'button', onclick, ...attributes }, words);
}

/** Says something to those who cannot see the page change. */
export function announce(words) {
  const live = document.getElementById('live');
  // Emptied first, so that the same words are said again.
  live.textContent = '';
  setTimeout(() => { live.textContent = visible(words); }, 60);
}

/** Returns `next step: …`, where there is one. */
export function nextStep(words) {
  return words ? el('p', { class: 'next' }, el('span', { class: 'next-label' }, say('next_step')), ' ', words) : null;
}

/** Returns why, in the language spoken where the page can, and in the core's own words. */
export function reasonLine(rule, reason) {
  const words = reasonWords(rule);
  if (!words && !reason) return null;
  return el('p', { class: 'reason' }, words, words && reason ? ' – ' : '', reason ? el('span', { lang: 'en' }, reason) : '');
}
