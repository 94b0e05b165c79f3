// The key under the pages of a report, records that break their form under a proof that holds, and what lies beside a record.
import assert from 'node:assert/strict';
import test from 'node:test';
import { judgeFile, judgePackage } from '../../../crates/package/page/core/index.js';
import { judgeRecord } from '../../../crates/package/page/core/record.js';
import { bag, chain, dataOf, disclosuresFile, entryDigest, examinerName, fileList, first, historyFile, key, later, nameOf, paper, reader, record, revocation, schema, sealed, second, statement, utf8, withExaminer, zip } from './made.mjs';
import { report } from './pdf.mjs';
import { checkProof } from '../../../crates/package/page/core/proof.js';

const [one, two] = chain([{ change: withExaminer }, {}]);
const T2 = '2026-06-01T00:00:00Z';
const start = statement(first, '2026-01-01T00:00:00Z');
const turn = later('rotation', statement(second, T2, entryDigest(start)), first);
const path = 'data/reports/a.pdf';
const pdf = (made, by = first, entries = null) => report(sealed(made), { by, at: made.issued_at, more: entries ? { 'key-history.json': historyFile(entries) } : {} });
const judged = (file, keys = null, ask = {}) => judgePackage(fileList(bag(dataOf([one, two], { [path]: file, ...(keys ? { [`data/keys/${first.fingerprint}.json`]: historyFile(keys) } : {}) }))), reader(ask));
const told = async (...given) => {
  const { reports, exit } = await judged(...given);
  return [reports[path].state, exit];
};

test('the key under the pages of a report in a package', async () => {
  const knows = { fingerprints: [first.fingerprint] };
  assert.deepEqual(await told(pdf(two), null, knows), ['unaltered', 0]);
  // A later key is followed by the history in the report.
  assert.deepEqual(await told(pdf(two, second, [start, turn]), null, knows), ['unaltered', 0]);
  assert.deepEqual(await told(pdf(two, second, [start, turn])), ['key_open', 2]);
  const paperTurn = later('recovery', statement(second, T2, entryDigest(start)), paper);
  assert.deepEqual(await told(pdf(two, second, [start, paperTurn]), null, knows), ['key_open', 2]);
  // The history at hand tells what the one in the report does not.
  const stolen = revocation(second, T2, entryDigest(turn), paper, '2026-08-01T00:00:00Z');
  assert.deepEqual(await told(pdf(two, second, [start, turn]), [start, turn, stolen], knows), ['key_rejected', 1]);
  assert.deepEqual(await told(pdf(two, second, [start, turn]), null, { ...knows, histories: [historyFile([start, turn, stolen])] }), ['key_rejected', 1]);
  const fork = later('rotation', statement(key('thief'), T2, entryDigest(start)), first);
  assert.deepEqual(await told(pdf(two, second, [start, turn]), [start, fork], knows), ['key_rejected', 1]);
  // Rejected goes before older, older before open.
  assert.deepEqual(await told(pdf(one, second, [start, turn]), [start, turn, stolen], knows), ['key_rejected', 1]);
  assert.deepEqual(await told(pdf(one, second, [start, turn])), ['older', 2]);
});

test('histories at hand with a key in common: both are told in a package', async () => {
  const own = statement(second, T2);
  const keys = { [`data/keys/${first.fingerprint}.json`]: historyFile([start, turn]), [`data/keys/${second.fingerprint}.json`]: historyFile([own]) };
  const verdict = await judgePackage(fileList(bag(dataOf([one, two], keys))), reader({ fingerprints: [first.fingerprint] }));
  assert.deepEqual(Object.values(verdict.keys).map(({ state }) => state), ['fork', 'fork']);
  assert.deepEqual([verdict.subject.signer.state, ...Object.values(verdict.records).map(({ standing }) => standing), verdict.exit], ['two_histories', 'two_histories', 'two_histories', 1]);
});

test('a token over the name of a record says nothing on the pages', async () => {
  const stolen = revocation(first, '2026-04-01T00:00:00Z', entryDigest(start), paper, '2026-05-01T00:00:00Z');
  const verdict = await judgeFile(pdf(one), reader({ fingerprints: [first.fingerprint] }), [{ path: 'keys.json', bytes: historyFile([start, stolen]) }], 'a.pdf');
  assert.deepEqual([verdict.subject.signer.state, verdict.exit], ['revoked_unproved', 2]);
});

test('a record that breaks its form under a proof that holds: signer and time are told', async () => {
  const verdict = await judgeFile(sealed(record({ change: (made) => (made.strange = 1) })), reader({ fingerprints: [first.fingerprint] }), [], 'record.json');
  const { bytes, signer, time, completeness } = verdict.subject;
  assert.deepEqual([bytes.state, signer.state, time.state, completeness.state, verdict.exit], ['altered', 'known', 'own_word', 'cannot_judge', 1]);
});

