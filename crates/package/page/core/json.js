// Strict JSON (record-format.md, "Strict JSON"): what readers disagree on is refused.
// Source of the grammar: RFC 8259.

import { textOf, refuse } from './text.js';

export const JSON_LIMITS = { bytes: 16 * 1024 * 1024, levels: 32, values: 200000 };

const ESCAPES = { '"': '"', '\\': '\\', '/': '/', b: '\b', f: '\f', n: '\n', r: '\r', t: '\t' };
const NUMBER = /-?[0-9.eE+-]+/y;
// A run of characters that stand for themselves.
const PLAIN = /[^"\\\u0000-\u001f]*/y;
// Escapes, control characters, and whatever may be outside form C.
const LOOK_CLOSER = /[\\\u0000-\u001f\u0300-\uffff]/;
const SPACE = /[ \t\n\r]*/y;
// Below U+0300 every text is in form C; source: Unicode Standard Annex 15, from memory.
const MAY_NEED_LOOKING = /[\u0300-\uffff]/;

// Whether a text may stand in a record: form C, no lone surrogate, no U+0000, no noncharacter.
export function badText(text) {
  if (text.includes('\u0000')) return 'U+0000';
  if (!MAY_NEED_LOOKING.test(text)) return null;
  for (let at = 0; at < text.length; at += 1) {
    const unit = text.charCodeAt(at);
    if (unit < 0xd800) continue;
    const point = text.codePointAt(at);
    if (point >= 0xd800 && point <= 0xdfff) return 'a lone surrogate';
    if ((point >= 0xfdd0 && point <= 0xfdef) || (point & 0xfffe) === 0xfffe) return 'a noncharacter';
    if (point > 0xffff) at += 1;
  }
  return text.normalize('NFC') === text ? null : 'text outside Unicode form C';
}

// An object without anything inherited: no key can meet a property of Object. (Engines are slow with prototype null.)
export function JsonObject() {}
JsonObject.prototype = Object.create(null);

class JsonReader {
  constructor(text, limits) {
    this.text = text;
    this.at = 0;
    this.limits = limits;
    this.values = 0;
  }

  fail(rule, message, at = this.at) {
    const before = this.text.slice(0, at).split('\n');
    refuse(rule, message, `line ${before.length}, column ${before[before.length - 1].length + 1}`);
  }

  space() {
    if (this.text.charCodeAt(this.at) > 0x20) return;
    SPACE.lastIndex = this.at;
    SPACE.exec(this.text);
    this.at = SPACE.lastIndex;
  }

  value(level) {
    this.values += 1;
    if (this.values > this.limits.values) this.fail('json_values', `more than ${this.limits.values} values`);
    const letter = this.text[this.at];
    switch (letter) {
      case '{':
        return this.object(level + 1);
      case '[':
        return this.list(level + 1);
      case '"':
        return this.string();
      case 't':
        return this.word('true', true);
      case 'f':
        return this.word('false', false);
      case 'n':
        return this.word('null', null);
      case undefined:
        return this.fail('json_syntax', 'the text ends where a value should stand');
      default:
        if (letter === '-' || (letter >= '0' && letter <= '9')) return this.number();
        return this.fail('json_syntax', 'no JSON value');
    }
  }

  word(word, value) {
    if (!this.text.startsWith(word, this.at)) this.fail('json_syntax', 'no JSON value');
    this.at += word.length;
    return value;
  }

  deeper(level) {
    if (level > this.limits.levels) this.fail('json_levels', `more than ${this.limits.levels} levels`);
    this.at += 1;
    this.space();
  }

  object(level) {
    this.deeper(level);
    const object = new JsonObject();
    if (this.text[this.at] === '}') {
      this.at += 1;
      return object;
    }
    for (;;) {
      const start = this.at;
      if (this.text[start] !== '"') this.fail('json_syntax', 'a key in quotation marks is missing');
      const key = this.string();
      if (key in object) this.fail('json_twice', `the key ${JSON.stringify(key)} stands twice`, start);
      this.space();
      if (this.text[this.at] !== ':') this.fail('json_syntax', 'a colon is missing after a key');
      this.at += 1;
      this.space();
      object[key] = this.value(level);
      if (this.next('}')) return object;
    }
  }

  list(level) {
    this.deeper(level);
    const list = [];
    if (this.text[this.at] === ']') {
      this.at += 1;
      return list;
    }
    for (;;) {
      list.push(this.value(level));
      if (this.next(']')) return list;
    }
  }

  // Past a comma: false. Past the closing bracket: true.
  next(closing) {
    this.space();
    const letter = this.text[this.at];
    if (letter !== ',' && letter !== closing) this.fail('json_syntax', `a comma or \`${closing}\` is missing`);
    this.at += 1;
    if (letter === closing) return true;
    this.space();
    return false;
  }

  string() {
    const start = this.at;
    // Most texts have no escape: up to the next quotation mark, if nothing needs a closer look.
    const close = this.text.indexOf('"', start + 1);
    const plain = this.text.slice(start + 1, close);
    if (close > 0 && !LOOK_CLOSER.test(plain)) {
      this.at = close + 1;
      return plain;
    }
    this.at += 1;
    let text = '';
    for (;;) {
      PLAIN.lastIndex = this.at;
      text += PLAIN.exec(this.text)[0];
      this.at = PLAIN.lastIndex;
      const letter = this.text[this.at];
      if (letter === '"') break;
      if (letter !== '\\') this.fail('json_syntax', letter === undefined ? 'a text does not end' : 'a control character in a text');
      text += this.escape();
    }
    this.at += 1;
    const bad = badText(text);
    if (bad) this.fail('json_text', bad, start);
    return text;
  }

  escape() {
    const letter = this.text[this.at + 1];
    if (letter === 'u') {
      const digits = this.text.slice(this.at + 2, this.at + 6);
      if (!/^[0-9a-fA-F]{4}$/.test(digits)) this.fail('json_syntax', 'four hexadecimal digits are missing after \\u');
      this.at += 6;
      return String.fromCharCode(parseInt(digits, 16));
    }
    if (!Object.hasOwn(ESCAPES, letter ?? '')) this.fail('json_syntax', 'an escape that JSON does not have');
    this.at += 2;
    return ESCAPES[letter];
  }

  number() {
    const start = this.at;
    NUMBER.lastIndex = start;
    const text = NUMBER.exec(this.text)?.[0] ?? '-';
    if (!/^(0|-?[1-9][0-9]*)$/.test(text)) this.fail('json_number', `the number ${text.slice(0, 40)} is not written as a whole number`);
    const number = Number(text);
    if (!Number.isSafeInteger(number)) this.fail('json_number', 'a number beyond 2^53 - 1', start);
    this.at = NUMBER.lastIndex;
    return number;
  }
}

// The value of strict JSON. Objects have no prototype. Throws a Refusal with line and column.
export function readJson(bytes, limits = JSON_LIMITS) {
  if (bytes.length > limits.bytes) refuse('json_bytes', `${bytes.length} bytes, more than ${limits.bytes}`);
  const text = textOf(bytes);
  if (text === null) refuse('json_utf8', 'the bytes are not UTF-8');
  if (text.startsWith('\ufeff')) refuse('json_bom', 'a byte order mark');
  const reader = new JsonReader(text, limits);
  reader.space();
  const value = reader.value(0);
  reader.space();
  if (reader.at < text.length) reader.fail('json_trailing', 'something stands after the value');
  return value;
}

export function isObject(value) {
  return typeof value === 'object' && value !== null && !Array.isArray(value);
}
