// The CMS structure and the certificate in a report (report-format.md, "The signature", "The certificate").

import { hexOf, joined, reasonOf, refuse, sameBytes, textOf } from './text.js';
import { children, contents, derAt, expect, integer, octets, oid, readDer, sequence, setOf, whole } from './der.js';
import { algorithm, extension, keyUsageBit, OID, rawSignature, readCertificate } from './x509.js';
import { didOfPoint, isLowS, sha256, verifyP256 } from './key.js';

const ID_DATA = '1.2.840.113549.1.7.1';
const ID_SIGNED_DATA = '1.2.840.113549.1.7.2';
const ATTRIBUTES = {
  contentType: '1.2.840.113549.1.9.3',
  messageDigest: '1.2.840.113549.1.9.4',
  signingCertificate: '1.2.840.113549.1.9.16.2.47',
};
const TOKEN_ATTRIBUTE = '1.2.840.113549.1.9.16.2.14';

// How many of the bytes the structure is, by its first bytes.
export function structureLength(bytes) {
  if (bytes[0] === 0x30 && bytes[1] === 0x82) return 4 + bytes[2] * 256 + bytes[3];
  if (bytes[0] === 0x30 && bytes[1] === 0x81) return 3 + bytes[2];
  if (bytes[0] === 0x30 && bytes[1] < 0x80) return 2 + bytes[1];
  return bytes.length;
}

function only(list, count, what) {
  if (list.length !== count) refuse('A7', `${what} has another number of parts`);
  return list;
}

function plain(element, id, what) {
  const found = algorithm(element, what);
  if (found.id !== id || found.parameters !== undefined) refuse('A7', `${what} is another algorithm, or has parameters`);
}

// A7: { digest, certHash, certificate, sid, attributes, signature, token } of the structure. Throws a Refusal.
export function readStructure(bytes) {
  const outer = derAt(bytes, 0);
  if (outer.to !== bytes.length) refuse('A7', 'the structure does not fill its length');
  const [kind, wrapped] = only(sequence(outer, 'ContentInfo'), 2, 'ContentInfo');
  if (oid(kind) !== ID_SIGNED_DATA) refuse('A7', 'no SignedData');
  const inner = only(children(expect(wrapped, 0xa0, 'SignedData')), 1, 'SignedData');
  const [version, digests, content, certificates, signers] = only(sequence(inner[0], 'SignedData'), 5, 'SignedData');
  if (integer(version) !== 1n) refuse('A7', 'another version of SignedData');
  plain(only(setOf(digests, 'digestAlgorithms'), 1, 'digestAlgorithms')[0], OID.sha256, 'digestAlgorithms');
  if (oid(only(sequence(content, 'encapContentInfo'), 1, 'encapContentInfo')[0]) !== ID_DATA) refuse('A7', 'other content than id-data');
  const certificate = only(children(expect(certificates, 0xa0, 'certificates')), 1, 'certificates')[0];
  expect(certificate, 0x30, 'the certificate');
  const signer = sequence(only(setOf(signers, 'signerInfos'), 1, 'signerInfos')[0], 'SignerInfo');
  if (signer.length !== 6 && signer.length !== 7) refuse('A7', 'SignerInfo has another number of parts');
  const [signerVersion, sid, digest, attributes, signatureKind, signature, unsigned] = signer;
  if (integer(signerVersion) !== 1n) refuse('A7', 'another version of SignerInfo');
  const [issuer, serial] = only(sequence(sid, 'sid'), 2, 'sid');
  plain(digest, OID.sha256, 'digestAlgorithm');
  plain(signatureKind, OID.ecdsaSha256, 'signatureAlgorithm');
  return {
    ...readAttributes(expect(attributes, 0xa0, 'signedAttrs')),
    certificate: whole(certificate),
    sid: { issuer: whole(issuer), serial: integer(serial) },
    attributes: whole(attributes),
    signature: octets(signature, 'signature'),
    token: unsigned === undefined ? null : readUnsigned(unsigned),
  };
}

