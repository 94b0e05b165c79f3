// Bytes and their spellings: UTF-8, hexadecimal, base64, base64url, base32, base58btc.

const DECODER = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true });
const ENCODER = new TextEncoder();
const HEX = Array.from({ length: 256 }, (_, byte) => byte.toString(16).padStart(2, '0'));
const BASE58 = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
const BASE32 = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';
const BASE64URL = 'ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_';

// Why something is not taken: `rule` is a short name, `message` says it in words, `where` is a place or null.
export class Refusal extends Error {
  constructor(rule, message, where = null) {
    super(message);
    this.rule = rule;
    this.where = where;
  }
}

export function refuse(rule, message, where = null) {
  throw new Refusal(rule, message, where);
}

// The rule of what is no refusal but a fault of this program.
export const FAULT = 'fault';

// What a part that is not taken says for itself: { reason, rule, where }. A fault of this program is one too: whoever hands over
// must not be able to keep the page from a verdict on all the rest.
export function reasonOf(problem) {
  if (problem instanceof Refusal) return { reason: problem.message, rule: problem.rule, where: problem.where };
  globalThis.console?.error('a check broke off', problem);
  return { reason: `the check of this part broke off: ${problem}`, rule: FAULT, where: null };
}

// Text of UTF-8 bytes, or null where they are not UTF-8. A byte order mark stays in the text.
export function textOf(bytes) {
  try {
    return DECODER.decode(bytes);
  } catch {
    return null;
  }
}

export function bytesOf(text) {
  return ENCODER.encode(text);
}

// Text of bytes one character a byte.
export function latinOf(bytes, from = 0, to = bytes.length) {
  let text = '';
  for (let at = from; at < to; at += 8192) {
    text += String.fromCharCode.apply(null, bytes.subarray(at, Math.min(to, at + 8192)));
  }
  return text;
}

export function hexOf(bytes) {
  let text = '';
  for (let at = 0; at < bytes.length; at += 1) text += HEX[bytes[at]];
  return text;
}

// The value of one hexadecimal digit by its character code, or -1.
export function hexDigit(code) {
  if (code >= 0x30 && code <= 0x39) return code - 0x30;
  if (code >= 0x61 && code <= 0x66) return code - 0x57;
  if (code >= 0x41 && code <= 0x46) return code - 0x37;
  return -1;
}

// Bytes of an even number of hexadecimal digits, or null.
export function fromHex(text) {
  if (text.length % 2 !== 0) return null;
  const bytes = new Uint8Array(text.length / 2);
  for (let at = 0; at < bytes.length; at += 1) {
    const value = hexDigit(text.charCodeAt(2 * at)) * 16 + hexDigit(text.charCodeAt(2 * at + 1));
    if (value < 0 || hexDigit(text.charCodeAt(2 * at + 1)) < 0) return null;
    bytes[at] = value;
  }
  return bytes;
}

export function sameBytes(one, other) {
  if (one.length !== other.length) return false;
  for (let at = 0; at < one.length; at += 1) if (one[at] !== other[at]) return false;
  return true;
}

export function joined(...parts) {
  const whole = new Uint8Array(parts.reduce((sum, part) => sum + part.length, 0));
  let at = 0;
  for (const part of parts) {
    whole.set(part, at);
    at += part.length;
  }
  return whole;
}

// RFC 4648, section 5, without padding.
export function base64url(bytes) {
  let text = '';
  for (let at = 0; at < bytes.length; at += 3) {
    const left = bytes.length - at;
    const word = (bytes[at] << 16) | ((left > 1 ? bytes[at + 1] : 0) << 8) | (left > 2 ? bytes[at + 2] : 0);
    text += BASE64URL[word >> 18] + BASE64URL[(word >> 12) & 63];
    if (left > 1) text += BASE64URL[(word >> 6) & 63];
    if (left > 2) text += BASE64URL[word & 63];
  }
  return text;
}

// Bytes of base64url without padding, spelled in the one right way, or null.
export function fromBase64url(text) {
  const tail = text.length % 4;
  if (tail === 1) return null;
  const bytes = new Uint8Array(Math.floor((text.length * 3) / 4));
  let word = 0;
  let bits = 0;
  let filled = 0;
  for (const letter of text) {
    const digit = BASE64URL.indexOf(letter);
    if (digit < 0) return null;
    word = ((word << 6) | digit) & 0xffffff;
    bits += 6;
    if (bits >= 8) {
      bits -= 8;
      bytes[filled] = (word >> bits) & 255;
      filled += 1;
    }
  }
  return (word & ((1 << bits) - 1)) === 0 ? bytes : null;
}

// Bytes of base64 with padding, as in PEM, or null.
export function fromBase64(text) {
  const bare = text.replace(/={0,2}$/, '');
  if (text.length % 4 !== 0 || /[-_]/.test(bare)) return null;
  return fromBase64url(bare.replace(/\+/g, '-').replace(/\//g, '_'));
}

// Base32 (RFC 4648) of the leading `letters` times five bits.
export function base32(bytes, letters) {
  let text = '';
  for (let letter = 0; letter < letters; letter += 1) {
    let digit = 0;
    for (let bit = letter * 5; bit < letter * 5 + 5; bit += 1) {
      digit = (digit << 1) | ((bytes[bit >> 3] >> (7 - (bit & 7))) & 1);
    }
    text += BASE32[digit];
  }
  return text;
}

export function base58(bytes) {
  let zeros = 0;
  while (zeros < bytes.length && bytes[zeros] === 0) zeros += 1;
  let number = bytes.length === 0 ? 0n : BigInt('0x0' + hexOf(bytes));
  let text = '';
  while (number > 0n) {
    text = BASE58[Number(number % 58n)] + text;
    number /= 58n;
  }
  return '1'.repeat(zeros) + text;
}

// Bytes of base58btc, or null where a letter is none of the alphabet. Texts are short; longer ones than 200 are none.
export function fromBase58(text) {
  if (text.length > 200) return null;
  let number = 0n;
  for (const letter of text) {
    const digit = BASE58.indexOf(letter);
    if (digit < 0) return null;
    number = number * 58n + BigInt(digit);
  }
  let zeros = 0;
  while (text[zeros] === '1') zeros += 1;
  let hex = number === 0n ? '' : number.toString(16);
  if (hex.length % 2 === 1) hex = '0' + hex;
  return joined(new Uint8Array(zeros), fromHex(hex));
}

export function bigOf(bytes) {
  return bytes.length === 0 ? 0n : BigInt('0x' + hexOf(bytes));
}

// Big-endian bytes of a number, filled up to `length`.
export function bytesOfBig(number, length) {
  return fromHex(number.toString(16).padStart(2 * length, '0'));
}
