// One file with others beside it: what a later record or a withdrawal among them makes of it (schemas/verdicts.md).

import assert from 'node:assert/strict';
import test from 'node:test';
import { judgeFile } from '../../../crates/package/page/core/index.js';
import { chain, first, nameOf, reader, record, sealed, utf8 } from './made.mjs';
import { report } from './pdf.mjs';

const known = reader({ fingerprints: [first.fingerprint] });
const [one, two] = chain([{}, {}]);
const withdrawing = (sequence, previous, target) =>
  record({ sequence, previous: nameOf(previous), purpose: 'withdrawal', issuedAt: `2026-03-0${sequence}T09:30:00Z`, change: (made) => (made.refers_to = { record: nameOf(target), statement: 'the lengths were read on another blade' }) });
const gone = withdrawing(2, one, one);
const later = withdrawing(3, two, one);
const files = (...list) => list.map((made) => ({ path: `${made.sequence}-${made.purpose}.json`, bytes: sealed(made) }));
const judge = async (made, beside = [], ask = known) => {
  const { exit, withdrawals, subject } = await judgeFile(made instanceof Uint8Array ? made : sealed(made), ask, beside, 'main');
  const { is_withdrawal: is, superseded_by: by, withdrawn_by: taken } = subject.completeness;
  return { exit, withdrawals, is, by, taken };
};

test('a record alone, and with what came before it', async () => {
  assert.deepEqual(await judge(one), { exit: 0, withdrawals: [], is: false, by: null, taken: null });
  assert.deepEqual(await judge(two, files(one)), { exit: 0, withdrawals: [], is: false, by: null, taken: null });
});

test('a later record beside it is to be confirmed, whoever signed', async () => {
  assert.deepEqual(await judge(one, files(two)), { exit: 2, withdrawals: [], is: false, by: nameOf(two), taken: null });
  assert.deepEqual(await judge(one, files(two, later)), { exit: 2, withdrawals: ['3-withdrawal.json'], is: false, by: nameOf(later), taken: nameOf(later) });
  assert.deepEqual(await judge(two, files(one, later)), { exit: 2, withdrawals: ['3-withdrawal.json'], is: false, by: nameOf(later), taken: null });
  const pages = report(sealed(one), { by: first, at: one.issued_at });
  assert.deepEqual(await judge(pages), { exit: 0, withdrawals: [], is: false, by: null, taken: null });
  assert.deepEqual(await judge(pages, files(gone)), { exit: 2, withdrawals: ['2-withdrawal.json'], is: false, by: nameOf(gone), taken: nameOf(gone) });
});

test('a withdrawal is to be confirmed and told first', async () => {
  assert.deepEqual(await judge(gone), { exit: 2, withdrawals: ['main'], is: true, by: null, taken: null });
  assert.deepEqual(await judge(gone, files(one, gone)), { exit: 2, withdrawals: ['main'], is: true, by: null, taken: null });
  const again = record({ sequence: 3, previous: nameOf(gone), purpose: 'transfer', issuedAt: '2026-03-03T09:30:00Z' });
  assert.deepEqual(await judge(again, files(one, gone)), { exit: 0, withdrawals: ['2-withdrawal.json'], is: false, by: null, taken: null });
  // In the order of their numbers, not in that of the files.
  const most = withdrawing(4, later, two);
  assert.deepEqual((await judge(two, files(most, later))).withdrawals, ['3-withdrawal.json', '4-withdrawal.json']);
});

test('what does not stand, or is of another blade, says nothing later', async () => {
  const other = withdrawing(2, one, one);
  other.blade.title = 'Another';
  const elsewhere = record({ sequence: 2, previous: nameOf(one), purpose: 'withdrawal', issuedAt: '2026-03-02T09:30:00Z', change: (made) => (made.blade.id = 'elsewhere') });
  assert.deepEqual(await judge(one, files(other, elsewhere)), { exit: 0, withdrawals: [], is: false, by: null, taken: null });
  assert.deepEqual(await judge(utf8('{"tangmark-record":'), files(gone)), { exit: 1, withdrawals: [], is: undefined, by: undefined, taken: undefined });
});

test('only what begins as a PDF is judged as a report', async () => {
  const of = async (bytes, path) => (await judgeFile(bytes, known, [], path)).subject.bytes.state;
  assert.equal(await of(sealed(one), 'report.pdf'), 'intact');
  assert.equal(await of(utf8('\n%PDF-1.7 tangmark-record'), 'report.pdf'), 'altered');
  assert.equal(await of(utf8('\n%PDF-1.7'), 'report.pdf'), 'cannot_judge');
  assert.equal(await of(utf8('%PDF-1.7 tangmark-record'), 'record.json'), 'cannot_judge');
  // Whatever sign it begins with.
  for (const begun of ['', '[', '"', '\u0000', '\ufeff', '\ufeff{', 'x', '\u0089PNG']) assert.equal(await of(utf8(`${begun}"tangmark-record"`), 'x.json'), 'altered', begun);
  for (const begun of ['', '[', '"', '\u0000', '\ufeff', '{', 'x']) assert.equal(await of(utf8(`${begun}"another-record"`), 'x.json'), 'cannot_judge', begun);
});
