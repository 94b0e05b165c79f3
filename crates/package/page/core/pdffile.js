// A report taken apart: header, objects, one table, trailer, and not a byte besides (report-format.md, "The file").

import { latinOf, refuse } from './text.js';
import { MOST_OBJECT, PdfReader } from './pdfvalue.js';

// Space LF, CR LF, space CR.
const ENTRY_ENDS = [0x200a, 0x0d0a, 0x200d];
const FREE_ENTRY = ' 65535 f';
const USED_ENTRY = ' 00000 n';
const TRAILER_KEYS = ['Root', 'Info', 'ID', 'Size'];

// The last place of an ASCII text in bytes, or -1.
export function lastIndexOf(bytes, text) {
  for (let at = bytes.length - text.length; at >= 0; at -= 1) {
    let same = 0;
    while (same < text.length && bytes[at + same] === text.charCodeAt(same)) same += 1;
    if (same === text.length) return at;
  }
  return -1;
}

// Whether the file ends with `%%EOF` and at most one end of line.
export function endsWell(bytes) {
  return /%%EOF(?:\r\n|\n|\r)?$/.test(latinOf(bytes, Math.max(0, bytes.length - 7)));
}

function tableAt(bytes) {
  const last = lastIndexOf(bytes, '%%EOF');
  const before = last < 0 ? null : /([0-9]{1,15})(?:\r\n|\n|\r)$/.exec(latinOf(bytes, Math.max(0, last - 40), last));
  if (before === null) refuse('pdf_file', 'no byte of a table before %%EOF');
  const place = Number(before[1]);
  if (place >= last - before[0].length) refuse('pdf_file', 'the table does not lie before the end');
  return place;
}

function header(reader) {
  reader.literal('%PDF-1.7');
  if (!reader.eol()) reader.fail('no end of line after the header');
  if (reader.bytes[reader.at] !== 0x25) return;
  reader.at += 1;
  while (reader.bytes[reader.at] > 127) reader.at += 1;
  if (!reader.eol()) reader.fail('no end of line after the second line');
}

function object(reader) {
  const at = reader.at;
  const number = reader.digits(10);
  reader.literal(' 0 ');
  reader.word('obj');
  if (number < 1 || number > MOST_OBJECT) reader.fail('no number that an object may have');
  reader.blanks();
  const value = reader.value();
  reader.blanks();
  let stream = null;
  if (value.t === 'dict' && reader.looksAt('stream')) {
    reader.literal('stream');
    if (reader.bytes[reader.at] === 13) reader.literal('\r\n');
    else reader.literal('\n');
    const length = value.v.get('Length');
    if (length?.t !== 'int' || length.v < 0) reader.fail('a stream without a length');
    stream = { from: reader.at, to: reader.at + length.v };
    if (stream.to > reader.bytes.length) reader.fail('a stream reaches beyond the file');
    reader.at = stream.to;
    reader.eol();
    reader.word('endstream');
    reader.blanks();
  }
  reader.word('endobj');
  return { number, at, value, stream };
}

// The ten digits of an entry of the table, or -1: `middle` stands behind them, then one of three ends of line.
function tableEntry(bytes, from, middle) {
  if (from + 20 > bytes.length) return -1;
  let place = 0;
  for (let at = from; at < from + 10; at += 1) {
    if (bytes[at] < 0x30 || bytes[at] > 0x39) return -1;
    place = place * 10 + bytes[at] - 0x30;
  }
  for (let at = 0; at < middle.length; at += 1) if (bytes[from + 10 + at] !== middle.charCodeAt(at)) return -1;
  const end = bytes[from + 18] * 256 + bytes[from + 19];
  return ENTRY_ENDS.includes(end) ? place : -1;
}

// Map from object number to byte.
function crossTable(reader) {
  reader.word('xref');
  if (!reader.eol()) reader.fail('no end of line after `xref`');
  const places = new Map();
  let next = 0;
  do {
    const first = reader.digits(10);
    reader.literal(' ');
    const count = reader.digits(10);
    if (reader.bytes[reader.at] === 32) reader.at += 1;
    if (!reader.eol()) reader.fail('no end of line in the table');
    if ((places.size === 0 && next === 0 && first !== 0) || first < next || count === 0) reader.fail('a section of the table that is none');
    if (first + count - 1 > MOST_OBJECT) reader.fail('a number that no object may have');
    for (let number = first; number < first + count; number += 1) {
      const place = tableEntry(reader.bytes, reader.at, number === 0 ? FREE_ENTRY : USED_ENTRY);
      if (place < 0) reader.fail('an entry of the table that is none');
      if (number > 0) places.set(number, place);
      reader.at += 20;
    }
    next = first + count;
  } while (reader.bytes[reader.at] >= 0x30 && reader.bytes[reader.at] <= 0x39);
  return places;
}

// { objects: Map from number to { number, at, value, stream }, trailer: Map }. Throws a Refusal.
export function takeApart(bytes) {
  const place = tableAt(bytes);
  const reader = new PdfReader(bytes);
  header(reader);
  const objects = new Map();
  const taken = new Set();
  reader.blanks();
  while (reader.at < place) {
    const one = object(reader);
    if (objects.has(one.number)) refuse('pdf_file', `the object ${one.number} stands twice`, `byte ${one.at}`);
    objects.set(one.number, one);
    taken.add(one.at);
    reader.blanks();
  }
  if (reader.at !== place) reader.fail('the table does not stand behind the last object');
  const places = crossTable(reader);
  reader.blanks();
  reader.word('trailer');
  reader.blanks();
  const trailer = reader.value();
  if (trailer.t !== 'dict') reader.fail('no trailer');
  reader.blanks();
  reader.word('startxref');
  if (!reader.eol() || reader.digits() !== place || !reader.eol()) reader.fail('no end of line, or another byte, after `startxref`');
  reader.literal('%%EOF');
  reader.eol();
  if (reader.at !== bytes.length) reader.fail('something stands after %%EOF');
  checkTable(objects, places, trailer.v);
  return { objects, trailer: trailer.v };
}

function checkTable(objects, places, trailer) {
  for (const name of trailer.keys()) if (!TRAILER_KEYS.includes(name)) refuse('pdf_file', `the trailer has ${name}`);
  const size = trailer.get('Size');
  if (size?.t !== 'int') refuse('pdf_file', 'the trailer has no Size');
  const isReference = (name) => trailer.get(name)?.t === 'ref';
  if (!isReference('Root') || (trailer.has('Info') && !isReference('Info'))) refuse('pdf_file', 'Root or Info of the trailer is no reference');
  if (places.size !== objects.size) refuse('pdf_file', 'the table has other entries than there are objects');
  for (const [number, at] of places) {
    if (objects.get(number)?.at !== at) refuse('pdf_file', `the object ${number} does not stand where the table says`);
    if (number >= size.v) refuse('pdf_file', 'Size is not above every number');
  }
}

// The value that a value is or refers to; a reference to a reference is nothing.
export function resolve(file, value) {
  if (value === undefined) return undefined;
  if (value.t !== 'ref') return value;
  const target = file.objects.get(value.v)?.value;
  return target === undefined || target.t === 'ref' ? undefined : target;
}

export function dictOf(file, value) {
  const found = resolve(file, value);
  return found?.t === 'dict' ? found.v : null;
}

// The name that a value is, or null. One that stands in an object of its own is none: other readers take it for nothing.
export function nameOf(value) {
  return value?.t === 'name' ? value.v : null;
}
