// Time evidence, RFC 3161 (package-format.md, "Time evidence").

import { fromHex, hexOf, joined, reasonOf, refuse, sameBytes } from './text.js';
import { boolean, children, contents, expect, integer, octets, oid, outerDer, pairOf, readDer, sequence, setOf, timeText, whole } from './der.js';
import { algorithm, certificatesOfPem, nameOfSubject, digestIn, DIGEST_NAMES, extension, extensionsIn, isBare, isWellFormed, keyUsageBit, OID, readDatedCertificate, sameCertificate, verifyWith, wrappedIn } from './x509.js';
import { didOfPoint } from './key.js';

const SIGNED_DATA = '1.2.840.113549.1.7.2';
const TST_INFO = '1.2.840.113549.1.9.16.1.4';
const CONTENT_TYPE = '1.2.840.113549.1.9.3';
const MESSAGE_DIGEST = '1.2.840.113549.1.9.4';
const SIGNING_CERTIFICATE = '1.2.840.113549.1.9.16.2.12';
const SIGNING_CERTIFICATE_V2 = '1.2.840.113549.1.9.16.2.47';
const MOST_BYTES = 64 * 1024;
const MOST_CERTIFICATES = 16;
const LONGEST_CHAIN = 8;
const KNOWN_EXTENSIONS = [OID.keyUsage, OID.basicConstraints, OID.extendedKeyUsage, OID.certificatePolicies];
const KEY_CERT_SIGN = 5;
const LATEST = Date.UTC(9999, 11, 31, 23, 59, 59);
const MOST_SECONDS = 1000000000000n;

async function hashed(name, bytes) {
  return new Uint8Array(await crypto.subtle.digest(name, bytes));
}

// Certificates that the reader gave, from PEM texts.
export async function readAuthorities(texts) {
  return texts.flatMap(certificatesOfPem);
}

// A TimeStampResp over the digest `nameHex`: { time, authority, who, serial, policy }. Throws a Refusal.
// `given`: certificates of the reader; `workshop`: a Set of did:key.
export async function judgeToken(bytes, nameHex, given, workshop) {
  if (bytes.length > MOST_BYTES) refuse('token_length', `${bytes.length} bytes, more than ${MOST_BYTES}`);
  const parts = sequence(outerDer(bytes), 'the response');
  const [status, ...words] = sequence(parts[0], 'the status');
  const number = integer(status, 'the status');
  if (number !== 0n && number !== 1n) refuse('token_status', 'the authority did not grant it');
  for (const tag of [0x30, 0x03]) if (words[0]?.tag === tag) words.shift();
  if (words.length > 0) refuse('token_form', 'the status has another form');
  if (parts.length !== 2) refuse('token_form', 'the response has no token');
  return judgeBareToken(parts[1], fromHex(nameHex), given, workshop);
}

// The token itself (an element), as in a response or in the signature of a report.
export async function judgeBareToken(element, imprint, given, workshop) {
  const data = signedData(element);
  const info = readInfo(data.content);
  if (info.digest !== 'SHA-256' || !sameBytes(info.imprint, imprint)) refuse('token_imprint', 'the token is over another digest');
  const signer = await checkSigner(data, info);
  const authority = await authorityOf(signer, data.certificates, given, info.at, workshop);
  return { time: info.time, authority, who: nameOfSubject(signer), policy: info.policy, serial: info.serial.toString(16) };
}

function signedData(element) {
  const [kind, wrapped] = pairOf(element, 'the token');
  if (oid(kind) !== SIGNED_DATA) refuse('token_form', 'the token is no SignedData');
  const fields = sequence(wrappedIn(expect(wrapped, 0xa0, 'the token'), 'the token'), 'the token');
  integer(fields.shift(), 'the version');
  setOf(fields.shift(), 'the digest algorithms');
  const [type, inner] = pairOf(fields.shift(), 'the content');
  if (oid(type) !== TST_INFO) refuse('token_form', 'the content is no TSTInfo');
  const content = octets(wrappedIn(expect(inner, 0xa0, 'the content'), 'the content'), 'the content');
  const held = fields[0]?.tag === 0xa0 ? children(fields.shift()) : [];
  if (held.length > MOST_CERTIFICATES) refuse('token_certificates', `more than ${MOST_CERTIFICATES} certificates`);
  if (fields[0]?.tag === 0xa1) fields.shift();
  const signers = setOf(fields.shift(), 'the signers');
  if (signers.length !== 1 || fields.length > 0) refuse('token_signers', 'not exactly one signer');
  return { content, certificates: held.flatMap(readableCertificate), signer: signers[0] };
}

// A member of the certificate set, or none where it cannot be read: the set is signed by nobody.
function readableCertificate(element) {
  try {
    return [readDatedCertificate(whole(element))];
  } catch (problem) {
    reasonOf(problem);
    return [];
  }
}

// The name of an accepted digest by its algorithm.
function digestName(kind) {
  const name = DIGEST_NAMES[kind.id];
  if (name === undefined || !isBare(kind)) refuse('token_algorithm', 'a digest that is not accepted, or with parameters');
  return name;
}

