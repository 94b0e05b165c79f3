// Where the signature of a report stands, and what it covers (report-format.md, "The place of the signature").

import { latinOf } from './text.js';
import { dictOf, nameOf, resolve } from './pdffile.js';

const RANGE_FORM = /^\[0 ([0-9]{10}) ([0-9]{10}) ([0-9]{10})\]$/;
export const STRING_DIGITS = 16384;

// The signature dictionary and how it is reached: { catalogue, form, fieldRef, field, valueRef, signature }, or null.
export function signatureDictionary(file) {
  const catalogue = dictOf(file, file.trailer.get('Root'));
  if (catalogue === null || nameOf(catalogue.get('Type')) !== 'Catalog') return null;
  const form = dictOf(file, catalogue.get('AcroForm'));
  const fields = form && resolve(file, form.get('Fields'));
  if (fields?.t !== 'arr' || fields.v.length !== 1 || fields.v[0].t !== 'ref') return null;
  const field = dictOf(file, fields.v[0]);
  const value = field?.get('V');
  if (value?.t !== 'ref') return null;
  const signature = dictOf(file, value);
  return signature && { catalogue, form, fieldRef: fields.v[0].v, field, valueRef: value.v, signature };
}

// { range: { text, numbers } or null, string: { from, to } or null }; numbers are null with another spelling.
export function placeOfSignature(bytes, reached) {
  if (reached) {
    const range = reached.signature.get('ByteRange');
    const string = reached.signature.get('Contents');
    return {
      range: range?.t === 'arr' ? rangeOf(latinOf(bytes, range.from, Math.min(range.to, range.from + 100))) : null,
      string: string?.t === 'hex' ? { from: string.from, to: string.to } : null,
    };
  }
  const text = latinOf(bytes);
  const range = searchRange(text);
  return { range, string: searchString(text, range) };
}

function rangeOf(text) {
  const parts = RANGE_FORM.exec(text);
  return { text, numbers: parts && parts.slice(1).map(Number) };
}

function searchRange(text) {
  for (const found of text.matchAll(/\/ByteRange[\t\n\f\r ]*(?=\[)/g)) {
    const from = found.index + found[0].length;
    const end = text.indexOf(']', from);
    const range = end >= 0 && end + 1 - from <= 64 ? rangeOf(text.slice(from, end + 1)) : null;
    if (range?.numbers) return range;
  }
  return null;
}

function searchString(text, range) {
  let longest = null;
  for (const found of text.matchAll(/\/Contents[\t\n\f\r ]*<([0-9a-fA-F]*)>/g)) {
    const to = found.index + found[0].length;
    const place = { from: to - found[1].length - 2, to };
    if (range && place.from === range.numbers[0]) return place;
    if (longest === null || place.to - place.from >= longest.to - longest.from) longest = place;
  }
  return longest;
}
