// Raw deflate (RFC 1951) and zlib (RFC 1950), read strictly and in one way in every browser: not a byte before or after
// the stream, and never more out than the caller allows. (DecompressionStream differs on what follows the stream.)

import { refuse } from './text.js';

const LENGTH_BASE = [3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 15, 17, 19, 23, 27, 31, 35, 43, 51, 59, 67, 83, 99, 115, 131, 163, 195, 227, 258];
const LENGTH_BITS = [0, 0, 0, 0, 0, 0, 0, 0, 1, 1, 1, 1, 2, 2, 2, 2, 3, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 5, 0];
const DISTANCE_BASE = [
  1, 2, 3, 4, 5, 7, 9, 13, 17, 25, 33, 49, 65, 97, 129, 193, 257, 385, 513, 769, 1025, 1537, 2049, 3073, 4097, 6145, 8193, 12289, 16385, 24577,
];
const DISTANCE_BITS = [0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8, 9, 9, 10, 10, 11, 11, 12, 12, 13, 13];
const CODE_ORDER = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];

// A table by the next `bits` bits of the stream: symbol * 16 + length, 0 where no code is.
function codeTable(lengths) {
  const counts = new Uint16Array(16);
  let longest = 0;
  for (const length of lengths) {
    counts[length] += 1;
    if (length > longest) longest = length;
  }
  counts[0] = 0;
  const next = new Uint32Array(17);
  let left = 1;
  for (let length = 1; length < 16; length += 1) {
    next[length + 1] = (next[length] + counts[length]) << 1;
    left = left * 2 - counts[length];
    if (left < 0) refuse('deflate', 'too many codes of one length');
  }
  // Only a single code of one bit may be incomplete (RFC 1951, 3.2.7).
  if (left > 0 && longest > 1) refuse('deflate', 'codes are missing');
  const table = new Uint16Array(1 << longest);
  for (let symbol = 0; symbol < lengths.length; symbol += 1) {
    const length = lengths[symbol];
    if (length === 0) continue;
    const code = next[length];
    next[length] += 1;
    let reversed = 0;
    for (let bit = 0; bit < length; bit += 1) reversed |= ((code >> bit) & 1) << (length - 1 - bit);
    for (let at = reversed; at < table.length; at += 1 << length) table[at] = symbol * 16 + length;
  }
  return { table, bits: longest };
}

let fixedTables = null;

function fixed() {
  if (fixedTables === null) {
    const lengths = Array.from({ length: 288 }, (_, at) => (at < 144 ? 8 : at < 256 ? 9 : at < 280 ? 7 : 8));
    fixedTables = { literals: codeTable(lengths), distances: codeTable(new Array(32).fill(5)) };
  }
  return fixedTables;
}

class Inflater {
  constructor(bytes, from, to, limit) {
    this.bytes = bytes;
    this.at = from;
    this.to = to;
    this.limit = limit;
    this.word = 0;
    this.held = 0;
    this.out = new Uint8Array(Math.min(limit, Math.max(256, (to - from) * 4)));
    this.filled = 0;
  }

  bit(count) {
    while (this.held < count) {
      if (this.at >= this.to) refuse('deflate', 'the stream ends too early');
      this.word |= this.bytes[this.at] << this.held;
      this.at += 1;
      this.held += 8;
    }
    const value = this.word & ((1 << count) - 1);
    this.word >>>= count;
    this.held -= count;
    return value;
  }

  symbol(code) {
    while (this.held < code.bits && this.at < this.to) {
      this.word |= this.bytes[this.at] << this.held;
      this.at += 1;
      this.held += 8;
    }
    const entry = code.table[this.word & ((1 << code.bits) - 1)];
    const length = entry & 15;
    if (length === 0 || length > this.held) refuse('deflate', 'no code of the table');
    this.word >>>= length;
    this.held -= length;
    return entry >> 4;
  }

  room(more) {
    if (this.filled + more > this.limit) refuse('inflated_length', `more than ${this.limit} bytes come out`);
    if (this.filled + more <= this.out.length) return;
    const larger = new Uint8Array(Math.min(this.limit, Math.max(this.out.length * 2, this.filled + more)));
    larger.set(this.out.subarray(0, this.filled));
    this.out = larger;
  }

