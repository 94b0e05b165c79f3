import assert from 'node:assert/strict';
import test from 'node:test';
import { compareHistories, pathBetween, readHistory, standingOf } from '../../../crates/package/page/core/history.js';
import { judgeChain } from '../../../crates/package/page/core/chain.js';
import { settleHistories, standingIn } from '../../../crates/package/page/core/verdict.js';
import { entryDigest, first, historyFile, key, later, paper, proved, revocation, second, statement, utf8, without } from './made.mjs';

const third = key('third');
const otherPaper = key('other paper');
const [T1, T2, T3, T4] = ['2026-01-01T00:00:00Z', '2026-03-01T00:00:00Z', '2026-06-01T00:00:00Z', '2026-09-01T00:00:00Z'];
const start = statement(first, T1);
const turn = later('rotation', statement(second, T2, entryDigest(start), otherPaper), first);
const found = later('recovery', statement(third, T3, entryDigest(turn), paper), otherPaper);
const read = (...entries) => readHistory(historyFile(entries));

test('a history with rotation, recovery and revocation', async () => {
  const stolen = revocation(second, T2, entryDigest(found), third, T4);
  const history = await read(start, turn, found, stolen);
  assert.deepEqual([history.first, history.fingerprint], [first.did, first.fingerprint]);
  assert.deepEqual(history.statements.map(({ key: did, from, how }) => [did, from, how]), [[first.did, T1, 'first'], [second.did, T2, 'rotation'], [third.did, T3, 'recovery']]);
  assert.deepEqual(history.revocations, [{ key: second.did, since: T2, reason: 'stolen' }]);
  assert.deepEqual(history.digests, [start, turn, found, stolen].map(entryDigest));
});

test('histories that break a rule are refused', async () => {
  const bad = {
    history_form: [historyFile([]), utf8('{"format":"tangmark key history 2","entries":[]}'), utf8('{"format":"tangmark key history 1","entries":{}}'), historyFile([null])],
    history_members: [
      utf8('{"format":"tangmark key history 1"}'), utf8('{"format":"tangmark key history 1","entries":[],"more":1}'), historyFile([{ ...start, more: 1 }]), historyFile([without(start, 'reason')]),
      historyFile([proved({ ...statement(first, T1, entryDigest(start)) }, first, T1)]), historyFile([start, { ...turn, more: 1 }]),
    ],
    history_key: [
      historyFile([proved({ ...start, key: `${first.did}x` }, first, T1)]), historyFile([start, later('rotation', statement(first, T2, entryDigest(start)), first)]),
      historyFile([start, revocation(second, T1, entryDigest(start), first, T2)]),
      historyFile([start, turn, revocation(first, T1, entryDigest(turn), second, T3), revocation(first, T1, entryDigest(revocation(first, T1, entryDigest(turn), second, T3)), second, T3)]),
    ],
    history_time: [
      historyFile([statement(first, '2026-02-30T00:00:00Z')]), historyFile([start, later('rotation', statement(second, T1, entryDigest(start)), first)]),
      historyFile([start, revocation(first, T3, entryDigest(start), first, T2)]),
      historyFile([start, turn, revocation(first, T1, entryDigest(turn), second, T3), later('rotation', statement(third, '2026-05-31T00:00:00Z', entryDigest(revocation(first, T1, entryDigest(turn), second, T3))), second)]),
    ],
    history_previous: [historyFile([start, later('rotation', statement(second, T2, entryDigest(turn)), first)]), historyFile([start, revocation(first, T1, entryDigest(turn), first, T2)])],
    history_signer: [
      historyFile([start, later('recovery', statement(second, T2, entryDigest(start)), otherPaper)]), historyFile([start, later('recovery', statement(second, T2, entryDigest(start)), first)]),
      historyFile([start, revocation(first, T1, entryDigest(start), first, T2), later('rotation', statement(second, T3, entryDigest(revocation(first, T1, entryDigest(start), first, T2))), first)]),
    ],
    history_revocation: [historyFile([start, turn, revocation(second, T2, entryDigest(turn), first, T3)]), historyFile([start, turn, revocation(second, T2, entryDigest(turn), paper, T3)])],
    history_kind: [historyFile([start, { ...turn, kind: 'gift' }]), historyFile([start, start])],
    proof_key: [historyFile([start, later('rotation', statement(second, T2, entryDigest(start)), second)])],
    proof_created: [historyFile([proved(start, first, T2)])],
    proof_value: [historyFile([proved(start, first, T1, { high: true })])],
    proof_signature: [historyFile([{ ...start, reason: 'other words' }])],
    json_bytes: [new Uint8Array(256 * 1024 + 1)],
  };
  for (const [rule, files] of Object.entries(bad)) {
    for (const [at, file] of files.entries()) await assert.rejects(readHistory(file), (problem) => assert.deepEqual([at, problem.rule], [at, rule], problem.stack) ?? true);
  }
  const many = Array.from({ length: 201 }, () => start);
  await assert.rejects(read(...many), (problem) => problem.rule === 'history_entries');
});

