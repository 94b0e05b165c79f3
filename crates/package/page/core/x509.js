// Certificates (RFC 5280) as far as time authorities and the workshop's own certificate need them.

import { bytesOfBig, fromBase64, reasonOf, refuse, Refusal, sameBytes, textOf } from './text.js';
import { bitBytes, boolean, children, contents, expect, integer, octets, oid, pairOf, readDer, sequence, setOf, timeText, whole } from './der.js';
import { compress } from './key.js';

export const OID = {
  sha1: '1.3.14.3.2.26', sha256: '2.16.840.1.101.3.4.2.1', sha384: '2.16.840.1.101.3.4.2.2', sha512: '2.16.840.1.101.3.4.2.3',
  rsa: '1.2.840.113549.1.1.1', rsaSha256: '1.2.840.113549.1.1.11', rsaSha384: '1.2.840.113549.1.1.12', rsaSha512: '1.2.840.113549.1.1.13',
  ecdsaSha256: '1.2.840.10045.4.3.2', ecdsaSha384: '1.2.840.10045.4.3.3', ecKey: '1.2.840.10045.2.1',
  p256: '1.2.840.10045.3.1.7', p384: '1.3.132.0.34', commonName: '2.5.4.3',
  keyUsage: '2.5.29.15', basicConstraints: '2.5.29.19', extendedKeyUsage: '2.5.29.37', certificatePolicies: '2.5.29.32', subjectKey: '2.5.29.14',
  timeStamping: '1.3.6.1.5.5.7.3.8', anyUsage: '2.5.29.37.0',
};
export const DIGEST_NAMES = { [OID.sha1]: 'SHA-1', [OID.sha256]: 'SHA-256', [OID.sha384]: 'SHA-384', [OID.sha512]: 'SHA-512' };
const RSA_HASH = { [OID.rsaSha256]: 'SHA-256', [OID.rsaSha384]: 'SHA-384', [OID.rsaSha512]: 'SHA-512' };
const ECDSA_HASH = { [OID.ecdsaSha256]: 'SHA-256', [OID.ecdsaSha384]: 'SHA-384' };
// 20 bytes (RFC 5280, 4.1.2.2, from memory), and a zero before them.
const LONGEST_SERIAL = 21;
const EARLIEST_VALIDITY = '1970-01-01T00:00:00Z';
const CURVES = { [OID.p256]: ['P-256', 32], [OID.p384]: ['P-384', 48] };

// { id, parameters }: the identifier, and the element of its parameters or undefined.
export function algorithm(element, what) {
  const [id, parameters, more] = sequence(element, what);
  if (more !== undefined) refuse('der_form', `${what} has another form`);
  return { id: oid(id, what), parameters };
}

// Whether an algorithm has none, or NULL, for parameters.
export function isBare({ parameters }) {
  return parameters === undefined || (parameters.tag === 0x05 && contents(parameters).length === 0);
}

// Whether an algorithm of a signature has the parameters that it wants: RSA none or NULL, ECDSA none.
export function isWellFormed(kind) {
  return ECDSA_HASH[kind.id] === undefined ? isBare(kind) : kind.parameters === undefined;
}

// The digest that an algorithm of a signature names, or null.
export function digestIn(id) {
  return RSA_HASH[id] ?? ECDSA_HASH[id] ?? null;
}

function publicKey(element) {
  const [kind, bits, more] = sequence(element, 'the key of a certificate');
  if (more !== undefined) refuse('der_form', 'the key of a certificate has another form');
  const { id, parameters } = algorithm(kind, 'the kind of a key');
  const raw = bitBytes(bits, 'a key');
  if (id === OID.ecKey) {
    const curve = parameters?.tag === 0x06 ? oid(parameters) : null;
    return { kind: 'ec', curve, point: curve === OID.p256 ? compress(raw) : null, raw, spki: whole(element) };
  }
  if (id === OID.rsa) return { kind: 'rsa', bits: integer(sequence(readDer(raw), 'an RSA key')[0], 'a modulus').toString(2).length, spki: whole(element) };
  return { kind: 'other', spki: whole(element) };
}

