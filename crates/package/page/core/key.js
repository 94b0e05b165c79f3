// SHA-256, keys on P-256 and their spellings (record-format.md, "Proof").
// Source of the curve: SEC 2, secp256r1.

import { base32, bigOf, bytesOfBig, fromBase58, hexOf, base58, joined } from './text.js';

export const P256_ORDER = 0xffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551n;
const FIELD = 0xffffffff00000001000000000000000000000000ffffffffffffffffffffffffn;
const CURVE_B = 0x5ac635d8aa3a93e7b3ebbd55769886bc651d06b0cc53b0f63bce3c3e27d2604bn;
// Keys whose private half is printed in a specification (record-format.md, "Proof"): the key pair of the W3C test vectors for
// ecdsa-jcs-2019, which is that of RFC 6979, A.2.5, too; and two P-256 examples of the did:key method.
const PRINTED = ['zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP', 'zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169', 'zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv'];
// What was worked out for keys already, so that one key is not worked out for every signature. Nothing else is kept.
const IMPORTED = new Map();
const FINGERPRINTS = new Map();
const POINTS = new Map();
const MOST_KEPT = 1000;

function kept(map, id, value) {
  if (map.size >= MOST_KEPT) map.clear();
  map.set(id, value);
  return value;
}

export async function sha256(bytes) {
  return new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
}

export async function sha256Hex(bytes) {
  return hexOf(await sha256(bytes));
}

function power(base, exponent, modulus) {
  let result = 1n;
  for (let left = exponent, square = base; left > 0n; left >>= 1n) {
    if (left & 1n) result = (result * square) % modulus;
    square = (square * square) % modulus;
  }
  return result;
}

// The 65 bytes of the uncompressed point, or null where the 33 bytes are no point of the curve.
export function decompress(point) {
  if (point.length !== 33 || (point[0] !== 2 && point[0] !== 3)) return null;
  const id = hexOf(point);
  return POINTS.has(id) ? POINTS.get(id) : kept(POINTS, id, workOut(point));
}

function workOut(point) {
  const x = bigOf(point.subarray(1));
  if (x >= FIELD) return null;
  const square = (((x * x) % FIELD) * x + (FIELD - 3n) * x + CURVE_B) % FIELD;
  // The field's order is 3 modulo 4, so this power is a root where there is one.
  let y = power(square, (FIELD + 1n) / 4n, FIELD);
  if ((y * y) % FIELD !== square) return null;
  if ((y & 1n) !== BigInt(point[0] & 1)) y = FIELD - y;
  return joined(new Uint8Array([4]), point.subarray(1), bytesOfBig(y % FIELD, 32));
}

// The compressed form of an uncompressed point on the curve, or null.
export function compress(point) {
  if (point.length === 33) return decompress(point) && point;
  if (point.length !== 65 || point[0] !== 4) return null;
  const short = joined(new Uint8Array([2 + (point[64] & 1)]), point.subarray(1, 33));
  const long = decompress(short);
  return long && hexOf(long) === hexOf(point) ? short : null;
}

// The 33 bytes of the compressed point in `did:key:z…`, or null.
export function pointOfDid(did) {
  if (typeof did !== 'string' || !did.startsWith('did:key:z')) return null;
  const raw = fromBase58(did.slice('did:key:z'.length));
  if (raw === null || raw.length !== 35 || raw[0] !== 0x80 || raw[1] !== 0x24) return null;
  const point = raw.slice(2);
  return decompress(point) ? point : null;
}

export function didOfPoint(point) {
  return `did:key:z${base58(joined(new Uint8Array([0x80, 0x24]), point))}`;
}

export function isPrintedKey(did) {
  return PRINTED.includes(did.slice('did:key:'.length));
}

// The first 100 bits of SHA-256 over the point, as four groups of five letters.
export async function fingerprintOfPoint(point) {
  const id = hexOf(point);
  if (!FINGERPRINTS.has(id)) {
    const letters = base32(await sha256(point), 20);
    kept(FINGERPRINTS, id, letters.match(/.{5}/g).join('-'));
  }
  return FINGERPRINTS.get(id);
}

// The fingerprint of a `did:key`, or null where it is no P-256 key.
export async function fingerprintOf(did) {
  const point = pointOfDid(did);
  return point ? fingerprintOfPoint(point) : null;
}

// A fingerprint as people type it, in its one form; null where it is not 20 letters of Base32.
export function plainFingerprint(typed) {
  // Form KC makes full-width letters those of the card. Whatever looks like a hyphen, and what nobody sees, is none of them.
  const letters = typed.normalize('NFKC').toUpperCase().replace(/[\s\p{Pd}\p{Cf}\u2212\u30fc]/gu, '');
  return /^[A-Z2-7]{20}$/.test(letters) ? letters.match(/.{5}/g).join('-') : null;
}

// Whether `signature` (r and s, 32 bytes each) is good for `message` by the key of a compressed point.
export async function verifyP256(point, signature, message) {
  if (signature.length !== 64) return false;
  const r = bigOf(signature.subarray(0, 32));
  const s = bigOf(signature.subarray(32));
  if (r === 0n || s === 0n || r >= P256_ORDER || s >= P256_ORDER) return false;
  const id = hexOf(point);
  if (!IMPORTED.has(id)) {
    const long = decompress(point);
    if (long === null) return false;
    kept(IMPORTED, id, await crypto.subtle.importKey('raw', long, { name: 'ECDSA', namedCurve: 'P-256' }, false, ['verify']));
  }
  return crypto.subtle.verify({ name: 'ECDSA', hash: 'SHA-256' }, IMPORTED.get(id), signature, message);
}

export function isLowS(signature) {
  return bigOf(signature.subarray(32)) <= P256_ORDER / 2n;
}
