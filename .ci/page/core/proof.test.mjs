import assert from 'node:assert/strict';
import test from 'node:test';
import { bytesOf, fromBase58, fromHex, hexOf } from '../../../crates/package/page/core/text.js';
import { canonicalBytes, without } from '../../../crates/package/page/core/canonical.js';
import { decompress, fingerprintOf, isLowS, plainFingerprint, pointOfDid, sha256, sha256Hex, verifyP256 } from '../../../crates/package/page/core/key.js';
import { checkProof } from '../../../crates/package/page/core/proof.js';
import { judgeRecord } from '../../../crates/package/page/core/record.js';
import { base58, bytes32, first, N, nameOf, proved, record, sample, schema, sealed, second, sign, utf8 } from './made.mjs';

// Source: w3c/vc-di-ecdsa, TestVectors/ecdsa-jcs-2019-p256 (unsigned.json, signedJCSECDSAP256.json, combinedHash…, sigHex…).
const W3C = {
  '@context': ['https://www.w3.org/ns/credentials/v2', 'https://www.w3.org/ns/credentials/examples/v2'],
  id: 'urn:uuid:58172aac-d8ba-11ed-83dd-0b3aef56cc33',
  type: ['VerifiableCredential', 'AlumniCredential'],
  name: 'Alumni Credential',
  description: 'A minimum viable example of an Alumni Credential.',
  issuer: 'https://vc.example/issuers/5678',
  validFrom: '2023-01-01T00:00:00Z',
  credentialSubject: { id: 'did:example:abcdefgh', alumniOf: 'The School of Examples' },
  proof: {
    type: 'DataIntegrityProof',
    cryptosuite: 'ecdsa-jcs-2019',
    created: '2023-02-24T23:36:38Z',
    verificationMethod: 'did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP#zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP',
    proofPurpose: 'assertionMethod',
    '@context': ['https://www.w3.org/ns/credentials/v2', 'https://www.w3.org/ns/credentials/examples/v2'],
    proofValue: 'z5ptCet75SaEgzG4v4zJhbJtfNi74Wv7Fq15hhKouJQQjEPQvPZKaYxcMXAMLPQS2FXrkCWokNJkFVkwxNzZfD5oT',
  },
};
const W3C_HASH = 'fe5799489119c7fe3c528715e72bd39d2ec6b4ab345978df32e9a9312648ec2559b7cb6251b8991add1ce0bc83107e3db9dbbab5bd2c28f687db1a03abc92f19';

test('case 25: the W3C vector verifies as a signature, and fails our policy', async () => {
  const { proof } = W3C;
  const options = await sha256(canonicalBytes(without(proof, 'proofValue')));
  const document = await sha256(canonicalBytes(without(W3C, 'proof')));
  const hashes = [hexOf(options), hexOf(document)];
  assert.ok(W3C_HASH === hashes.join(''));
  const point = pointOfDid(proof.verificationMethod.split('#')[0]);
  assert.ok(await verifyP256(point, fromBase58(proof.proofValue.slice(1)), fromHex(W3C_HASH)));
  await assert.rejects(checkProof(document, proof, proof.verificationMethod.split('#')[0], proof.created), (problem) => problem.rule === 'proof_fields');
  await assert.rejects(checkProof(document, without(proof, '@context'), W3C.issuer, proof.created), (problem) => problem.rule === 'proof_key');
});

test('the example record has the name and the fingerprint that its page gives', async () => {
  const bytes = sample('schemas/example-record.json');
  const verdict = await judgeRecord(bytes, schema);
  // Source: schemas/record-format.md, "The file".
  assert.equal(verdict.name, '82048f25adbcaf81ae1a45ad52970300a849d251bcfa5142667dd77012adf93c');
  assert.equal(verdict.state, 'intact');
});

test('keys: points, did:key and fingerprints', async () => {
  assert.equal(hexOf(decompress(first.point)), hexOf(first.long));
  assert.equal(await fingerprintOf(first.did), first.fingerprint);
  assert.equal(plainFingerprint(` ${first.fingerprint.toLowerCase().replaceAll('-', ' ')} `), first.fingerprint);
  // As a Japanese keyboard writes it, with other hyphens, and with a sign that nobody sees.
  const wide = [...first.fingerprint].map((letter) => (letter === '-' ? '\u30fc' : String.fromCodePoint(letter.codePointAt(0) + 0xfee0))).join('');
  for (const typed of [wide, ...['\uff0d', '\u2011', '\u2212', '\u00ad', '\u3000', '\u200b'].map((sign) => first.fingerprint.replaceAll('-', sign))]) assert.equal(plainFingerprint(typed), first.fingerprint, typed);
  assert.equal(plainFingerprint(first.fingerprint.slice(0, -1)), null);
  assert.equal(plainFingerprint(`${first.fingerprint}\u00e9`), null);
  // Source of the order and the base point: SEC 2, 2.4.2.
  assert.equal(hexOf(decompress(fromHex('036b17d1f2e12c4247f8bce6e563a440f277037d812deb33a0f4a13945d898c296'))).slice(-64), '4fe342e2fe1a7f9b8ee7eb4a7c0f9e162bce33576b315ececbb6406837bf51f5');
  const wrap = (...bytes) => `did:key:z${base58(new Uint8Array(bytes))}`;
  const bad = {
    'a point that is not on the curve': wrap(0x80, 0x24, 2, ...bytes32(1n)),
    'an x beyond the field': wrap(0x80, 0x24, 2, ...new Uint8Array(32).fill(255)),
    'an uncompressed point': wrap(0x80, 0x24, ...first.long),
    'P-384': wrap(0x81, 0x24, ...first.point),
    'Ed25519': wrap(0xed, 0x01, ...first.point.slice(1)),
    'secp256k1': wrap(0xe7, 0x01, ...first.point),
    'no multicodec': wrap(...first.point),
    'another method': first.did.replace('did:key', 'did:web'),
    'base64url': first.did.replace('did:key:z', 'did:key:u'),
  };
  for (const [what, did] of Object.entries(bad)) assert.equal(pointOfDid(did), null, what);
});

