// What the tests of the verifier are made from: throw-away keys, records, histories, reports and packages.
// The signer here is plain arithmetic (SEC 1, 4.1.3) and shares nothing with the verifier but SHA-256.

import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';
import { deflateRawSync, crc32 as nodeCrc32 } from 'node:zlib';

export const root = new URL('../../../', import.meta.url);
export const schema = new Uint8Array(readFileSync(new URL('schemas/tangmark-record-1.schema.json', root)));
export const sample = (path) => new Uint8Array(readFileSync(new URL(path, root)));
export const utf8 = (text) => new TextEncoder().encode(text);
export const reader = (more = {}) => ({ schema, now: '2030-01-01T00:00:00Z', fingerprints: [], authorities: [], histories: [], releasedPages: [], releasedAids: {}, ...more });

export function sha(...parts) {
  const hash = createHash('sha256');
  for (const part of parts) hash.update(part);
  return new Uint8Array(hash.digest());
}
export const hex = (bytes) => Buffer.from(bytes).toString('hex');
export const sha256hex = (bytes) => hex(sha(bytes));

// P-256 ------------------------------------------------------------------------
const P = 0xffffffff00000001000000000000000000000000ffffffffffffffffffffffffn;
export const N = 0xffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551n;
const G = [0x6b17d1f2e12c4247f8bce6e563a440f277037d812deb33a0f4a13945d898c296n, 0x4fe342e2fe1a7f9b8ee7eb4a7c0f9e162bce33576b315ececbb6406837bf51f5n];
const mod = (value, by = P) => ((value % by) + by) % by;
function inverse(value, by) {
  let [a, b, x, y] = [mod(value, by), by, 1n, 0n];
  while (a > 1n) {
    const q = b / a;
    [a, b, x, y] = [b - q * a, a, y - q * x, x];
  }
  return mod(x, by);
}
function plus(one, two) {
  if (!one) return two;
  if (!two) return one;
  if (one[0] === two[0] && mod(one[1] + two[1]) === 0n) return null;
  const slope = one[0] === two[0] ? (3n * one[0] * one[0] - 3n) * inverse(2n * one[1], P) : (two[1] - one[1]) * inverse(two[0] - one[0], P);
  const x = mod(slope * slope - one[0] - two[0]);
  return [x, mod(slope * (one[0] - x) - one[1])];
}
function times(number, point) {
  let sum = null;
  for (let left = number, double = point; left > 0n; left >>= 1n, double = plus(double, double)) if (left & 1n) sum = plus(sum, double);
  return sum;
}
export const big = (bytes) => BigInt(`0x${hex(bytes)}`);
export const bytes32 = (number) => new Uint8Array(Buffer.from(number.toString(16).padStart(64, '0'), 'hex'));

const BASE58 = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
export function base58(bytes) {
  let [number, text] = [BigInt(`0x0${hex(bytes)}`), ''];
  for (; number > 0n; number /= 58n) text = BASE58[Number(number % 58n)] + text;
  for (let at = 0; bytes[at] === 0; at += 1) text = `1${text}`;
  return text;
}
const BASE32 = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';

// A key from a word: the same word, the same key.
export function key(word) {
  const d = mod(big(sha(utf8(`throw-away key ${word}`))), N);
  const [x, y] = times(d, G);
  const point = new Uint8Array([2 + Number(y & 1n), ...bytes32(x)]);
  const did = `did:key:z${base58(new Uint8Array([0x80, 0x24, ...point]))}`;
  const bits = [...sha(point)].map((byte) => byte.toString(2).padStart(8, '0')).join('').slice(0, 100);
  const fingerprint = bits.match(/.{5}/g).map((five) => BASE32[parseInt(five, 2)]).join('').match(/.{5}/g).join('-');
  return { d, point, long: new Uint8Array([4, ...bytes32(x), ...bytes32(y)]), did, fingerprint };
}

// r and s, 32 bytes each, over a message; the lower s unless `high`.
export function sign(by, message, high = false) {
  const e = big(sha(message));
  const k = mod(big(sha(bytes32(by.d), message)), N);
  const r = mod(times(k, G)[0], N);
  let s = mod(inverse(k, N) * (e + r * by.d), N);
  if (s > N / 2n !== high) s = N - s;
  return new Uint8Array([...bytes32(r), ...bytes32(s)]);
}

