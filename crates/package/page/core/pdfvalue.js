// Values of a PDF in the one plain form that a report has (report-format.md, "The file").
// A value is { t, v, from, to }: t is null, bool, int, num, ref, name, str, hex, arr or dict; texts are one character a byte.

import { hexDigit, refuse } from './text.js';

const MOST_LEVELS_PDF = 40;
const MOST_VALUES_PDF = 1000000;
export const MOST_OBJECT = 8388607;

const BLANK = new Uint8Array(256);
const STOP = new Uint8Array(256); // blanks and delimiters
for (const byte of [0, 9, 10, 12, 13, 32]) BLANK[byte] = STOP[byte] = 1;
for (const letter of '()<>[]{}/%') STOP[letter.charCodeAt(0)] = 1;

function isDigit(byte) {
  return byte >= 0x30 && byte <= 0x39;
}

export class PdfReader {
  constructor(bytes) {
    this.bytes = bytes;
    this.at = 0;
    this.values = 0;
  }

  fail(message) {
    refuse('pdf_file', message, `byte ${this.at}`);
  }

  blanks() {
    while (this.at < this.bytes.length && BLANK[this.bytes[this.at]]) this.at += 1;
  }

  // Past one end of line, or not moved.
  eol() {
    const byte = this.bytes[this.at];
    if (byte === 13) this.at += this.bytes[this.at + 1] === 10 ? 2 : 1;
    else if (byte === 10) this.at += 1;
    else return false;
    return true;
  }

  looksAt(text) {
    for (let at = 0; at < text.length; at += 1) if (this.bytes[this.at + at] !== text.charCodeAt(at)) return false;
    return true;
  }

  literal(text) {
    if (!this.looksAt(text)) this.fail(`\`${text}\` is missing`);
    this.at += text.length;
  }

  // A word, which ends before a blank, a delimiter or the end.
  word(text) {
    this.literal(text);
    if (this.at < this.bytes.length && !STOP[this.bytes[this.at]]) this.fail(`\`${text}\` goes on`);
  }

  digits(most = 15) {
    const from = this.at;
    while (isDigit(this.bytes[this.at])) this.at += 1;
    if (this.at === from || this.at - from > most) this.fail('digits are missing, or too many');
    return Number(this.latin(from, this.at));
  }

  latin(from, to) {
    let text = '';
    for (let at = from; at < to; at += 1) text += String.fromCharCode(this.bytes[at]);
    return text;
  }

  value(level = 0) {
    this.values += 1;
    if (this.values > MOST_VALUES_PDF) this.fail(`more than ${MOST_VALUES_PDF} values`);
    if (level > MOST_LEVELS_PDF) this.fail(`more than ${MOST_LEVELS_PDF} levels`);
    const from = this.at;
    const [t, v] = this.one(this.bytes[from], level);
    return { t, v, from, to: this.at };
  }

  one(byte, level) {
    switch (byte) {
      case 0x2f:
        return ['name', this.name()];
      case 0x28:
        return ['str', this.string()];
      case 0x5b:
        return ['arr', this.array(level)];
      case 0x3c:
        return this.bytes[this.at + 1] === 0x3c ? ['dict', this.dictionary(level)] : ['hex', this.hexString()];
      default:
        if (isDigit(byte) || byte === 0x2b || byte === 0x2d || byte === 0x2e) return this.number();
        return this.keyword();
    }
  }

  keyword() {
    for (const [text, t, v] of [['null', 'null', null], ['true', 'bool', true], ['false', 'bool', false]]) {
      if (!this.looksAt(text)) continue;
      this.word(text);
      return [t, v];
    }
    return this.fail('no value');
  }

  name() {
    this.at += 1;
    let text = '';
    while (this.at < this.bytes.length && !STOP[this.bytes[this.at]]) {
      let byte = this.bytes[this.at];
      this.at += 1;
      if (byte === 0x23) {
        const [high, low] = [hexDigit(this.bytes[this.at]), hexDigit(this.bytes[this.at + 1])];
        if (high < 0 || low < 0) this.fail('`#` in a name without two hexadecimal digits');
        byte = high * 16 + low;
        this.at += 2;
      }
      text += String.fromCharCode(byte);
    }
    return text;
  }