  stored() {
    // The rest of a byte that was begun is passed over; whole bytes that were held go back.
    const spare = this.held & 7;
    this.word >>>= spare;
    this.held -= spare;
    this.at -= this.held >> 3;
    this.word = 0;
    this.held = 0;
    if (this.at + 4 > this.to) refuse('deflate', 'the stream ends too early');
    const length = this.bytes[this.at] | (this.bytes[this.at + 1] << 8);
    const inverse = this.bytes[this.at + 2] | (this.bytes[this.at + 3] << 8);
    if ((length ^ inverse) !== 0xffff) refuse('deflate', 'a stored block with two lengths');
    this.at += 4;
    if (this.at + length > this.to) refuse('deflate', 'the stream ends too early');
    this.room(length);
    this.out.set(this.bytes.subarray(this.at, this.at + length), this.filled);
    this.filled += length;
    this.at += length;
  }

  tables() {
    const literals = this.bit(5) + 257;
    const distances = this.bit(5) + 1;
    const codes = this.bit(4) + 4;
    if (literals > 286 || distances > 30) refuse('deflate', 'too many codes');
    const lengths = new Uint8Array(19);
    for (let at = 0; at < codes; at += 1) lengths[CODE_ORDER[at]] = this.bit(3);
    const code = codeTable(lengths);
    const all = new Uint8Array(literals + distances);
    for (let at = 0; at < all.length; ) {
      const symbol = this.symbol(code);
      if (symbol < 16) {
        all[at] = symbol;
        at += 1;
        continue;
      }
      if (symbol === 16 && at === 0) refuse('deflate', 'a length is repeated before there is one');
      const value = symbol === 16 ? all[at - 1] : 0;
      const count = symbol === 16 ? 3 + this.bit(2) : symbol === 17 ? 3 + this.bit(3) : 11 + this.bit(7);
      if (at + count > all.length) refuse('deflate', 'too many lengths');
      all.fill(value, at, at + count);
      at += count;
    }
    if (all[256] === 0) refuse('deflate', 'no code for the end');
    return { literals: codeTable(all.subarray(0, literals)), distances: codeTable(all.subarray(literals)) };
  }

  block({ literals, distances }) {
    for (;;) {
      const symbol = this.symbol(literals);
      if (symbol < 256) {
        if (this.filled === this.out.length) this.room(1);
        this.out[this.filled] = symbol;
        this.filled += 1;
        continue;
      }
      if (symbol === 256) return;
      if (symbol > 285) refuse('deflate', 'a length code that is none');
      const length = LENGTH_BASE[symbol - 257] + this.bit(LENGTH_BITS[symbol - 257]);
      const code = this.symbol(distances);
      if (code > 29) refuse('deflate', 'a distance code that is none');
      const distance = DISTANCE_BASE[code] + this.bit(DISTANCE_BITS[code]);
      if (distance > this.filled) refuse('deflate', 'a distance before the beginning');
      this.room(length);
      const { out } = this;
      let to = this.filled;
      for (let from = to - distance, end = to + length; to < end; from += 1, to += 1) out[to] = out[from];
      this.filled = to;
    }
  }

  run() {
    let last = 0;
    while (last === 0) {
      last = this.bit(1);
      const kind = this.bit(2);
      if (kind === 0) this.stored();
      else if (kind === 1) this.block(fixed());
      else if (kind === 2) this.block(this.tables());
      else refuse('deflate', 'a kind of block that is none');
    }
    this.at -= this.held >> 3;
    return this.out.subarray(0, this.filled);
  }
}

// What the deflate stream in bytes[from..to] gives, at most `limit` bytes; the stream fills the range.
export function inflateRaw(bytes, limit, from = 0, to = bytes.length) {
  const inflater = new Inflater(bytes, from, to, limit);
  const out = inflater.run();
  if (inflater.at !== to) refuse('deflate', 'something stands after the stream');
  return out;
}

// What a zlib stream gives, its checksum compared.
export function inflateZlib(bytes, limit) {
  if (bytes.length < 6) refuse('deflate', 'the stream ends too early');
  if ((bytes[0] & 15) !== 8 || bytes[0] >> 4 > 7 || ((bytes[0] << 8) | bytes[1]) % 31 !== 0 || bytes[1] & 0x20) {
    refuse('deflate', 'no zlib stream');
  }
  const out = inflateRaw(bytes, limit, 2, bytes.length - 4);
  let a = 1;
  let b = 0;
  for (let at = 0; at < out.length; ) {
    for (const end = Math.min(out.length, at + 3800); at < end; at += 1) {
      a += out[at];
      b += a;
    }
    a %= 65521;
    b %= 65521;
  }
  const tail = bytes.length - 4;
  const stated = ((bytes[tail] << 24) | (bytes[tail + 1] << 16) | (bytes[tail + 2] << 8) | bytes[tail + 3]) >>> 0;
  if (stated !== ((b << 16) | a) >>> 0) refuse('deflate', 'the checksum does not fit');
  return out;
}