test('r and s out of range or in another form are refused', async () => {
  // The classes are those of C2SP/wycheproof, ecdsa_secp256r1_sha256_p1363_test.json (from memory); the numbers are made here.
  const message = bytesOf('a message');
  const good = sign(first, message);
  assert.ok(await verifyP256(first.point, good, message));
  const r = good.slice(0, 32);
  const s = good.slice(32);
  const zero = new Uint8Array(32);
  const order = bytes32(N);
  const above = bytes32(N + 1n);
  const bad = [[zero, s], [r, zero], [zero, zero], [order, s], [r, order], [above, s], [r, above], [s, r], [r, new Uint8Array(32).fill(255)]];
  for (const [one, two] of bad) assert.equal(await verifyP256(first.point, new Uint8Array([...one, ...two]), message), false);
  assert.equal(await verifyP256(first.point, good.slice(0, 63), message), false);
  assert.equal(await verifyP256(first.point, new Uint8Array([...good, 0]), message), false);
  assert.equal(await verifyP256(second.point, good, message), false);
  const high = sign(first, message, true);
  assert.ok(await verifyP256(first.point, high, message));
  assert.deepEqual([isLowS(good), isLowS(high)], [true, false]);
});

const state = async (made) => (await judgeRecord(made instanceof Uint8Array ? made : sealed(made), schema)).state;

test('proofs that another key, form or time makes are altered', async () => {
  const made = record();
  assert.equal(await state(made), 'intact');
  const change = (proof) => ({ ...made, proof });
  const bad = {
    'an extra field': change({ ...made.proof, note: 'x' }),
    'an extra field that is signed': proved(made, first, made.issued_at, { options: { domain: 'x' } }),
    'no field': change(without({ ...made.proof }, 'created')),
    'a list of one': change([made.proof]),
    'a list of two': change([made.proof, made.proof]),
    'an empty list': change([]),
    'no proof': without(made, 'proof'),
    'another suite': proved(made, first, made.issued_at, { options: { cryptosuite: 'ecdsa-rdfc-2019' } }),
    'another purpose': proved(made, first, made.issued_at, { options: { proofPurpose: 'authentication' } }),
    'another type': proved(made, first, made.issued_at, { options: { type: 'Ed25519Signature2020' } }),
    'another time': proved(made, first, '2026-03-01T09:30:01Z'),
    'another key in the proof': proved(made, second, made.issued_at),
    'another fragment': proved(made, first, made.issued_at, { options: { verificationMethod: `${first.did}#${second.did.slice(8)}` } }),
    'no fragment': proved(made, first, made.issued_at, { options: { verificationMethod: first.did } }),
    'the hashes the other way round': proved(made, first, made.issued_at, { swap: true }),
    'base64url': change({ ...made.proof, proofValue: `u${Buffer.from(fromBase58(made.proof.proofValue.slice(1))).toString('base64url')}` }),
    '63 bytes': change({ ...made.proof, proofValue: `z${base58(fromBase58(made.proof.proofValue.slice(1)).slice(0, 63))}` }),
    '65 bytes': change({ ...made.proof, proofValue: `z${base58(new Uint8Array([...fromBase58(made.proof.proofValue.slice(1)), 1]))}` }),
    '@context in the record': proved({ ...made, '@context': ['x'] }, first, made.issued_at),
    '@context in the proof': proved(made, first, made.issued_at, { options: { '@context': ['x'] } }),
  };
  for (const [what, one] of Object.entries(bad)) assert.equal(await state(one), 'altered', what);
});

test('case 17: the higher s is the same record', async () => {
  const made = record({ how: { high: true } });
  const verdict = await judgeRecord(sealed(made), schema);
  assert.equal(verdict.state, 'same_content');
  assert.equal(verdict.name, nameOf(record()));
});

test('case 14: any letter of a sealed record that is changed is seen', async () => {
  const bytes = sealed(record());
  for (let at = 0; at < bytes.length; at += 211) {
    const bad = bytes.slice();
    bad[at] ^= 1;
    assert.equal(await state(bad), 'altered', `byte ${at}`);
  }
  assert.equal(await state(utf8('')), 'altered');
  assert.equal(await sha256Hex(utf8('abc')), 'ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad'); // FIPS 180-4, example
});