function readAttributes(element) {
  const found = {};
  for (const one of only(children(element), 3, 'signedAttrs')) {
    const [id, values] = only(sequence(one, 'an attribute'), 2, 'an attribute');
    found[oid(id)] = only(setOf(values, 'an attribute'), 1, 'an attribute')[0];
  }
  const type = found[ATTRIBUTES.contentType];
  if (type === undefined || oid(type) !== ID_DATA) refuse('A7', 'contentType is not id-data');
  const digest = octets(found[ATTRIBUTES.messageDigest], 'messageDigest');
  if (digest.length !== 32) refuse('A7', 'messageDigest is not 32 bytes');
  const [list] = only(sequence(found[ATTRIBUTES.signingCertificate], 'signingCertificateV2'), 1, 'signingCertificateV2');
  const [named] = only(sequence(list, 'signingCertificateV2'), 1, 'signingCertificateV2');
  const [hash] = only(sequence(named, 'signingCertificateV2'), 1, 'signingCertificateV2');
  return { digest, certHash: octets(hash, 'certHash') };
}

function readUnsigned(element) {
  const [one] = only(children(expect(element, 0xa1, 'unsignedAttrs')), 1, 'unsignedAttrs');
  const [id, values] = only(sequence(one, 'an attribute'), 2, 'an attribute');
  if (oid(id) !== TOKEN_ATTRIBUTE) refuse('A7', 'an unsigned attribute that is no token');
  return only(setOf(values, 'an attribute'), 1, 'an attribute')[0];
}

// A9: the certificate read, with the compressed point of its key. Throws a Refusal.
export async function checkCertificate(bytes) {
  const certificate = readCertificate(bytes);
  if (certificate.version !== 3) refuse('A9', 'the certificate has another version than 3');
  if (!sameBytes(certificate.issuer, certificate.subject)) refuse('A9', 'issuer and subject differ');
  if (certificate.hasUniqueIds) refuse('A9', 'the certificate has fields that are not known');
  const [name, more] = certificate.subjectParts.flat();
  const isText = name?.value.tag === 0x0c && textOf(contents(name.value)) !== null;
  if (more !== undefined || !isText || name.id !== OID.commonName) refuse('A9', 'the name is not one commonName');
  if (certificate.key.kind !== 'ec' || certificate.key.curve !== OID.p256 || !certificate.key.point) refuse('A9', 'no key on P-256');
  if (certificate.extensions.some(({ isPlain }) => !isPlain)) refuse('A9', 'an extension says in so many words that it is not critical');
  if (extension(certificate, OID.keyUsage) === null || !keyUsageBit(certificate, 0)) refuse('A9', 'the key is not for signatures');
  for (const { id, parameters } of [certificate.innerAlgorithm, certificate.outerAlgorithm]) {
    if (id !== OID.ecdsaSha256 || parameters !== undefined) refuse('A9', 'the certificate is signed by another algorithm');
  }
  const raw = rawSignature(certificate.signature, 32);
  if (raw === null || !(await verifyP256(certificate.key.point, raw, certificate.signed))) refuse('A9', 'the certificate is not signed by its own key');
  return { ...certificate, point: certificate.key.point, did: didOfPoint(certificate.key.point) };
}

// X.690, 11.6: the encodings of a SET OF ascend, byte by byte.
function isSorted(element) {
  const list = children(element).map((one) => hexOf(whole(one)));
  return list.every((one, at) => at === 0 || list[at - 1] <= one);
}

// A10: DER, the certificate named, and the signature by its key. Throws a Refusal.
export async function checkSignature(bytes, structure, certificate) {
  readDer(bytes);
  if (!isSorted(derAt(structure.attributes, 0))) refuse('A10', 'the signed attributes are not in order');
  if (!sameBytes(structure.sid.issuer, certificate.issuer) || structure.sid.serial !== certificate.serial) refuse('A10', 'another certificate is named');
  if (!sameBytes(structure.certHash, await sha256(structure.certificate))) refuse('A10', 'another certificate is named');
  const raw = rawSignature(structure.signature, 32);
  if (raw === null || !isLowS(raw)) refuse('A10', 'the signature is out of range, or has the higher s');
  const message = joined(new Uint8Array([0x31]), structure.attributes.subarray(1));
  if (!(await verifyP256(certificate.point, raw, message))) refuse('A10', 'the signature does not fit');
}

// What a check refuses, as { rule, reason }, or null where it holds. `ground` stands for the rule where it is given.
export async function groundOf(ground, check) {
  try {
    await check();
    return null;
  } catch (problem) {
    const { rule, reason } = reasonOf(problem);
    return { rule: ground ?? rule, reason };
  }
}