test('what speaks of no record is no altered record', async () => {
  const text = new TextDecoder().decode(sealed(one));
  const told = async (words) => (await judgeFile(utf8(words), reader(), [], 'a.json')).subject.bytes.state;
  assert.deepEqual([await told(text.slice(0, -1)), await told(text.slice(0, -1).replace('tangmark-record', 'other')), await told(text.replace('tangmark-record', 'other'))], ['altered', 'cannot_judge', 'cannot_judge']);
});

test('what is beside a record and does not count is left out and told', async () => {
  const other = record({ sequence: 1, change: (made) => (made.blade.id = 'another') });
  const beside = [{ path: 'one.json', bytes: sealed(one) }, { path: 'other.json', bytes: sealed(other) }, { path: 'bad.json', bytes: utf8(new TextDecoder().decode(sealed(one)).replace('Dune', 'Dawn')) }, { path: 'no.json', bytes: utf8('{') }];
  const verdict = await judgeFile(sealed(two), reader({ fingerprints: [first.fingerprint] }), beside, 'two.json');
  assert.deepEqual(Object.entries(verdict.left_out).map(([path, { state }]) => [path, state]), [['other.json', 'other_blade'], ['bad.json', 'altered'], ['no.json', 'cannot_judge']]);
  assert.deepEqual([Object.keys(verdict.records), verdict.subject.completeness.state, verdict.exit], [['two.json', 'one.json'], 'whole', 0]);
});

test('a loose withdrawal is told', async () => {
  const [before, withdrawal] = chain([{}, { purpose: 'withdrawal' }]);
  const verdict = await judgeFile(sealed(withdrawal), reader(), [{ path: 'before.json', bytes: sealed(before) }], 'w.json');
  assert.deepEqual(verdict.withdrawals, ['w.json']);
});

test('of several witnesses the best one is told', async () => {
  const { subjectOf } = await import('../../../crates/package/page/core/verdict.js');
  const verdict = await judgeRecord(sealed(one), schema);
  const seen = (authority, time) => ({ authority, time, who: authority });
  const state = async (now, ...evidence) => {
    const { time } = await subjectOf(verdict, { state: 'whole', missing: [], forks: [], faults: [] }, { histories: [], forked: [] }, evidence, reader({ now }));
    return [time.state, time.standing ?? null, time.time ?? null];
  };
  const [early, late, now] = ['2026-02-01T00:00:00Z', '2026-04-01T00:00:00Z', '2030-01-01T00:00:00Z'];
  assert.deepEqual(await state(now), ['own_word', null, null]);
  assert.deepEqual(await state(now, seen('unknown', early), seen('trusted', late)), ['not_later_than', 'trusted', late]);
  assert.deepEqual(await state(now, seen('workshop', early), seen('unknown', late)), ['not_later_than', 'unknown', late]);
  assert.deepEqual(await state(early, seen('workshop', late)), ['future', null, null]);
  assert.deepEqual(await state(early, seen('trusted', early), seen('trusted', late)), ['stated_later', 'trusted', early]);
});

test('keys that are printed sign nothing', async () => {
  // The key of RFC 6979, A.2.5, and two of the did:key method (from memory).
  for (const printed of ['zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP', 'zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169', 'zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv']) {
    await assert.rejects(checkProof(new Uint8Array(32), one.proof, `did:key:${printed}`, one.issued_at), /printed in a specification/);
  }
});

test('a history whose digest is no text is refused', async () => {
  const bad = { ...start, recovery_digest: [start.recovery_digest] };
  const verdict = await judgeFile(sealed(one), reader(), [{ path: 'keys.json', bytes: historyFile([bad]) }], 'one.json');
  assert.deepEqual([verdict.keys['keys.json'].state, verdict.keys['keys.json'].rule], ['refused', 'history_form']);
  const made = await judgeRecord(sealed(record({ sequence: 2, previous: [nameOf(one)] })), schema);
  assert.deepEqual([made.state, made.link], ['altered', null]);
});

test('a disclosure that stands twice is refused, also without its record', async () => {
  const file = { 'data/disclosures/07.json': disclosuresFile([examinerName, examinerName]) };
  const { disclosures } = await judgePackage(fileList(bag(dataOf([one, two], file))), reader());
  assert.deepEqual([disclosures['data/disclosures/07.json'].state, disclosures['data/disclosures/07.json'].rule], ['refused', 'disclosure_twice']);
});

test('a folder of a zip file holds nothing', async () => {
  const entries = Object.entries(bag(dataOf([one, two]))).sort().map(([name, bytes]) => ({ name: `reed/${name}`, bytes }));
  const told = async (folder) => (await judgePackage(zip([...entries, { name: 'reed/data/', mode: 0x4000, ...folder }]), reader({ fingerprints: [first.fingerprint] }))).refused?.rule ?? null;
  assert.deepEqual([await told({}), await told({ method: 8 })], [null, null]);
  assert.equal(await told({ crc: 5 }), 'zip_crc');
  assert.equal(await told({ method: 8, packed: new Uint8Array([3, 0, 7]) }), 'deflate');
  assert.equal(await told({ packed: utf8('x') }), 'zip_size');
  assert.equal(await told({ bytes: utf8('x') }), 'zip_folder');
});
