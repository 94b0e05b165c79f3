import assert from 'node:assert/strict';
import { createHash } from 'node:crypto';
import test from 'node:test';
import { didOfPoint } from '../../../crates/package/page/core/key.js';
import { children, readDer } from '../../../crates/package/page/core/der.js';
import { photoFacts, howOther } from '../../../crates/package/page/core/photo.js';
import { judgeToken, readAuthorities, upperSeconds } from '../../../crates/package/page/core/timestamp.js';
import { certificatesOfPem } from '../../../crates/package/page/core/x509.js';
import { judgePackage } from '../../../crates/package/page/core/index.js';
import { bag, dataOf, fileList, first, hex, joined, number, reader, record, sample, sha, sha256hex, utf8 } from './made.mjs';
import { int, octet, oid, seq, set, tlv } from './pdf.mjs';
import { caExtensions, certificateOf, clock, extension, namePart, NULL, pemOf, root as authority, rootCertificate, SHA256, STAMPING, token as made, TRUE, usage } from './tokens.mjs';

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

const STAMPED = sha(utf8('stamped'));
const onMade = async (change, { roots = [rootCertificate()] } = {}) => {
  try {
    return (await judgeToken(made(STAMPED, change), hex(STAMPED), await readAuthorities(roots.map(pemOf)), new Set())).authority;
  } catch (problem) {
    assert.equal(typeof problem.rule, 'string', problem.stack);
    return problem.rule;
  }
};
const signedBy = (how, more = {}) => ({ certificates: [certificateOf(clock, authority, how)], ...more });

test('what a token says: TSTInfo', async () => {
  const at = (time) => (parts) => (parts.time = time);
  const behind = (...after) => (parts) => (parts.after = after);
  const inToken = (critical) => tlv(0xa1, extension('1.2.3', utf8('x'), critical));
  const taken = [
    at('20260302080000Z'), at('20260302080000.5Z'), at('20280229235959Z'), behind(seq(int(1))), behind(tlv(0x01, [0])), behind(seq(int(1), tlv(0x80, [5])), TRUE, int(7), tlv(0xa0, seq()), inToken(false)),
    (parts) => (parts.imprint = seq(seq(oid(SHA256)), octet(STAMPED))),
  ];
  for (const [number, change] of taken.entries()) assert.deepEqual([number, await onMade(change)], [number, 'trusted']);
  const refused = {
    der_form: [at('20260230080000Z'), at('20260302240000Z'), at('20260302080060Z'), at('20260302086000Z'), at('20261302080000Z'), at('20260302080000.50Z'), at('20260302080000.Z'), at('20260302080000'), at('202603020800Z'), at('20260302080000+0100'), at('20270229080000Z')],
    token_form: [behind(int(7), TRUE), behind(int(7), int(8)), behind(seq(int(1)), seq(int(1))), behind(octet([1])), behind(inToken(true)), behind(inToken(false), int(1)), (parts) => (parts.version = int(2))],
    token_imprint: [(parts) => (parts.imprint = seq(seq(oid('2.16.840.1.101.3.4.2.2'), NULL), octet(STAMPED)))],
    token_algorithm: [(parts) => (parts.imprint = seq(seq(oid(SHA256), int(1)), octet(STAMPED)))],
  };
  for (const [rule, changes] of Object.entries(refused)) for (const [number, change] of changes.entries()) assert.deepEqual([rule, number, await onMade(change)], [rule, number, rule]);
  for (const info of [seq(), seq(int(1)), seq(int(1), oid('1.2.3'), seq(seq(oid(SHA256)))), seq(int(1), oid('1.2.3'), seq(seq(oid(SHA256)), octet(STAMPED)), int(1))]) assert.notEqual(await onMade((parts) => (parts.info = info)), 'trusted');
});