// The one element inside a wrapping one.
export function wrappedIn(element, what) {
  const inside = children(element);
  if (inside.length !== 1) refuse('der_form', `${what} has another form`);
  return inside[0];
}

// Extensions of a certificate or a token: [{ id, critical, isPlain, octets }]. What is in them is read where it is asked for.
// `isPlain`: "critical" is left out where it is false.
export function extensionsIn(element) {
  return sequence(element, 'the extensions').map((one) => {
    const parts = sequence(one, 'an extension');
    if (parts.length !== 2 && parts.length !== 3) refuse('der_form', 'an extension has another form');
    const critical = parts.length === 3 && boolean(parts[1]);
    return { id: oid(parts[0]), critical, isPlain: parts.length === 2 || critical, octets: octets(parts.at(-1), 'an extension') };
  });
}

// A name: its parts, each a list of { id, value }, a value as element.
function partsOfName(element, what) {
  return sequence(element, what).map((part) => {
    const pairs = setOf(part, what).map((pair) => {
      const [id, value] = pairOf(pair, what);
      return { id: oid(id, what), value };
    });
    if (pairs.length === 0) refuse('der_form', `${what} has an empty part`);
    return pairs;
  });
}

// Reads a certificate: its parts as elements and values. Its dates may be no dates. Throws a Refusal.
export function readCertificate(bytes) {
  const outer = sequence(readDer(bytes), 'a certificate');
  if (outer.length !== 3) refuse('der_form', 'a certificate has another form');
  const fields = sequence(outer[0], 'a certificate');
  const version = fields[0]?.tag === 0xa0 ? Number(integer(wrappedIn(fields.shift(), 'the version'), 'the version')) + 1 : 1;
  if (version < 1 || version > 3) refuse('der_form', 'a certificate of no known version');
  const [serial, inner, issuer, validity, subject, key, ...rest] = fields;
  const number = integer(serial, 'a serial number');
  if (contents(serial).length > LONGEST_SERIAL) refuse('der_form', `a serial number of more than ${LONGEST_SERIAL} bytes`);
  partsOfName(issuer, 'the issuer');
  const uniqueIds = [0x81, 0x82].filter((tag) => (rest[0]?.tag === tag ? rest.shift() : null) !== null);
  const extensions = rest[0]?.tag === 0xa3 ? extensionsIn(wrappedIn(rest.shift(), 'the extensions')) : null;
  if (rest.length > 0) refuse('der_form', 'a certificate has fields that are not known');
  return {
    bytes,
    version,
    serial: number,
    issuer: whole(issuer),
    subject: whole(expect(subject, 0x30, 'the subject')),
    subjectParts: partsOfName(subject, 'the subject'),
    validity: pairOf(validity, 'the validity of a certificate'),
    key: publicKey(key),
    hasUniqueIds: uniqueIds.length > 0,
    extensions: extensions ?? [],
    innerAlgorithm: algorithm(inner, 'the algorithm of a certificate'),
    outerAlgorithm: algorithm(outer[1], 'the algorithm of a certificate'),
    innerAlgorithmBytes: whole(inner),
    outerAlgorithmBytes: whole(outer[1]),
    signed: whole(outer[0]),
    signature: bitBytes(outer[2], 'the signature of a certificate'),
  };
}

// A certificate whose validity is two times: readCertificate's parts with `from` and `to`. Throws a Refusal.
export function readDatedCertificate(bytes) {
  const certificate = readCertificate(bytes);
  const [from, to] = certificate.validity.map((element) => timeText(element, 'the validity of a certificate'));
  if (from.fraction + to.fraction !== '') refuse('der_form', 'the validity of a certificate has fractions of a second');
  if (from.text < EARLIEST_VALIDITY || to.text < EARLIEST_VALIDITY) refuse('der_form', 'the validity of a certificate is from before 1970');
  return { ...certificate, from: from.text, to: to.text };
}