test('any byte of a history that is changed is seen', async () => {
  const bytes = historyFile([start, turn, found]);
  for (let at = 0; at < bytes.length; at += 83) {
    const bad = bytes.slice();
    bad[at] ^= 1;
    await assert.rejects(readHistory(bad), (problem) => typeof problem.rule === 'string', `byte ${at}`);
  }
});

test('rows of the standing of a record', async () => {
  const stolen = revocation(second, '2026-04-01T00:00:00Z', entryDigest(found), third, T4);
  const history = await read(start, turn, found, stolen);
  const table = [
    [otherPaper, T2, null, 'not_in_history', 0],
    [first, '2025-12-31T23:59:59Z', null, 'too_early', 1],
    [first, T1, null, 'in_force', 0],
    [first, '2026-02-28T23:59:59Z', null, 'in_force', 0],
    [first, T2, null, 'too_late', 1],
    [second, T2, null, 'revoked_unproved', 2],
    [second, T2, '2026-03-31T23:59:59Z', 'revoked_proved', 0],
    [second, T2, '2026-04-01T00:00:00Z', 'revoked_unproved', 2],
    [second, '2026-04-01T00:00:00Z', T2, 'revoked', 1],
    [second, T3, T2, 'too_late', 1],
    [third, T4, null, 'in_force', 0],
  ];
  for (const [by, issuedAt, proof, standing, weight] of table) {
    assert.equal(standingOf(history, by.did, issuedAt, proof), standing, `${by.did} ${issuedAt}`);
    assert.deepEqual(standingIn(settleHistories([history]), by.did, issuedAt, proof), { standing, weight });
  }
});

test('histories agree or fork', async () => {
  const short = await read(start);
  const long = await read(start, turn);
  const fork = await read(start, later('rotation', statement(third, T2, entryDigest(start)), first));
  const stranger = await read(statement(paper, T1));
  assert.deepEqual([[short, short], [short, long], [long, short], [long, fork], [long, stranger]].map(([one, other]) => compareHistories(one, other)), ['same', 'shorter', 'longer', 'fork', 'other']);
  assert.deepEqual(settleHistories([short, long, stranger]).histories.map(({ digests }) => digests.length), [2, 1]);
  const settled = settleHistories([short, long, fork, stranger]);
  assert.deepEqual([settled.histories.length, settled.forked.length], [1, 3]);
  // Whatever the order: where two of one first key disagree, none of that key is relied on.
  const orders = [[short, long, fork], [short, fork, long], [long, short, fork], [long, fork, short], [fork, short, long], [fork, long, short]];
  for (const order of orders) assert.deepEqual([settleHistories(order).histories, settleHistories(order).forked.length], [[], 3]);
  assert.equal(settleHistories([long, fork, long]).forked.length, 2);
});