test('what signs a token: algorithms, attributes, the set of certificates', async () => {
  const taken = [(parts) => (parts.digestKind = seq(oid(SHA256), NULL)), (parts) => parts.certificates.push(seq(int(1))), (parts) => parts.certificates.unshift(utf8('\u0005\u0000')), (parts) => parts.certificates.push(tlv(0xa1, int(1))), (parts) => parts.certificates.push(seq([0x30, 0x81, 3], int(1)))];
  for (const [number, change] of taken.entries()) {
    const kept = (parts) => {
      parts.signing = seq(seq(seq(octet(sha(parts.certificates[0])))));
      change(parts);
    };
    assert.deepEqual([number, await onMade(kept)], [number, 'trusted']);
  }
  const again = (id, value) => seq(oid(id), set(value));
  const refused = {
    token_algorithm: [
      (parts) => (parts.signing = seq(seq(seq(seq(oid('1.3.14.3.2.26')), octet(createHash('sha1').update(parts.certificates[0]).digest()))))), (parts) => (parts.kind = seq(oid('1.2.840.10045.4.3.2'), NULL)), (parts) => (parts.kind = seq(oid('1.2.840.10045.4.3.3'))), (parts) => (parts.digestKind = seq(oid(SHA256), int(1))),
      (parts) => (parts.digestKind = seq(oid('2.16.840.1.101.3.4.2.2'))),
    ],
    token_attributes: [(parts) => (parts.more = [again('1.2.840.113549.1.9.4', octet(STAMPED))]), (parts) => (parts.more = [again('1.2.840.113549.1.9.3', oid('1.2.3'))])],
    token_form: [(parts) => (parts.status = joined(int(0), int(1))), (parts) => (parts.behind = [int(1)]), (parts) => (parts.behind = [tlv(0xa1, seq()), int(1)])],
    token_status: [(parts) => (parts.status = int(2))],
    token_certificate: [(parts) => (parts.serial = 10), (parts) => (parts.certificates = []), (parts) => (parts.signing = seq(seq(seq(octet(STAMPED)))))],
    token_usage: [(parts) => Object.assign(parts, signedBy({ extensions: [extension('2.5.29.37', seq(oid(STAMPING)))] })), (parts) => Object.assign(parts, signedBy({ extensions: [usage(STAMPING, '1.2.3')] }))],
    token_validity: [(parts) => Object.assign(parts, signedBy({ to: '20260302075959Z' })), (parts) => Object.assign(parts, signedBy({ to: '20260302080000Z' }), { time: '20260302080000.5Z' }), (parts) => Object.assign(parts, signedBy({ from: '20260302080001Z' }), { time: '20260302080000.5Z' })],
  };
  for (const [rule, changes] of Object.entries(refused)) {
    for (const [number, change] of changes.entries()) {
      const named = (parts) => {
        change(parts);
        parts.signing ??= seq(seq(seq(octet(sha(parts.certificates[0] ?? utf8(''))))));
      };
      assert.deepEqual([rule, number, await onMade(named)], [rule, number, rule]);
    }
  }
  // The last moment of a certificate is one of its moments.
  assert.equal(await onMade((parts) => Object.assign(parts, signedBy({ to: '20260302080000Z' }))), 'trusted');
});

test('a certificate that cannot be read is left out', async () => {
  const time = (text, tag = 0x18) => tlv(tag, utf8(text));
  const unread = [{ dates: [] }, { dates: [time('20250101000000Z')] }, { dates: [time('20260231000000Z'), time('20400101000000Z')] }, { dates: [time('19690101000000Z'), time('20400101000000Z')] }, { dates: [time('20250101000000.5Z'), time('20400101000000Z')] }, { serial: 2n ** 168n - 1n }];
  for (const [number, how] of unread.entries()) {
    assert.deepEqual([number, await onMade((parts) => Object.assign(parts, signedBy(how), how.serial ? { serial: how.serial } : {}))], [number, 'token_certificate']);
    assert.deepEqual([number, await onMade(() => {}, { roots: [rootCertificate(how)] })], [number, 'unknown']);
  }
});

test('who may issue the certificate of an authority', async () => {
  const policies = extension('2.5.29.32', seq(seq(oid('2.5.29.32.0'))), true);
  const table = {
    trusted: [[...caExtensions, policies], [...caExtensions, usage(STAMPING)], [...caExtensions, usage('2.5.29.37.0')], [...caExtensions, usage('1.2.3', STAMPING)], caExtensions.slice(0, 1)],
    unknown: [[...caExtensions, usage('1.3.6.1.5.5.7.3.1')], [...caExtensions, usage()], [...caExtensions, extension('1.2.3', NULL, true)], [], caExtensions.slice(1), [extension('2.5.29.19', seq(TRUE, int(0), int(0)), true)], [extension('2.5.29.19', utf8('no DER'), true)], [...caExtensions, ...caExtensions]],
  };
  for (const [standing, lists] of Object.entries(table)) for (const [number, extensions] of lists.entries()) assert.deepEqual([standing, number, await onMade(() => {}, { roots: [rootCertificate({ extensions })] })], [standing, number, standing]);
  // Half a second after the last moment of the issuer.
  assert.equal(await onMade((parts) => (parts.time = '20260302080000.5Z'), { roots: [rootCertificate({ to: '20260302080000Z' })] }), 'unknown');
  assert.equal(await onMade((parts) => (parts.certificates = [certificateOf(clock, authority, { kind: seq(oid('1.2.840.10045.4.3.2'), NULL) })])), 'unknown');
});