// What genTime's fraction and its accuracy (RFC 3161, 2.4.2, from memory) come to, rounded up to whole seconds: it was there
// not later than so many seconds after the whole second of genTime.
export function upperSeconds(fraction, accuracy) {
  const [seconds, millis, micros] = [0x02, 0x80, 0x81].map((tag) => {
    const part = accuracy[0]?.tag === tag ? accuracy.shift() : null;
    if (part === null) return 0n;
    const value = integer({ ...part, tag: 0x02 }, 'the accuracy');
    if (value < (tag === 0x02 ? 0n : 1n) || value > (tag === 0x02 ? MOST_SECONDS : 999n)) refuse('token_form', 'an accuracy that is none');
    return value;
  });
  if (accuracy.length > 0) refuse('token_form', 'an accuracy of another form');
  const part = BigInt(fraction.slice(0, 6).padEnd(6, '0')) + (fraction.length > 6 ? 1n : 0n);
  const all = seconds * 1000000n + millis * 1000n + micros + part;
  return Number((all + 999999n) / 1000000n);
}

function readInfo(bytes) {
  const [version, policy, stamped, serial, genTime, ...more] = sequence(readDer(bytes), 'TSTInfo');
  if (integer(version, 'the version') !== 1n) refuse('token_form', 'another version of TSTInfo');
  const [kind, imprint] = pairOf(stamped, 'the imprint');
  const at = timeText(expect(genTime, 0x18, 'genTime'), 'genTime');
  // What may follow, each once and in this order: accuracy, ordering, nonce, tsa, extensions.
  const [accuracy, ordering, nonce, , extensions] = [0x30, 0x01, 0x02, 0xa0, 0xa1].map((tag) => (more[0]?.tag === tag ? more.shift() : null));
  if (more.length > 0) refuse('token_form', 'something stands behind the last field of TSTInfo');
  if (ordering) boolean(ordering);
  if (nonce) integer(nonce);
  if (extensions && extensionsIn({ ...extensions, tag: 0x30 }).some(({ critical }) => critical)) refuse('token_form', 'TSTInfo has an extension that counts');
  const upper = Date.parse(at.text) + 1000 * upperSeconds(at.fraction, accuracy ? children(accuracy) : []);
  if (upper > LATEST) refuse('token_form', 'genTime with its accuracy is after the year 9999');
  const time = new Date(upper).toISOString().replace('.000Z', 'Z');
  return {
    policy: oid(policy, 'the policy'), digest: digestName(algorithm(kind, 'the imprint')), imprint: octets(imprint, 'the imprint'),
    serial: integer(serial, 'the serial number'), at, time,
  };
}

// The one value of a signed attribute that stands once.
function attribute(attributes, id) {
  const found = attributes.filter((one) => one.id === id);
  if (found.length !== 1 || found[0].values.length !== 1) refuse('token_attributes', 'a signed attribute is missing or stands twice');
  return found[0].values[0];
}

// Checks the signature and gives the signer's certificate.
async function checkSigner(data, info) {
  const fields = sequence(data.signer, 'the signer');
  integer(fields.shift(), 'the version');
  const named = fields.shift();
  const digest = digestName(algorithm(fields.shift(), 'the digest'));
  if (digest === 'SHA-1') refuse('token_algorithm', 'a digest that is not accepted');
  const signedSet = expect(fields.shift(), 0xa0, 'the signed attributes');
  const attributes = children(signedSet).map((one) => {
    const [id, values] = pairOf(one, 'an attribute');
    return { id: oid(id), values: setOf(values, 'an attribute') };
  });
  const kind = algorithm(fields.shift(), 'the signature algorithm');
  if (!isWellFormed(kind) || (digestIn(kind.id) ?? digest) !== digest) refuse('token_algorithm', 'an algorithm of the signature with parameters, or another digest');
  const signature = octets(fields.shift(), 'the signature');
  if (fields.length > 0 && (fields.length > 1 || fields[0].tag !== 0xa1)) refuse('token_form', 'something stands behind the signature');
  if (oid(attribute(attributes, CONTENT_TYPE)) !== TST_INFO) refuse('token_attributes', 'another content type');
  const stated = octets(attribute(attributes, MESSAGE_DIGEST), 'the message digest');
  if (!sameBytes(stated, await hashed(digest, data.content))) refuse('token_digest', 'the content was changed');
  const signer = data.certificates.find((one) => isNamed(one, named));
  if (signer === undefined) refuse('token_certificate', 'the certificate of the signer is not in the token');
  await checkSigningCertificate(attributes, signer);
  // What is signed are the attributes with the tag of a SET.
  const message = joined(new Uint8Array([0x31]), whole(signedSet).subarray(1));
  if (!(await verifyWith(signer.key, kind.id, digest, signature, message))) refuse('token_signature', 'the signature does not fit');
  const usage = extension(signer, OID.extendedKeyUsage);
  if (usage === null || !usage.critical || purposesIn(usage).join() !== OID.timeStamping) refuse('token_usage', 'the certificate is not for time stamping alone');
  if (!validAt(signer, info.at)) refuse('token_validity', 'the certificate was not valid at genTime');
  return signer;
}

