// Time evidence made by hand for tests (schemas/package-format.md, "Time evidence"), every part in reach of a change.

import { joined, key, sha, sign, utf8 } from './made.mjs';
import { derSignature, int, octet, oid, seq, set, tlv } from './pdf.mjs';

export const NULL = new Uint8Array([5, 0]);
export const TRUE = new Uint8Array([1, 1, 255]);
export const root = key('authority root');
export const clock = key('authority clock');
export const SHA256 = '2.16.840.1.101.3.4.2.1';
const ECDSA_SHA256 = seq(oid('1.2.840.10045.4.3.2'));
export const namePart = (text, id = '2.5.4.3', tag = 0x0c) => set(seq(oid(id), tlv(tag, utf8(text))));
// A subject of one common name, or of parts.
export const named = (parts) => seq(...(typeof parts === 'string' ? [namePart(parts)] : parts));
export const extension = (id, value, critical = false) => seq(oid(id), critical ? TRUE : [], octet(value));
export const usage = (...purposes) => extension('2.5.29.37', seq(...purposes.map(oid)), true);
export const STAMPING = '1.3.6.1.5.5.7.3.8';
export const caExtensions = [extension('2.5.29.19', seq(TRUE), true), extension('2.5.29.15', tlv(0x03, [1, 0x06]), true)];

// A certificate of `of` by `by`.
export function certificateOf(of, by, { subject = 'Clock House', issuer = 'Clock House Root', serial = 9, from = '20250101000000Z', to = '20400101000000Z', extensions = [usage(STAMPING)], dates = null, kind = ECDSA_SHA256 } = {}) {
  const spki = seq(seq(oid('1.2.840.10045.2.1'), oid('1.2.840.10045.3.1.7')), tlv(0x03, [0], of.long));
  const validity = seq(...(dates ?? [tlv(0x18, utf8(from)), tlv(0x18, utf8(to))]));
  const inner = seq(tlv(0xa0, int(2)), int(serial), kind, named(issuer), validity, named(subject), spki, tlv(0xa3, seq(...extensions)));
  return seq(inner, kind, tlv(0x03, [0], derSignature(sign(by, inner))));
}
export const rootCertificate = (how = {}) => certificateOf(root, root, { subject: 'Clock House Root', extensions: caExtensions, ...how });

// A TimeStampResp over a digest (32 bytes): `change(parts)` may change its parts before they are put together.
export function token(digest, change = () => {}) {
  const parts = {
    time: '20260302080000Z', version: int(1), imprint: seq(seq(oid(SHA256), NULL), octet(digest)), after: [], digestKind: seq(oid(SHA256)), kind: ECDSA_SHA256, certificates: [certificateOf(clock, root)], signing: null, behind: [], info: null, content: null,
    more: [], serial: 9, issuer: 'Clock House Root', status: int(0),
  };
  change(parts);
  const info = parts.info ?? seq(parts.version, oid('1.2.3.4.5'), parts.imprint, int(77), tlv(0x18, utf8(parts.time)), ...parts.after);
  const attribute = (id, ...values) => seq(oid(id), set(...values));
  const attributes = joined(
    attribute('1.2.840.113549.1.9.3', oid('1.2.840.113549.1.9.16.1.4')),
    attribute('1.2.840.113549.1.9.4', octet(sha(info))),
    attribute('1.2.840.113549.1.9.16.2.47', parts.signing ?? seq(seq(seq(octet(sha(parts.certificates[0])))))),
    ...parts.more,
  );
  const signature = derSignature(sign(clock, tlv(0x31, attributes)));
  const signer = seq(int(1), seq(named(parts.issuer), int(parts.serial)), parts.digestKind, tlv(0xa0, attributes), parts.kind, octet(signature), ...parts.behind);
  const data = seq(int(3), set(seq(oid(SHA256))), seq(oid('1.2.840.113549.1.9.16.1.4'), tlv(0xa0, octet(info))), tlv(0xa0, ...parts.certificates), set(signer));
  return seq(seq(parts.status), seq(oid('1.2.840.113549.1.7.2'), tlv(0xa0, data)));
}
export const pemOf = (certificate) => `-----BEGIN CERTIFICATE-----\n${Buffer.from(certificate).toString('base64')}\n-----END CERTIFICATE-----\n`;
