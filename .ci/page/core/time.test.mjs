import assert from 'node:assert/strict';
import test from 'node:test';
import { didOfPoint } from '../../../crates/package/page/core/key.js';
import { children, readDer } from '../../../crates/package/page/core/der.js';
import { photoFacts, howOther } from '../../../crates/package/page/core/photo.js';
import { judgeToken, readAuthorities, upperSeconds } from '../../../crates/package/page/core/timestamp.js';
import { certificatesOfPem } from '../../../crates/package/page/core/x509.js';
import { judgePackage } from '../../../crates/package/page/core/index.js';
import { bag, dataOf, fileList, first, reader, record, sample, sha256hex, utf8 } from './made.mjs';

// Tokens made by OpenSSL for the other implementation (crates/trust/tests/timestamps/make.sh).
const token = (name) => sample(`crates/trust/tests/timestamps/${name}.tsr`);
const pem = (name) => new TextDecoder().decode(sample(`crates/trust/tests/timestamps/${name}.pem`));
const NAME = sha256hex(sample('crates/trust/tests/timestamps/stamped.txt'));
const judge = async (name, { pems = ['root', 'p384'], digest = NAME, workshop = [] } = {}) => {
  try {
    return (await judgeToken(typeof name === 'string' ? token(name) : name, digest, await readAuthorities(pems.map(pem)), new Set(workshop))).authority;
  } catch (problem) {
    assert.equal(typeof problem.rule, 'string', problem.stack);
    return problem.rule;
  }
};

test('tokens that OpenSSL makes', async () => {
  // What each file is stands in make.sh.
  const table = {
    rsa: 'trusted', p256: 'trusted', p384: 'trusted', sha512: 'trusted', 'version-1': 'trusted', 'by-hand': 'trusted', 'by-key': 'trusted', 'after-6': 'trusted', 'after-7': 'unknown', 'under-no-ca': 'unknown', 'under-may-not-sign': 'unknown',
    'under-short': 'unknown', 'under-strange': 'unknown', 'under-expired-ca': 'unknown', expired: 'token_validity', 'not-yet': 'token_validity', 'no-certificate': 'token_certificate', 'no-name': 'token_attributes', 'not-critical': 'token_usage',
    'other-use': 'token_usage', 'two-uses': 'token_usage', 'only-data': 'token_form', 'other-data': 'token_imprint', 'other-algorithm': 'token_imprint', refused: 'token_status', 'small-rsa': 'token_signature', 'two-signers': 'token_signers',
  };
  for (const [name, wanted] of Object.entries(table)) assert.deepEqual([name, await judge(name)], [name, wanted]);
});

test('case 64: who says so', async () => {
  assert.equal(await judge('rsa', { pems: [] }), 'unknown');
  assert.equal(await judge('rsa', { pems: ['p384'] }), 'unknown');
  assert.equal(await judge('rsa', { digest: '00'.repeat(32) }), 'token_imprint');
  // The key of an authority that is among the workshop's keys makes it the workshop's own word, trusted or not.
  const [own] = certificatesOfPem(pem('p384'));
  assert.equal(own.key.curve, '1.3.132.0.34');
  assert.equal(await judge('p384', { workshop: [first.did] }), 'trusted');
});

test('an authority with a key of the workshop is its own word', async () => {
  const bytes = token('p256');
  // The signer's certificate lies in the token; its P-256 point is found by its encoding.
  const head = Buffer.from('3059301306072a8648ce3d020106082a8648ce3d030107034200', 'hex');
  const places = [];
  for (let at = Buffer.from(bytes).indexOf(head); at >= 0; at = Buffer.from(bytes).indexOf(head, at + 1)) places.push(bytes.slice(at + head.length, at + head.length + 65));
  assert.equal(places.length, 2);
  for (const long of places) {
    const did = didOfPoint(new Uint8Array([2 + (long[64] & 1), ...long.slice(1, 33)]));
    assert.equal(await judge('p256', { workshop: [did] }), 'workshop');
  }
});

test('times are read, and a fraction is rounded up', async () => {
  const info = await judgeToken(token('p384'), NAME, [], new Set());
  assert.match(info.time, /^20\d\d-\d\d-\d\dT\d\d:\d\d:\d\dZ$/);
  const text = Buffer.from(token('p384')).toString('latin1');
  const [, stated, fraction] = /(\d{14})(\.\d+)?Z/.exec(text);
  const seconds = Date.parse(stated.replace(/(....)(..)(..)(..)(..)(..)/, '$1-$2-$3T$4:$5:$6Z'));
  // The authority of these files states an accuracy of one second (make.sh).
  assert.equal(Date.parse(info.time), seconds + 1000 + (fraction ? 1000 : 0));
});

