// What the comparison itself must not miss: too few packages, a check that broke off, words that differ.
import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { chmodSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { test } from 'node:test';
import { brokeOff, differing, looseWords, packageWords } from './compare/words.mjs';

const script = new URL('./differential.mjs', import.meta.url).pathname;

// A testkit that writes this and ends with 0.
function comparedWith(text) {
  const folder = mkdtempSync(join(tmpdir(), 'compare-'));
  try {
    const testkit = join(folder, 'testkit');
    writeFileSync(testkit, `#!/bin/sh\nprintf '%s' '${text}'\n`);
    chmodSync(testkit, 0o755);
    return spawnSync('node', [script, testkit, folder, '--count', '5'], { encoding: 'utf8' });
  } finally {
    rmSync(folder, { recursive: true });
  }
}

test('a testkit that makes nothing is no agreement', () => {
  const { status, stdout } = comparedWith('');
  assert.equal(status, 1);
  assert.match(stdout, /0 of 0 agree/);
  assert.match(stdout, /FAILED: 0 were made, 5 were asked for/);
  assert.match(stdout, /count differential 0/);
});

test('a testkit that stops in the middle of a file fails', () => {
  const line = JSON.stringify({ number: 0, class: 'sound', form: 'zip', files: [{ path: 'package.zip', length: 9 }], length: 9 });
  const { status, stderr } = comparedWith(`${line}\nPK`);
  assert.notEqual(status, 0);
  assert.match(stderr, /in the middle of a file/);
});

test('a check that broke off is seen wherever it stands', () => {
  assert.equal(brokeOff({ reports: { 'a.pdf': { state: 'cannot_judge', rule: 'fault' } } }), true);
  assert.equal(brokeOff({ reports: { 'a.pdf': { state: 'cannot_judge', rule: 'R1' } }, record: { rule: 'fault' } }), false);
});

const reader = { fingerprints: [] };

function libraryPackage(change) {
  const whole = {
    exit: 0, refused: null, bag: {}, records: {}, chain: { state: 'whole' }, disclosures: {}, revealed: { 'd.json': { '/agreement/owner/name': 'A' } },
    withheld: [{ path: '/agreement/owner', properties: ['address'] }], photos: {}, reports: { 'r.pdf': { state: 'unaltered', record: 'data/records/01-intake.json' } },
    pages_keys: { 'r.pdf': 'did:key:one' }, keys: {}, timestamps: {}, subject: null, withdrawals: [],
  };
  change?.(whole);
  return packageWords(whole, reader, false);
}

test('values, withheld places, and what a report holds are compared', () => {
  const plain = libraryPackage();
  assert.deepEqual(differing(plain, libraryPackage()), []);
  for (const change of [
    (whole) => (whole.revealed['d.json']['/agreement/owner/name'] = 'B'),
    (whole) => (whole.withheld[0].properties = ['address', 'contact']),
    (whole) => (whole.reports['r.pdf'].record = null),
    (whole) => (whole.pages_keys['r.pdf'] = 'did:key:two'),
    (whole) => whole.withdrawals.push('data/records/02-withdrawal.json'),
    (whole) => (whole.chain = { state: 'broken', reason: 'two different records with sequence 2 follow the same record' }),
  ]) {
    assert.equal(differing(plain, libraryPackage(change)).length > 0, true, String(change));
  }
});

test('the lines of one file are compared', () => {
  const verdict = (change) => {
    const whole = {
      exit: 2, kind: 'record', bytes: { state: 'intact' }, record: '00', signer: { state: 'new' }, time: { state: 'own_word' },
      completeness: { sequence: 3, not_supplied: 2, broken: null }, notices: [], histories: {}, pages_key: null,
    };
    change?.(whole);
    return looseWords(whole, reader, false);
  };
  const plain = verdict();
  assert.deepEqual(differing(plain, verdict()), []);
  for (const change of [
    (whole) => (whole.exit = 0), (whole) => (whole.record = '01'), (whole) => (whole.signer.state = 'known'), (whole) => (whole.time = { state: 'not_later_than', standing: 'trusted', time: 'x' }),
    (whole) => (whole.completeness.not_supplied = 1), (whole) => whole.notices.push('a record beside it withdraws this one'), (whole) => (whole.histories['keys.json'] = true),
  ]) {
    assert.equal(differing(plain, verdict(change)).length > 0, true, String(change));
  }
});

test('who has no fingerprints never meets another key for a name', () => {
  const said = (fingerprints) => looseWords(
    { exit: 2, kind: 'record', bytes: { state: 'intact' }, record: '00', signer: { state: 'other_key_for_name' }, time: {}, completeness: { sequence: null }, notices: [], histories: {} },
    { fingerprints }, false,
  ).subject.signer;
  assert.equal(said([]), 'other_key_for_name');
  assert.equal(said(['AAAAA']), 'new, and not the one given');
});