// JSON and proofs ----------------------------------------------------------------
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (value && typeof value === 'object') return `{${Object.keys(value).sort().map((name) => `${JSON.stringify(name)}:${canonical(value[name])}`).join(',')}}`;
  return JSON.stringify(value);
}
export function without(object, name) {
  const { [name]: _, ...rest } = object;
  return rest;
}
// The object with a proof by a key; `options` changes fields of the proof before it is signed.
export function proved(object, by, created, { options = {}, high = false, swap = false } = {}) {
  const document = without(object, 'proof');
  const plain = {
    type: 'DataIntegrityProof', cryptosuite: 'ecdsa-jcs-2019', created, verificationMethod: `${by.did}#${by.did.slice(8)}`, proofPurpose: 'assertionMethod', ...options,
  };
  const [one, two] = [sha(utf8(canonical(plain))), sha(utf8(canonical(document)))];
  const signed = swap ? new Uint8Array([...two, ...one]) : new Uint8Array([...one, ...two]);
  return { ...document, proof: { ...plain, proofValue: `z${base58(sign(by, signed, high))}` } };
}

const BASE = JSON.parse(new TextDecoder().decode(sample('samples/records/dune-01-before_work.json')));
export const first = key('first');
export const second = key('second');

// The digest of what plugins are asked (schemas/record-format.md, "Runs and findings"), with the record before it as history.
export function askedOf(made) {
  const sheet = { ...made };
  for (const name of ['schema', 'record_id', 'sequence', 'previous', 'issuer', 'purpose', 'issued_at', 'runs', 'findings', 'private_findings', 'decision', 'overrides', 'worked_under_hold', 'valuation', '_sd', '_sd_alg', 'proof']) delete sheet[name];
  return sha256hex(utf8(canonical({ history: made.previous === null ? [] : [made.previous], now: made.issued_at, sheet })));
}

// A record of an invented blade: `change` may change it before it is signed; `by` is the key.
export function record({ sequence = 1, previous = null, purpose = 'before_work', issuedAt = '2026-03-01T09:30:00Z', by = first, change = () => {}, how = {} } = {}) {
  const made = structuredClone(BASE);
  Object.assign(made, { sequence, previous, purpose, issued_at: issuedAt });
  made.issuer = { ...made.issuer, id: by.did };
  made.record_id = hex(sha(utf8(`${sequence} ${purpose}`))).slice(0, 32);
  change(made);
  // What the plugins were asked is the record as it was changed; a change may give a run another digest.
  for (const run of made.runs ?? []) if (run.input === BASE.runs[0].input) run.input = askedOf(made);
  return proved(made, by, made.issued_at, how);
}
export const sealed = (made) => utf8(canonical(made));
export const nameOf = (made) => sha256hex(utf8(canonical(without(made, 'proof'))));

// A chain of records: one more for each change.
export function chain(steps) {
  const list = [];
  for (const [at, step] of steps.entries()) {
    const before = list.at(-1);
    list.push(record({ sequence: at + 1, previous: before ? nameOf(before) : null, purpose: at === 0 ? 'before_work' : 'transfer', issuedAt: `2026-03-0${at + 1}T09:30:00Z`, ...step }));
  }
  return list;
}

// Withheld values ----------------------------------------------------------------
export const base64url = (bytes) => Buffer.from(bytes).toString('base64url');
export function disclosure(path, value, salt = sha(utf8(path)).slice(0, 16)) {
  const name = path.slice(path.lastIndexOf('/') + 1);
  const text = base64url(utf8(JSON.stringify([base64url(salt), name, value])));
  return { path, disclosure: text, digest: base64url(sha(utf8(text))) };
}
export const decoy = (word) => base64url(sha(utf8(`decoy ${word}`)));
export const disclosuresFile = (list) => utf8(JSON.stringify({ format: 'tangmark disclosures 1', disclosures: list.map(({ path, disclosure: text }) => ({ path, disclosure: text })) }));
export const examinerName = disclosure('/examination/by/name', 'Odile Varga');
// Puts the digest of the examiner's name into the record, among decoys.
export function withExaminer(made) {
  made.examination.by._sd = [examinerName.digest, decoy('one'), decoy('two')].sort();
}

// Key histories --------------------------------------------------------------------
export const paper = key('paper');
export function statement(by, from, previous, recovery = paper) {
  const made = { key: by.did, from, reason: 'in use', recovery_digest: sha256hex(recovery.point), ...(previous ? { previous } : {}) };
  return proved(made, by, from);
}
export const entryDigest = (entry) => sha256hex(utf8(canonical(without(entry, 'proof'))));
export const later = (kind, inner, by) => proved({ kind, statement: inner }, by, inner.from);
export const revocation = (of, since, previous, by, created) => proved({ kind: 'revocation', key: of.did, since, reason: 'stolen', previous }, by, created);
export const historyFile = (entries) => utf8(JSON.stringify({ format: 'tangmark key history 1', entries }));