// r and s of a DER signature side by side, or null where one is not above zero or too long.
export function rawSignature(der, size) {
  const [r, s, more] = sequence(readDer(der), 'a signature').map((part) => integer(part, 'a part of a signature'));
  if (more !== undefined || r === undefined || s === undefined) refuse('der_form', 'a signature has another form');
  const limit = 1n << BigInt(8 * size);
  if (r <= 0n || s <= 0n || r >= limit || s >= limit) return null;
  return new Uint8Array([...bytesOfBig(r, size), ...bytesOfBig(s, size)]);
}

// Whether a signature by the key of a certificate holds. `digest`: the hash where the algorithm does not name it.
export async function verifyWith(key, algorithmId, digest, signature, message) {
  try {
    if (key.kind === 'rsa') {
      const hash = algorithmId === OID.rsa ? digest : RSA_HASH[algorithmId];
      if (hash === undefined || hash === 'SHA-1' || key.bits < 2048) return false;
      const imported = await crypto.subtle.importKey('spki', key.spki, { name: 'RSASSA-PKCS1-v1_5', hash }, false, ['verify']);
      return await crypto.subtle.verify('RSASSA-PKCS1-v1_5', imported, signature, message);
    }
    if (key.kind !== 'ec' || CURVES[key.curve] === undefined || ECDSA_HASH[algorithmId] === undefined) return false;
    const [namedCurve, size] = CURVES[key.curve];
    const raw = rawSignature(signature, size);
    if (raw === null) return false;
    const imported = await crypto.subtle.importKey('spki', key.spki, { name: 'ECDSA', namedCurve }, false, ['verify']);
    return await crypto.subtle.verify({ name: 'ECDSA', hash: ECDSA_HASH[algorithmId] }, imported, raw, message);
  } catch (problem) {
    // WebCrypto throws on keys that are none.
    if (problem instanceof Refusal || problem instanceof DOMException || problem?.name === 'DataError') return false;
    throw problem;
  }
}

export function extension(certificate, id) {
  const found = certificate.extensions.filter((one) => one.id === id);
  if (found.length > 1) refuse('der_form', 'an extension stands twice');
  return found[0] ?? null;
}

// Whether bit `bit` of the key usage is set; null where the extension is not there.
export function keyUsageBit(certificate, bit) {
  const found = extension(certificate, OID.keyUsage);
  if (found === null) return null;
  const raw = contents(expect(readDer(found.octets), 0x03, 'the key usage'));
  // The first byte counts the bits left over in the last.
  if (raw.length === 0 || raw[0] > 7 || (raw.length === 1 && raw[0] !== 0)) refuse('der_form', 'the key usage has another form');
  if (8 * (raw.length - 1) - raw[0] > 16) refuse('der_form', 'the key usage has more than 16 bits');
  return raw.length > 1 + (bit >> 3) && ((raw[1 + (bit >> 3)] >> (7 - (bit & 7))) & 1) === 1;
}

// The text of a UTF8String or PrintableString, or null.
function textIn(value) {
  return value.tag === 0x0c || value.tag === 0x13 ? textOf(contents(value)) : null;
}

// What an authority calls itself: its last common name, without one the last text of its subject.
export function nameOfSubject({ subjectParts }) {
  const texts = subjectParts.flat().map(({ id, value }) => ({ id, text: textIn(value) })).filter(({ text }) => text !== null);
  return (texts.filter(({ id }) => id === OID.commonName).at(-1) ?? texts.at(-1))?.text ?? 'unnamed';
}

// Certificates of PEM text; what is none is left out.
export function certificatesOfPem(text) {
  const list = [];
  for (const [, body] of text.matchAll(/-----BEGIN CERTIFICATE-----([A-Za-z0-9+/=\s]*)-----END CERTIFICATE-----/g)) {
    const bytes = fromBase64(body.replace(/\s/g, ''));
    try {
      if (bytes !== null) list.push(readDatedCertificate(bytes));
    } catch (problem) {
      reasonOf(problem);
    }
  }
  return list;
}

export function sameCertificate(one, other) {
  return sameBytes(one.bytes, other.bytes);
}