test('two histories with other first keys and a key in common: neither is relied on', async () => {
  const stolen = revocation(second, T2, entryDigest(turn), otherPaper, T3);
  const workshop = await read(start, turn, stolen);
  // Whoever has the revoked key begins a history of their own with it.
  const own = statement(second, T2);
  const thief = await read(own, later('rotation', statement(third, T3, entryDigest(own)), second));
  const apart = await read(statement(paper, T1));
  const settled = settleHistories([workshop, thief, apart]);
  assert.deepEqual([settled.histories, settled.forked], [[apart], [workshop, thief]]);
  for (const by of [first, second, third]) assert.deepEqual(standingIn(settled, by.did, T4, null), { standing: 'two_histories', weight: 1 });
  assert.deepEqual(standingIn(settled, paper.did, T4, null), { standing: 'in_force', weight: 0 });
});

test('ways from one key to another', async () => {
  const plain = await read(start, turn, later('rotation', statement(third, T3, entryDigest(turn)), second));
  assert.deepEqual([pathBetween(plain, first.did, third.did), pathBetween(plain, third.did, first.did), pathBetween(plain, first.did, paper.did)], ['rotation', 'rotation', null]);
  const recovered = await read(start, turn, found);
  assert.deepEqual([pathBetween(recovered, first.did, second.did), pathBetween(recovered, first.did, third.did), pathBetween(recovered, third.did, second.did)], ['rotation', 'recovery', 'recovery']);
  const thief = later('rotation', statement(third, T3, entryDigest(turn)), second);
  const told = revocation(second, T2, entryDigest(thief), third, T4);
  assert.equal(pathBetween(await read(start, turn, thief, told), second.did, third.did), 'recovery');
});

test('chains', () => {
  const link = (sequence, name, previous, more = {}) => ({ file: `${sequence}${name}`, sequence, name, previous, blade: 'reed', issued_at: `2026-0${sequence}-01T00:00:00Z`, ...more });
  const a = link(1, 'a', null);
  const b = link(2, 'b', 'a');
  const c = link(3, 'c', 'b');
  const table = [
    [[a, b, c], 'whole'], [[c, a, b], 'whole'], [[b, c], 'incomplete'], [[a], 'whole'], [[c], 'incomplete'], [[a, c], 'broken'], [[a, c], 'incomplete', [2]], [[a, b, link(3, 'c', 'a')], 'broken'],
    [[a, b, link(2, 'x', 'a'), c], 'broken'], [[a, link(1, 'x', null)], 'broken'], [[link(1, 'a', 'z')], 'broken'], [[link(2, 'b', null)], 'broken'], [[a, link(2, 'b', 'b')], 'broken'],
    [[a, link(2, 'b', 'a', { blade: 'dune' })], 'broken'], [[a, link(2, 'b', 'a', { issued_at: '2025-01-01T00:00:00Z' })], 'broken'], [[a, link(2, 'b', 'a', { issued_at: a.issued_at })], 'whole'],
    [[a, link(3, 'c', 'b', { blade: 'dune' })], 'broken', [2]], [[a, link(9, 'i', 'h')], 'broken', [2, 3, 4, 5, 6, 7]], [[], 'incomplete'],
  ];
  for (const [at, [links, state, unread]] of table.entries()) assert.deepEqual([at, judgeChain(links, new Set(unread)).state], [at, state]);
  assert.deepEqual(judgeChain([a, b, link(2, 'x', 'a')]).forks, [['2b', '2x']]);
  // One blade has a fork, two blades have none.
  assert.deepEqual(judgeChain([a, b, link(2, 'x', 'a', { blade: 'another' })]).forks, []);
  assert.deepEqual(judgeChain([c]).missing, [1, 2]);
  // A number near the greatest whole number costs no time.
  assert.equal(judgeChain([a, link(9007199254740991, 'z', 'y', { issued_at: '2027-01-01T00:00:00Z' })]).state, 'broken');
});