test('the accuracy of a token counts', () => {
  const upper = (fraction, ...bytes) => upperSeconds(fraction, children(readDer(new Uint8Array([0x30, bytes.length, ...bytes]))));
  // RFC 3161, 2.4.2 (from memory): seconds, millis [0] and micros [1], the two from 1 to 999.
  const table = [
    [0, ''], [1, '5'], [1, '0000001'], [2, '', 0x02, 1, 2], [3, '1', 0x02, 1, 2], [1, '', 0x80, 1, 1], [1, '999', 0x80, 1, 1], [2, '999', 0x80, 1, 1, 0x81, 1, 1], [2, '9999991', 0x81, 1, 1], [1, '999999', 0x81, 1, 1],
    [2, '', 0x02, 1, 1, 0x81, 2, 3, 0xe7],
  ];
  for (const [wanted, ...given] of table) assert.equal(upper(...given), wanted, JSON.stringify(given));
  for (const bad of [[0x80, 1, 0], [0x80, 2, 3, 0xe8], [0x81, 1, 0xff], [0x02, 1, 0xff], [0x81, 1, 1, 0x80, 1, 1], [0x04, 1, 1]]) assert.throws(() => upper('', ...bad), { rule: 'token_form' });
});

test('a token with a flipped bit never fits another digest, and never throws anything but a refusal', async () => {
  const bytes = token('p256');
  for (let at = 0; at < bytes.length; at += 7) {
    const bad = bytes.slice();
    bad[at] ^= 1 << (at % 8);
    assert.notEqual(await judge(bad, { digest: '00'.repeat(32) }), 'trusted');
    // Certificates beside the signer's are not signed by the token; what is signed must not be changed.
    assert.notEqual((await judge(bad)).startsWith('Type'), true);
  }
  for (const bad of [new Uint8Array(), new Uint8Array(65537), utf8('0'), new Uint8Array([0x30, 0x80, 0, 0]), new Uint8Array([0x30, 0])]) assert.notEqual(await judge(bad), 'trusted');
});

test('DER that is not DER is refused', () => {
  const bad = ['3080', '30', '3001', '300201', '02020001', '0202ff80', '0200', '010101', '0281010a', '1f0101', '30030201', '3082000102', '3000ff'];
  for (const text of bad) assert.throws(() => readDer(new Uint8Array(Buffer.from(text, 'hex'))), (problem) => problem.rule === 'der', text);
  for (const good of ['3000', '3003020100', '02020080', '0101ff', '020180']) readDer(new Uint8Array(Buffer.from(good, 'hex')));
});

test('timestamps in a package', async () => {
  const made = record();
  const run = async (path, bytes) => {
    const verdict = await judgePackage(fileList(bag({ ...dataOf([made]), [path]: bytes })), reader({ fingerprints: [first.fingerprint] }));
    return [verdict.exit, verdict.timestamps[path].state];
  };
  assert.deepEqual(await run('data/timestamps/01-a.tsr', token('rsa')), [1, 'refused']);
  assert.deepEqual(await run('data/timestamps/02-a.tsr', token('rsa')), [1, 'no_record']);
  assert.deepEqual(await run('data/timestamps/01-a.tsr', utf8('x')), [1, 'refused']);
});

test('headers of photos', () => {
  const jpeg = sample('samples/photos/reed-after.jpg');
  const facts = photoFacts(jpeg);
  assert.ok(facts.width > 0 && facts.height > 0);
  for (let length = 0; length < 400; length += 3) photoFacts(jpeg.slice(0, length));
  // The first bytes of a PNG of 3 by 2 pixels; source: the PNG specification, 11.2.2, from memory.
  const png = new Uint8Array(Buffer.from('89504e470d0a1a0a0000000d49484452000000030000000208020000', 'hex'));
  assert.deepEqual(photoFacts(png), { width: 3, height: 2, orientation: null });
  assert.equal(photoFacts(utf8('GIF89a and more bytes')), null);
  assert.equal(howOther(null, { width_px: 1, height_px: 1 }), null);
  assert.equal(howOther({ width: 1, height: 1, orientation: null }, { width_px: 1, height_px: 1, orientation: 1 }), 'same_size');
});
