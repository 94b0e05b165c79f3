// The four answers on one record, and the exit code.
// bytes:        intact, same_content, altered, cannot_judge
// signer:       known, succeeded, recovered, new, not_in_force (with `standing`: too_early, too_late), revoked, revoked_unproved,
//               two_histories, cannot_judge
// time:         stated (nobody else says so), proved (not later than), later_than_proved (the time stated is after the proof),
//               in_future (after the reader's clock), cannot_judge
// completeness: whole, incomplete, broken, cannot_judge

import { compareHistories, pathBetween, standingOf } from './history.js';
import { fingerprintOf, plainFingerprint } from './key.js';

const ORDER = [0, 2, 3, 1];

// The heaviest of exit codes: 1, then 3, then 2, then 0.
export function heaviest(codes) {
  return codes.reduce((most, code) => (ORDER.indexOf(code) > ORDER.indexOf(most) ? code : most), 0);
}

// The longest of each set of histories that agree; those that do not agree stand in `forked` by their first key.
export function settleHistories(histories) {
  const byFirst = new Map();
  const forked = new Map();
  for (const history of histories) {
    const known = byFirst.get(history.first);
    const how = known && compareHistories(history, known);
    if (how === 'fork') forked.set(history.first, [...(forked.get(history.first) ?? [known]), history]);
    else if (known === undefined || how === 'longer') byFirst.set(history.first, history);
  }
  return { histories: [...byFirst.values()].filter(({ first }) => !forked.has(first)), forked: [...forked.values()].flat() };
}

function naming(histories, key) {
  return histories.filter(({ statements }) => statements.some((statement) => statement.key === key));
}

const STANDING_WEIGHTS = { too_early: 1, too_late: 1, revoked: 1, revoked_unproved: 2 };

// What the histories say of a record: { standing, weight }; of several the heaviest.
export function standingIn(settled, key, issuedAt, provedBy) {
  const standings = naming([...settled.histories, ...settled.forked], key).map((history) => standingOf(history, key, issuedAt, provedBy));
  const weights = standings.map((standing) => STANDING_WEIGHTS[standing] ?? 0);
  const weight = heaviest(weights);
  return { standing: standings[weights.indexOf(weight)] ?? 'not_in_history', weight };
}

// The state of the signer line; the rows of key-history-format.md, "The signer of a record", in their order.
export async function signerOf(record, settled, provedBy, reader) {
  const { issuer: key, fingerprint, issuer_name: name } = record;
  if (record.state === 'altered' || !record.signed) return { state: 'cannot_judge', reason: 'there is no signature that holds' };
  const { standing } = standingIn(settled, key, record.issued_at, provedBy);
  const facts = { fingerprint, key, name, standing };
  const here = naming(settled.histories, key);
  if (naming(settled.forked, key).length > 0 || here.length > 1) return { ...facts, state: 'two_histories' };
  if (standing === 'too_early' || standing === 'too_late') return { ...facts, state: 'not_in_force' };
  if (standing === 'revoked' || standing === 'revoked_unproved') return { ...facts, state: standing };
  const typed = (reader.fingerprints ?? []).map(plainFingerprint).filter((one) => one !== null);
  if (typed.includes(fingerprint)) return { ...facts, state: 'known' };
  const ways = [];
  for (const history of here) {
    for (const statement of history.statements) {
      const shown = await fingerprintOf(statement.key);
      if (typed.includes(shown)) ways.push({ path: pathBetween(history, statement.key, key), known: shown, since: statement.from });
    }
  }
  const way = ways.find(({ path }) => path === 'rotation') ?? ways[0];
  if (way) return { ...facts, state: way.path === 'rotation' ? 'succeeded' : 'recovered', known: way.known, since: way.since };
  return { ...facts, state: 'new', ...(typed.length > 0 ? { reason: 'none of the fingerprints that were given is this one' } : {}) };
}

function timeOf(record, evidence, now) {
  if (record.state === 'altered' || !record.signed) return { state: 'cannot_judge', stated: record.issued_at ?? null, evidence: [] };
  const trusted = evidence.filter(({ authority }) => authority === 'trusted').map(({ time }) => time).sort();
  const stated = record.issued_at;
  const times = { stated, not_later_than: trusted[0] ?? null, evidence };
  if (trusted.length > 0) return { ...times, state: stated > trusted[0] ? 'later_than_proved' : 'proved' };
  if (now && stated > now) return { ...times, state: 'in_future' };
  return { ...times, state: 'stated' };
}

// `record`: of judgeRecord. `chain`: of judgeChain over it and what stands beside it. `evidence`: time evidence for it.
export async function subjectOf(record, chain, settled, evidence, reader) {
  const trusted = evidence.filter(({ authority }) => authority === 'trusted').map(({ time }) => time).sort();
  const bytes = { state: record.state, reason: record.reason, where: record.where, name: record.name };
  const signer = await signerOf(record, settled, trusted[0] ?? null, reader);
  const time = timeOf(record, evidence, reader.now);
  const judged = record.link !== null && record.state !== 'altered';
  const completeness = judged ? { state: chain.state, missing: chain.missing, forks: chain.forks, reason: chain.faults[0]?.reason ?? null } : { state: 'cannot_judge' };
  return { bytes, signer, time, completeness };
}

const SIGNER_EXIT = { not_in_force: 1, revoked: 1, two_histories: 1, cannot_judge: 3, new: 2, recovered: 2, revoked_unproved: 2 };

// Of two states of the signer the one that weighs more; the first of equal ones.
export function heavierSigner(one, other) {
  const [first, second] = [one, other].map(({ state }) => SIGNER_EXIT[state] ?? 0);
  return first !== second && heaviest([first, second]) === second ? other : one;
}

// Fingerprints by did:key, for those who show them.
export async function fingerprintsOf(keys) {
  const found = {};
  for (const key of keys) if (typeof key === 'string') found[key] = await fingerprintOf(key);
  return found;
}

// The exit code of the four answers.
export function subjectExit({ bytes, signer, completeness }) {
  const codes = [{ altered: 1, cannot_judge: 3 }[bytes.state] ?? 0];
  codes.push(SIGNER_EXIT[signer.state] ?? 0);
  codes.push(completeness.state === 'broken' ? 1 : 0);
  return heaviest(codes);
}
