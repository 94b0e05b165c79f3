// The canonical form of JSON, RFC 8785: keys sorted by UTF-16 code units, no space, the one way to write each value.

import { bytesOf } from './text.js';

export function canonicalText(value) {
  if (Array.isArray(value)) return `[${value.map(canonicalText).join(',')}]`;
  if (typeof value === 'object' && value !== null) {
    const members = Object.keys(value).sort();
    return `{${members.map((key) => `${JSON.stringify(key)}:${canonicalText(value[key])}`).join(',')}}`;
  }
  // ECMAScript prints texts and numbers as RFC 8785 asks for (its sections 3.2.2.2 and 3.2.2.3).
  return JSON.stringify(value);
}

export function canonicalBytes(value) {
  return bytesOf(canonicalText(value));
}

// The object without one or more of its members.
export function without(object, ...names) {
  const rest = Object.create(null);
  for (const key of Object.keys(object)) if (!names.includes(key)) rest[key] = object[key];
  return rest;
}