// Zip and bag ------------------------------------------------------------------------
function number(value, length) {
  const bytes = new Uint8Array(length);
  for (let at = 0; at < length; at += 1) bytes[at] = Math.floor(value / 256 ** at) & 255;
  return bytes;
}
export const joined = (...parts) => new Uint8Array(Buffer.concat(parts.map((part) => Buffer.from(part))));
export const crc = (bytes) => {
  if (nodeCrc32) return nodeCrc32(bytes);
  let value = -1;
  for (const byte of bytes) {
    value ^= byte;
    for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
  }
  return (value ^ -1) >>> 0;
};
// A zip of [{ name, bytes, … }]; each entry and the end may be told to be otherwise.
export function zip(entries, { comment = '', before = '', between = '', after = '', count = null, offset = 0, length = 0 } = {}) {
  let body = utf8(before);
  const directory = [];
  for (const entry of entries) {
    const { name, bytes = new Uint8Array(), method = 0, flags = 0, extra = [], localExtra = extra, mode = 0, disk = 0, descriptor = null } = entry;
    const raw = entry.rawName ?? utf8(name);
    const packed = entry.packed ?? (method === 8 ? new Uint8Array(deflateRawSync(bytes)) : bytes);
    const sum = entry.crc ?? crc(bytes);
    const size = entry.size ?? bytes.length;
    const start = entry.start ?? body.length;
    const facts = [number(method, 2), number(0, 2), number(33, 2), number(sum, 4), number(packed.length, 4), number(size, 4)];
    const here = { raw, flags, method, sum, length: packed.length, size, ...entry.local };
    const local = [number(here.method, 2), number(0, 2), number(33, 2), number(here.sum, 4), number(here.length, 4), number(here.size, 4)];
    if (entry.start === undefined) {
      body = joined(body, number(0x04034b50, 4), number(20, 2), number(here.flags, 2), ...local, number(here.raw.length, 2), number(localExtra.length, 2), here.raw, localExtra, packed, descriptor ?? [], utf8(between));
    }
    directory.push(joined(number(0x02014b50, 4), number(0x0314, 2), number(20, 2), number(flags, 2), ...facts, number(raw.length, 2), number(extra.length, 2), number(0, 2), number(disk, 2), number(0, 2), number(mode * 65536, 4), number(start, 4), raw, extra));
  }
  const list = joined(...directory);
  const total = count ?? entries.length;
  const end = joined(number(0x06054b50, 4), number(0, 4), number(total, 2), number(total, 2), number(list.length + length, 4), number(body.length + offset, 4), number(comment.length, 2), utf8(comment), utf8(after));
  return joined(body, list, end);
}
export { number };

const BAGIT = 'BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n';
// The files of a bag around `data`: { path: bytes }. `more` replaces or adds files after the manifests were made.
export function bag(data, more = {}) {
  const line = ([path, bytes]) => `${sha256hex(bytes)}  ${path}\n`;
  const files = { 'bag-info.txt': utf8('Bagging-Date: 2026-03-01\n'), 'bagit.txt': utf8(BAGIT), ...data };
  files['manifest-sha256.txt'] = utf8(Object.entries(data).sort().map(line).join(''));
  files['tagmanifest-sha256.txt'] = utf8(['bag-info.txt', 'bagit.txt', 'manifest-sha256.txt'].map((path) => line([path, files[path]])).join(''));
  for (const [path, bytes] of Object.entries(more)) {
    if (bytes === null) delete files[path];
    else files[path] = bytes;
  }
  return files;
}
export const fileList = (files) => Object.entries(files).map(([path, bytes]) => ({ path, length: bytes.length, read: async () => bytes }));
export const zipOf = (files, top = 'reed') => zip(Object.entries(files).sort().map(([path, bytes]) => ({ name: `${top}/${path}`, bytes })));
export const recordPath = (made) => `data/records/${String(made.sequence).padStart(2, '0')}-${made.purpose}.json`;
// The data of a package with these records and nothing else.
export const dataOf = (records, more = {}) => ({ ...Object.fromEntries(records.map((made) => [recordPath(made), sealed(made)])), ...more });