test('what an authority calls itself', async () => {
  const who = async (...subject) => {
    const bytes = made(STAMPED, (parts) => Object.assign(parts, signedBy({ subject })));
    return (await judgeToken(bytes, hex(STAMPED), [], new Set())).who;
  };
  const country = namePart('XX', '2.5.4.6', 0x13);
  assert.equal(await who(country, namePart('Clock House'), namePart('Hall', '2.5.4.10')), 'Clock House');
  assert.equal(await who(namePart('Clock House'), namePart('Second')), 'Second');
  assert.equal(await who(namePart('Clock House'), namePart('a letter that is no Latin one', '2.5.4.3', 0x1e)), 'Clock House');
  assert.equal(await who(namePart('Hall', '2.5.4.10'), country), 'XX');
  assert.equal(await who(namePart('a number', '2.5.4.3', 0x02)), 'unnamed');
  assert.equal(await who(), 'unnamed');
});

// DER as a tree: [tag, children or bytes]; octets that hold DER are opened too.
function treeOf(bytes) {
  const read = (from, to) => {
    const list = [];
    for (let at = from; at < to; ) {
      let [length, body] = [bytes[at + 1], at + 2];
      if (length >= 0x80) {
        const count = length & 0x7f;
        length = Number(BigInt(`0x${hex(bytes.slice(body, body + count))}`));
        body += count;
      }
      if (body + length > to) throw new Error('no DER');
      const tag = bytes[at];
      let inside = bytes.slice(body, body + length);
      if (tag & 0x20) inside = read(body, body + length);
      else if (tag === 0x04 && inside[0] === 0x30) {
        try {
          inside = treeOf(inside);
        } catch {
          // Bytes that begin like a SEQUENCE by chance.
        }
      }
      list.push([tag, inside]);
      at = body + length;
    }
    return list;
  };
  return read(0, bytes.length);
}
const encoded = (list) => joined(...list.map(([tag, inside]) => tlv(tag, inside instanceof Uint8Array ? inside : encoded(inside))));
// Every list of the tree, with the elements in it.
function* listsOf(list) {
  yield list;
  for (const [, inside] of list) if (!(inside instanceof Uint8Array)) yield* listsOf(inside);
}

test('a token or a certificate with an element gone, twice or between never throws anything but a refusal', async (context) => {
  const faults = context.mock.method(console, 'error', () => {});
  for (const [bytes, judged] of [
    [token('p256'), (bad) => judge(bad)],
    [made(STAMPED, (parts) => parts.certificates.push(rootCertificate())), async (bad) => judgeToken(bad, hex(STAMPED), [], new Set()).catch(({ rule, stack }) => assert.equal(typeof rule, 'string', stack))],
    [rootCertificate(), (bad) => readAuthorities([pemOf(bad)])],
  ]) {
    const tree = treeOf(bytes);
    assert.deepEqual(encoded(tree), bytes);
    for (const list of listsOf(tree)) {
      for (let at = 0; at <= list.length; at += 1) {
        const whole = [...list];
        for (const change of [() => list.splice(at, 1), () => at < list.length && list.splice(at, 0, list[at]), () => list.splice(at, 0, [0x02, new Uint8Array([1])]), () => list.splice(at, 0, [0x30, new Uint8Array()]), () => at < list.length && list.splice(at, 1, [list[at][0], new Uint8Array()])]) {
          change();
          await judged(encoded(tree));
          list.splice(0, list.length, ...whole);
        }
      }
    }
  }
  assert.deepEqual(faults.mock.calls.map(({ arguments: [, problem] }) => problem?.stack), []);
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
  // A TIFF of [tag, type, count, value]: of a tag that stands twice the first counts, and of more values than one none.
  const tiff = (...entries) => joined(utf8('II'), number(42, 2), number(8, 4), number(entries.length, 2), ...entries.map(([tag, type, count, value]) => joined(number(tag, 2), number(type, 2), number(count, 4), number(value, 4))), number(0, 4));
  const sized = [[256, 3, 1, 900], [257, 4, 1, 600]];
  const table = [[6, [274, 3, 1, 6]], [6, [274, 3, 1, 6], [274, 3, 1, 8]], [null, [274, 3, 2, 6]], [null, [274, 3, 2, 6], [274, 3, 1, 8]], [8, [274, 4, 1, 8]], [null, [274, 1, 1, 8], [274, 3, 1, 8]], [null, [274, 3, 1, 9], [274, 3, 1, 8]], [null]];
  for (const [orientation, ...entries] of table) assert.deepEqual(photoFacts(tiff(...sized, ...entries)), { width: 900, height: 600, orientation }, JSON.stringify(entries));
  assert.equal(photoFacts(tiff([256, 3, 2, 900], [256, 3, 1, 900], sized[1])), null);
  assert.equal(photoFacts(utf8('GIF89a and more bytes')), null);
  assert.equal(howOther(null, { width_px: 1, height_px: 1 }), null);
  assert.equal(howOther({ width: 1, height: 1, orientation: null }, { width_px: 1, height_px: 1, orientation: 1 }), 'same_size');
});