// What the key is for, by an extended key usage.
function purposesIn(usage) {
  return sequence(readDer(usage.octets), 'the extended key usage').map((one) => oid(one));
}

function isNamed(certificate, named) {
  if (named?.tag === 0x80) {
    return isSafely(() => {
      const found = extension(certificate, OID.subjectKey);
      return found !== null && sameBytes(octets(readDer(found.octets), 'a key identifier'), contents(named));
    });
  }
  const [issuer, serial] = pairOf(named, 'the signer');
  return sameBytes(whole(issuer), certificate.issuer) && integer(serial) === certificate.serial;
}

async function checkSigningCertificate(attributes, signer) {
  const isV2 = attributes.some(({ id }) => id === SIGNING_CERTIFICATE_V2);
  const isV1 = attributes.some(({ id }) => id === SIGNING_CERTIFICATE);
  if (!isV1 && !isV2) refuse('token_attributes', 'no signing certificate is named');
  for (const [there, id] of [[isV2, SIGNING_CERTIFICATE_V2], [isV1, SIGNING_CERTIFICATE]]) {
    if (!there) continue;
    const [list] = sequence(attribute(attributes, id), 'the signing certificate');
    const fields = sequence(sequence(list, 'the signing certificate')[0], 'the signing certificate');
    const isNamedHash = id === SIGNING_CERTIFICATE_V2 && fields[0]?.tag === 0x30;
    const hash = isNamedHash ? digestName(algorithm(fields.shift(), 'a digest')) : id === SIGNING_CERTIFICATE ? 'SHA-1' : 'SHA-256';
    if (isNamedHash && hash === 'SHA-1') refuse('token_algorithm', 'a digest that is not accepted');
    if (!sameBytes(octets(fields[0], 'the signing certificate'), await hashed(hash, signer.bytes))) {
      refuse('token_certificate', 'the signing certificate named is another one');
    }
  }
}

// `time` is { text, fraction }: a part of a second after the last moment of a certificate is after it.
function validAt(certificate, { text, fraction }) {
  return certificate.from <= text && (fraction === '' ? text <= certificate.to : text < certificate.to);
}

// Whether `issuer` may have issued certificates below it: `below` of them stand between it and the signer.
function mayIssue(issuer, below) {
  const constraints = extension(issuer, OID.basicConstraints);
  if (constraints === null) return false;
  const [isCa, longest, more] = sequence(readDer(constraints.octets), 'the basic constraints');
  if (more !== undefined || isCa?.tag !== 0x01 || !boolean(isCa)) return false;
  if (longest !== undefined && integer(longest) < BigInt(below)) return false;
  const usage = extension(issuer, OID.extendedKeyUsage);
  if (usage !== null && !purposesIn(usage).some((purpose) => purpose === OID.timeStamping || purpose === OID.anyUsage)) return false;
  return keyUsageBit(issuer, KEY_CERT_SIGN) !== false;
}

function isSoundAt(certificate, time) {
  return validAt(certificate, time) && certificate.extensions.every(({ id, critical }) => !critical || KNOWN_EXTENSIONS.includes(id));
}

async function issuedBy(certificate, issuer) {
  if (!sameBytes(certificate.issuer, issuer.subject)) return false;
  if (hexOf(certificate.innerAlgorithmBytes) !== hexOf(certificate.outerAlgorithmBytes)) return false;
  return isWellFormed(certificate.outerAlgorithm) && verifyWith(issuer.key, certificate.outerAlgorithm.id, undefined, certificate.signature, certificate.signed);
}

// `workshop`, `trusted` or `unknown`, tried in this order.
async function authorityOf(signer, held, given, time, workshop) {
  const pool = [...held, ...given].filter((one, at, all) => all.findIndex((other) => sameCertificate(one, other)) === at);
  const met = new Set([signer]);
  let trusted = false;
  // Certificates at the end of a chain of one length, and whether all in it are sound: no chain is followed twice.
  let ends = new Map([[signer, true]]);
  for (let length = 1; ends.size > 0; length += 1) {
    const next = new Map();
    for (const [last, sound] of ends) {
      const soundHere = sound && isSafely(() => isSoundAt(last, time));
      if (soundHere && given.some((one) => sameCertificate(one, last))) trusted = true;
      if (length === LONGEST_CHAIN) continue;
      for (const issuer of pool) {
        if (!(await issuedBy(last, issuer))) continue;
        met.add(issuer);
        next.set(issuer, next.get(issuer) || (soundHere && isSafely(() => mayIssue(issuer, length - 1))));
      }
    }
    ends = next;
  }
  if ([...met].some(({ key }) => key.point && workshop.has(didOfPoint(key.point)))) return 'workshop';
  return trusted ? 'trusted' : 'unknown';
}

// A certificate with extensions that cannot be read is not sound.
function isSafely(check) {
  try {
    return check();
  } catch (problem) {
    reasonOf(problem);
    return false;
  }
}