  // A number, or a reference: digits, then exactly ` 0 R`.
  number() {
    const from = this.at;
    let number = 0;
    let plain = true;
    for (; this.at < this.bytes.length && !STOP[this.bytes[this.at]]; this.at += 1) {
      const byte = this.bytes[this.at];
      if (isDigit(byte)) number = number * 10 + byte - 0x30;
      else plain = false;
    }
    // Digits alone, few enough to be exact: nearly all numbers are.
    if (plain && this.at - from < 16) return this.isReference() ? this.reference(number) : ['int', number];
    const text = this.latin(from, this.at);
    if (!/^[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)$/.test(text)) this.fail('no number');
    if (text.includes('.')) return ['num', Number(text)];
    if (plain && this.isReference()) return this.reference(number);
    const long = BigInt(text.replace('+', ''));
    if (long >= 2n ** 63n || long < -(2n ** 63n)) this.fail('a whole number beyond 64 bits');
    return ['int', Number(long)];
  }

  isReference() {
    return this.looksAt(' 0 R') && (this.at + 4 >= this.bytes.length || STOP[this.bytes[this.at + 4]] === 1);
  }

  reference(number) {
    if (number < 1 || number > MOST_OBJECT) this.fail('a reference to a number that no object has');
    this.at += 4;
    return ['ref', number];
  }

  string() {
    this.at += 1;
    let text = '';
    let open = 1;
    for (;;) {
      if (this.at >= this.bytes.length) this.fail('a string does not end');
      const byte = this.bytes[this.at];
      if (byte === 0x5c) {
        text += this.escape();
        continue;
      }
      this.at += 1;
      if (byte === 0x28) open += 1;
      if (byte === 0x29) open -= 1;
      if (open === 0) return text;
      text += String.fromCharCode(byte);
    }
  }

  escape() {
    this.at += 1;
    if (this.eol()) return '';
    const letter = String.fromCharCode(this.bytes[this.at] ?? 0);
    const octal = /^[0-7]{1,3}/.exec(this.latin(this.at, Math.min(this.at + 3, this.bytes.length)));
    if (octal) {
      const value = parseInt(octal[0], 8);
      if (value > 255) this.fail('an octal escape above 377');
      this.at += octal[0].length;
      return String.fromCharCode(value);
    }
    const plain = { n: '\n', r: '\r', t: '\t', b: '\b', f: '\f', '(': '(', ')': ')', '\\': '\\' };
    if (!Object.hasOwn(plain, letter)) this.fail('an escape that is not read');
    this.at += 1;
    return plain[letter];
  }

  hexString() {
    const from = this.at + 1;
    let to = from;
    while (hexDigit(this.bytes[to]) >= 0) to += 1;
    if (this.bytes[to] !== 0x3e || (to - from) % 2 !== 0) this.fail('no hexadecimal string');
    this.at = to + 1;
    // Long ones are signatures; they are taken from the file where they stand.
    if (to - from > 8192) return null;
    let text = '';
    for (let at = from; at < to; at += 2) text += String.fromCharCode(hexDigit(this.bytes[at]) * 16 + hexDigit(this.bytes[at + 1]));
    return text;
  }

  array(level) {
    this.at += 1;
    const list = [];
    for (;;) {
      this.blanks();
      if (this.bytes[this.at] === 0x5d) {
        this.at += 1;
        return list;
      }
      list.push(this.value(level + 1));
    }
  }

  dictionary(level) {
    this.at += 2;
    const entries = new Map();
    for (;;) {
      this.blanks();
      if (this.looksAt('>>')) {
        this.at += 2;
        return entries;
      }
      if (this.bytes[this.at] !== 0x2f) this.fail('a name is missing in a dictionary');
      const name = this.name();
      if (entries.has(name)) this.fail('a name stands twice in a dictionary');
      this.blanks();
      entries.set(name, this.value(level + 1));
    }
  }
}
