// DER (X.690) as far as certificates and signatures use it: read strictly, nothing guessed.

import { bigOf, latinOf, refuse } from './text.js';
import { isTimeOfCalendar } from './times.js';

const MOST_LEVELS = 40;

// One element at `at`: { tag, start, from, to, bytes, set }. `from`..`to` are the contents.
export function derAt(bytes, at, end = bytes.length) {
  if (at + 2 > end) refuse('der', 'the structure ends too early');
  const tag = bytes[at];
  if ((tag & 0x1f) === 0x1f) refuse('der', 'a tag of more than one byte');
  let length = bytes[at + 1];
  let from = at + 2;
  if (length >= 0x80) {
    const count = length & 0x7f;
    if (count === 0 || count > 4 || from + count > end) refuse('der', 'a length that DER does not have');
    length = 0;
    for (let byte = 0; byte < count; byte += 1) length = length * 256 + bytes[from + byte];
    from += count;
    if (length < 0x80 || (count > 1 && length < 256 ** (count - 1))) refuse('der', 'a length is not written in the shortest way');
  }
  if (from + length > end) refuse('der', 'the structure ends too early');
  return { tag, start: at, from, to: from + length, bytes };
}

// The one element that the bytes are; what is inside is not looked at.
export function outerDer(bytes) {
  const element = derAt(bytes, 0);
  if (element.to !== bytes.length) refuse('der', 'something stands after the structure');
  return element;
}

// The same, with everything inside it well formed.
export function readDer(bytes) {
  const element = outerDer(bytes);
  checkInside(element, 0);
  return element;
}

function checkInside(element, level) {
  if (level > MOST_LEVELS) refuse('der', 'too many levels');
  if ((element.tag & 0x20) !== 0) for (const child of children(element)) checkInside(child, level + 1);
  else if (element.tag === 0x01) boolean(element);
  else if (element.tag === 0x02) integer(element);
}

export function children(element) {
  const list = [];
  for (let at = element.from; at < element.to; ) {
    const child = derAt(element.bytes, at, element.to);
    list.push(child);
    at = child.to;
  }
  return list;
}

export function contents(element) {
  return element.bytes.subarray(element.from, element.to);
}

// The element with tag and length.
export function whole(element) {
  return element.bytes.subarray(element.start, element.to);
}

export function expect(element, tag, what) {
  if (element === undefined) refuse('der_form', `${what} is missing`);
  if (element.tag !== tag) refuse('der_form', `${what} has another form`);
  return element;
}

export function sequence(element, what) {
  return children(expect(element, 0x30, what));
}

// The two elements of a SEQUENCE that has no more.
export function pairOf(element, what) {
  const parts = sequence(element, what);
  if (parts.length !== 2) refuse('der_form', `${what} has another number of parts than two`);
  return parts;
}

export function setOf(element, what) {
  return children(expect(element, 0x31, what));
}

// The big-endian number of an INTEGER, which is written in the shortest way.
export function integer(element, what = 'a number') {
  expect(element, 0x02, what);
  const raw = contents(element);
  if (raw.length === 0) refuse('der', 'a number without bytes');
  if (raw.length > 1 && ((raw[0] === 0 && raw[1] < 0x80) || (raw[0] === 0xff && raw[1] >= 0x80))) refuse('der', 'a number is not written in the shortest way');
  const value = bigOf(raw);
  return raw[0] >= 0x80 ? value - (1n << BigInt(8 * raw.length)) : value;
}

export function boolean(element, what = 'a truth value') {
  expect(element, 0x01, what);
  const raw = contents(element);
  if (raw.length !== 1 || (raw[0] !== 0 && raw[0] !== 0xff)) refuse('der', 'a truth value that DER does not have');
  return raw[0] === 0xff;
}

// The dotted text of an OBJECT IDENTIFIER.
export function oid(element, what = 'an object identifier') {
  expect(element, 0x06, what);
  const raw = contents(element);
  const arcs = [];
  let value = 0n;
  let begun = false;
  for (const byte of raw) {
    if (!begun && byte === 0x80) refuse('der', 'an object identifier is not written in the shortest way');
    begun = true;
    value = (value << 7n) | BigInt(byte & 0x7f);
    if ((byte & 0x80) !== 0) continue;
    if (arcs.length === 0) {
      const first = value < 40n ? 0n : value < 80n ? 1n : 2n;
      arcs.push(first, value - first * 40n);
    } else arcs.push(value);
    value = 0n;
    begun = false;
  }
  if (begun || arcs.length === 0) refuse('der', 'an object identifier is cut short');
  return arcs.join('.');
}

export function octets(element, what) {
  return contents(expect(element, 0x04, what));
}

// The bytes of a BIT STRING of whole bytes.
export function bitBytes(element, what) {
  const raw = contents(expect(element, 0x03, what));
  if (raw.length === 0 || raw[0] !== 0) refuse('der_form', `${what} is not of whole bytes`);
  return raw.subarray(1);
}

// A time of the calendar as text `YYYY-MM-DDTHH:MM:SSZ`, and its fraction as digits (empty where there is none).
export function timeText(element, what) {
  if (element === undefined) refuse('der_form', `${what} is missing`);
  const text = latinOf(element.bytes, element.from, element.to);
  const short = element.tag === 0x17 ? /^(\d{2})(\d{2})(\d{2})(\d{2})(\d{2})(\d{2})Z$/.exec(text) : null;
  const long = element.tag === 0x18 ? /^(\d{4})(\d{2})(\d{2})(\d{2})(\d{2})(\d{2})(?:\.(\d*[1-9]))?Z$/.exec(text) : null;
  const parts = short ?? long;
  if (parts === null) refuse('der_form', `${what} is no time`);
  // RFC 5280, 4.1.2.5.1: two digits from 50 on are of the last century.
  const year = short ? String(Number(parts[1]) >= 50 ? 1900 + Number(parts[1]) : 2000 + Number(parts[1])) : parts[1];
  const time = { text: `${year}-${parts[2]}-${parts[3]}T${parts[4]}:${parts[5]}:${parts[6]}Z`, fraction: long?.[7] ?? '' };
  if (!isTimeOfCalendar(time.text)) refuse('der_form', `${what} is no time of the calendar`);
  return time;
}
