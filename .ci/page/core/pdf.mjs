// A report made by hand for tests (schemas/report-format.md): small, without pictures, with every part in reach of a change.

import { deflateSync } from 'node:zlib';
import { big, hex, joined, sha, sign, utf8 } from './made.mjs';

// DER ------------------------------------------------------------------------
export function tlv(tag, ...parts) {
  const body = joined(...parts);
  const length = body.length < 128 ? [body.length] : body.length < 256 ? [0x81, body.length] : [0x82, body.length >> 8, body.length & 255];
  return joined([tag, ...length], body);
}
export const seq = (...parts) => tlv(0x30, ...parts);
export const set = (...parts) => tlv(0x31, ...parts);
export const octet = (bytes) => tlv(0x04, bytes);
export const oid = (text) => {
  const arcs = text.split('.').map(BigInt);
  const bytes = [];
  for (let value of [arcs[0] * 40n + arcs[1], ...arcs.slice(2)]) {
    const group = [Number(value & 127n)];
    for (value >>= 7n; value > 0n; value >>= 7n) group.unshift(Number(value & 127n) | 128);
    bytes.push(...group);
  }
  return tlv(0x06, bytes);
};
export function int(value) {
  let digits = BigInt(value).toString(16);
  if (digits.length % 2) digits = `0${digits}`;
  const bytes = Buffer.from(digits, 'hex');
  return tlv(0x02, bytes[0] >= 128 ? [0] : [], bytes);
}
export const derSignature = (raw) => seq(int(big(raw.slice(0, 32))), int(big(raw.slice(32))));
const SHA256 = '2.16.840.1.101.3.4.2.1';
const ECDSA = seq(oid('1.2.840.10045.4.3.2'));

const DATES = [tlv(0x17, utf8('260101000000Z')), tlv(0x17, utf8('490101000000Z'))];
// `pair`: what stands in the names; `more`: fields before the extensions; `others`: extensions besides the key usage.
export function certificate(by, { name = 'Workshop', usage = [0x07, 0x80], signer = by, subject = name, version = 2, serial = int(7), dates = DATES, pair = null, more = [], others = [] } = {}) {
  const named = (text) => seq(set(seq(...(pair ?? [oid('2.5.4.3'), tlv(0x0c, utf8(text))]))));
  const spki = seq(seq(oid('1.2.840.10045.2.1'), oid('1.2.840.10045.3.1.7')), tlv(0x03, [0], by.long));
  const extension = usage ? tlv(0xa3, seq(seq(oid('2.5.29.15'), tlv(0x01, [255]), octet(tlv(0x03, usage))), ...others)) : [];
  const inner = seq(version === null ? [] : tlv(0xa0, int(version)), serial, ECDSA, named(name), seq(...dates), named(subject), spki, ...more, extension);
  return seq(inner, ECDSA, tlv(0x03, [0], derSignature(sign(signer, inner))));
}

// The CMS structure over a digest. `change` may change its parts before they are put together.
export function structure(by, digest, change = () => {}) {
  const parts = { certificate: certificate(by), digest, high: false, by, extraAttribute: [], version: 1, unsigned: [], order: (list) => list, named: null, sid: null, content: seq(oid('1.2.840.113549.1.7.1')), kind: ECDSA };
  change(parts);
  const attribute = (id, value) => seq(oid(id), set(value));
  const attributes = joined(
    ...parts.order([
      attribute('1.2.840.113549.1.9.3', oid('1.2.840.113549.1.7.1')),
      attribute('1.2.840.113549.1.9.4', octet(parts.digest)),
      attribute('1.2.840.113549.1.9.16.2.47', seq(seq(seq(octet(sha(parts.named ?? parts.certificate)))))),
    ]),
    parts.extraAttribute,
  );
  const issuer = seq(set(seq(oid('2.5.4.3'), tlv(0x0c, utf8('Workshop')))));
  const signature = sign(parts.by, tlv(0x31, attributes), parts.high);
  const unsigned = typeof parts.unsigned === 'function' ? parts.unsigned(derSignature(signature)) : parts.unsigned;
  const signer = seq(int(1), parts.sid ?? seq(issuer, int(parts.serial ?? 7)), seq(oid(SHA256)), tlv(0xa0, attributes), parts.kind, octet(derSignature(signature)), unsigned);
  const data = seq(int(parts.version), set(seq(oid(SHA256))), parts.content, tlv(0xa0, parts.certificate), set(signer));
  return seq(oid('1.2.840.113549.1.7.2'), tlv(0xa0, data));
}

// PDF --------------------------------------------------------------------------
const DIGITS = 16384;

