// The canonical form of JSON, RFC 8785: keys sorted by UTF-16 code units, no space, the one way to write each value.

import { bytesOf } from './text.js';
import { JsonObject } from './json.js';

// Characters that stand for themselves between quotation marks.
const AS_IT_IS = /^[^"\\\u0000-\u001f\ud800-\udfff]*$/;

// ECMAScript prints texts as RFC 8785 asks for (its section 3.2.2.2).
function quoted(text) {
  return AS_IT_IS.test(text) ? `"${text}"` : JSON.stringify(text);
}

// The keys of an object in order; sealed records have them so already.
function orderedKeys(object) {
  const keys = Object.keys(object);
  for (let at = 1; at < keys.length; at += 1) if (keys[at - 1] > keys[at]) return keys.sort();
  return keys;
}

export function canonicalText(value) {
  if (typeof value === 'string') return quoted(value);
  if (Array.isArray(value)) {
    let text = '[';
    for (let at = 0; at < value.length; at += 1) text += (at > 0 ? ',' : '') + canonicalText(value[at]);
    return `${text}]`;
  }
  if (typeof value === 'object' && value !== null) {
    let text = '{';
    const keys = orderedKeys(value);
    for (let at = 0; at < keys.length; at += 1) text += `${at > 0 ? ',' : ''}${quoted(keys[at])}:${canonicalText(value[keys[at]])}`;
    return `${text}}`;
  }
  // ECMAScript prints numbers as RFC 8785 asks for (its section 3.2.2.3).
  return JSON.stringify(value);
}

export function canonicalBytes(value) {
  return bytesOf(canonicalText(value));
}

// The canonical bytes of a record, whole and without its proof, with the texts made once.
export function canonicalPair(record) {
  const members = orderedKeys(record).map((key) => [key, `${quoted(key)}:${canonicalText(record[key])}`]);
  const line = (list) => bytesOf(`{${list.map(([, text]) => text).join(',')}}`);
  return { whole: line(members), document: line(members.filter(([key]) => key !== 'proof')) };
}

// The object without one or more of its members.
export function without(object, ...names) {
  const rest = new JsonObject();
  for (const key of Object.keys(object)) if (!names.includes(key)) rest[key] = object[key];
  return rest;
}