// Objects of a report as text (or { text, stream }). `record` is the bytes of record.json.
function objects(record, more, at) {
  const files = [['record.json', record, 'Source'], ...Object.entries(more).map(([name, bytes]) => [name, bytes, 'Supplement'])];
  const sorted = [...files].sort(([one], [two]) => (one < two ? -1 : 1));
  const number = (name) => 20 + 2 * files.findIndex(([other]) => other === name);
  const list = {
    1: `<< /Type /Catalog /Pages 2 0 R /AcroForm 5 0 R /Perms << /DocMDP 7 0 R >> /Names << /EmbeddedFiles << /Names [${sorted.map(([name]) => `(${name}) ${number(name)} 0 R`).join(' ')}] >> >> /AF [${files.map(([name]) => `${number(name)} 0 R`).join(' ')}] /Lang (en) >>`,
    2: '<< /Type /Pages /Kids [3 0 R] /Count 1 >>',
    3: '<< /Type /Page /Parent 2 0 R /MediaBox [0 0 100 100] /Contents 4 0 R /Annots [6 0 R] >>',
    4: { dict: '', stream: utf8('BT ET') },
    5: '<< /Fields [6 0 R] /SigFlags 3 >>',
    6: '<< /Type /Annot /Subtype /Widget /FT /Sig /T (seal) /Rect [0 0 0 0] /P 3 0 R /F 132 /V 7 0 R >>',
    7: `<< /Type /Sig /Filter /Adobe.PPKLite /SubFilter /ETSI.CAdES.detached /M (D:${at.replace(/[-:T]/g, '')}) /Reference [<< /Type /SigRef /TransformMethod /DocMDP /TransformParams << /Type /TransformParams /P 1 /V /1.2 >> >>] /ByteRange [0 0000000000 0000000000 0000000000] /Contents <${'0'.repeat(DIGITS)}> >>`,
  };
  for (const [name, bytes, relation] of files) {
    list[number(name)] = `<< /Type /Filespec /F (${name}) /UF (${name}) /AFRelationship /${relation} /EF << /F ${number(name) + 1} 0 R >> >>`;
    list[number(name) + 1] = { dict: '/Type /EmbeddedFile /Filter /FlateDecode', stream: new Uint8Array(deflateSync(bytes)) };
  }
  return list;
}

function assemble(list, trailer, header, wrap) {
  let bytes = new Uint8Array(Buffer.from(header, 'latin1'));
  const places = {};
  for (const [number, value] of Object.entries(list)) {
    places[number] = bytes.length;
    const body = typeof value === 'string' ? utf8(value) : joined(utf8(`<< ${value.dict} /Length ${value.length ?? value.stream.length} >>\nstream\n`), value.stream, utf8('\nendstream'));
    bytes = joined(bytes, wrap(Number(number), joined(utf8(`${number} 0 obj\n`), body, utf8('\nendobj\n'))));
  }
  const numbers = Object.keys(places).map(Number);
  const entry = (place) => `${String(place).padStart(10, '0')} 00000 n \n`;
  const sections = numbers.map((number) => `${number} 1\n${entry(places[number])}`).join('');
  const end = `xref\n0 1\n0000000000 65535 f \n${sections}trailer\n<< /Size ${Math.max(...numbers) + 1} /Root 1 0 R ${trailer} >>\nstartxref\n${bytes.length}\n%%EOF\n`;
  return joined(bytes, utf8(end));
}

// Puts range and signature into a PDF with their gaps. `range`: other numbers; `contents`: other digits.
export function signed(pdf, by, { cms = () => {}, range = (numbers) => numbers, digits = (text) => text } = {}) {
  const text = Buffer.from(pdf).toString('latin1');
  const from = text.indexOf('/Contents <') + '/Contents '.length;
  const to = text.indexOf('>', from) + 1;
  const place = text.indexOf('[0 0000000000 0000000000 0000000000]');
  const bytes = Buffer.from(pdf);
  const numbers = range([from, to, bytes.length - to]);
  if (place >= 0) bytes.write(`[0 ${numbers.map((number) => String(number).padStart(10, '0')).join(' ')}]`, place, 'latin1');
  const digest = sha(bytes.subarray(0, from), bytes.subarray(to));
  const made = hex(structure(by, digest, cms)).padEnd(DIGITS, '0');
  bytes.write(digits(made), from + 1, 'latin1');
  return new Uint8Array(bytes);
}

// A whole report. `change(list)` may change objects before they are signed; `wrap(number, bytes)`
// an object as it is written, `after(bytes)` the whole file before it is signed.
export function report(record, { by, at, more = {}, change = () => {}, after = (bytes) => bytes, wrap = (_, bytes) => bytes, trailer = '', header = '%PDF-1.7\n%\u00ff\n', ...how } = {}) {
  const list = objects(record, more, at);
  change(list);
  return signed(after(assemble(list, trailer, header, wrap)), by, how);
}
