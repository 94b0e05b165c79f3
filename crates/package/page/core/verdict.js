// The four answers on one record, and the exit code.
// bytes:        intact, same_content, altered, cannot_judge
// signer:       known, succeeded, recovered, new, not_in_force (with `standing`: too_early, too_late), revoked, revoked_unproved,
//               two_histories, cannot_judge
// time:         own_word (nobody else says so), not_later_than, stated_later (the time stated is after the evidence; both with
//               the authority's `standing`: trusted, unknown, workshop), future (after the reader's clock), cannot_judge
// completeness: whole, incomplete, broken, cannot_judge; of a loose file with is_withdrawal, superseded_by and withdrawn_by (names
//               of records, or null)

import { compareHistories, pathBetween, standingOf } from './history.js';
import { fingerprintOf, plainFingerprint } from './key.js';

const ORDER = [0, 2, 3, 1];

// The heaviest of exit codes: 1, then 3, then 2, then 0.
export function heaviest(codes) {
  return codes.reduce((most, code) => (ORDER.indexOf(code) > ORDER.indexOf(most) ? code : most), 0);
}

// Those of one first key that agree, as the longest of them; or all of them where two do not.
function settleGroup(group) {
  const longest = group.reduce((most, one) => (one.digests.length > most.digests.length ? one : most));
  // All agree exactly where each is the beginning of the longest.
  if (!group.some((one) => compareHistories(longest, one) === 'fork')) return { agreed: [longest], forked: [] };
  return { agreed: [], forked: group.filter((one, at) => group.findIndex((other) => compareHistories(one, other) === 'same') === at) };
}

// The longest of each set of histories that agree. Those that do not agree are `forked`: of one first key, or of two first
// keys with a key in common.
export function settleHistories(histories) {
  const groups = new Map();
  for (const history of histories) groups.set(history.first, [...(groups.get(history.first) ?? []), history]);
  const holders = new Map();
  for (const [first, group] of groups) {
    for (const { statements } of group) for (const { key } of statements) holders.set(key, (holders.get(key) ?? new Set()).add(first));
  }
  const crossing = new Set([...holders.values()].filter(({ size }) => size > 1).flatMap((firsts) => [...firsts]));
  const settled = { histories: [], forked: [] };
  for (const [first, group] of groups) {
    const { agreed, forked } = settleGroup(group);
    (crossing.has(first) ? settled.forked : settled.histories).push(...agreed);
    settled.forked.push(...forked);
  }
  return settled;
}

// Whether one of the others disagrees with a history: goes on otherwise, or has a key of it and another first key.
export function isForked(history, others) {
  return others.some((other) => {
    const found = compareHistories(history, other);
    return found === 'fork' || (found === 'other' && history.statements.some(({ key }) => naming([other], key).length > 0));
  });
}

function naming(histories, key) {
  return histories.filter(({ statements }) => statements.some((statement) => statement.key === key));
}

const STANDING_WEIGHTS = { two_histories: 1, too_early: 1, too_late: 1, revoked: 1, revoked_unproved: 2 };

// What the histories say of a record: { standing, weight }.
export function standingIn(settled, key, issuedAt, provedBy) {
  const [history] = naming(settled.histories, key);
  let standing = history ? standingOf(history, key, issuedAt, provedBy) : 'not_in_history';
  if (naming(settled.forked, key).length > 0) standing = 'two_histories';
  return { standing, weight: STANDING_WEIGHTS[standing] ?? 0 };
}

// The state of the signer line; the rows of key-history-format.md, "The signer of a record", in their order.
export async function signerOf(record, settled, provedBy, reader) {
  const { issuer: key, fingerprint, issuer_name: name } = record;
  if (!record.signed) return { state: 'cannot_judge', reason: 'there is no signature that holds' };
  const { standing } = standingIn(settled, key, record.issued_at, provedBy);
  const facts = { fingerprint, key, name, standing };
  const here = naming(settled.histories, key);
  if (standing === 'two_histories') return { ...facts, state: standing };
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

const WITNESSES = ['trusted', 'unknown', 'workshop'];

// The earliest time of the evidence by authorities that the reader trusts, or null.
export function earliestTrusted(evidence) {
  return evidence.filter(({ authority }) => authority === 'trusted').map(({ time }) => time).sort()[0] ?? null;
}

// The best evidence: by an authority that the reader trusts, then by one that is not the workshop; of these the earliest.
function bestOf(evidence) {
  const rank = ({ authority, time }) => `${WITNESSES.indexOf(authority)} ${time}`;
  return evidence.reduce((best, one) => (best === null || rank(one) < rank(best) ? one : best), null);
}

// The rows of verdicts.md, "Time", by the order of their weight for the reader.
function timeOf(record, evidence, now) {
  const stated = record.issued_at ?? null;
  if (!record.signed || stated === null) return { state: 'cannot_judge', stated, evidence: [] };
  const best = bestOf(evidence);
  const seen = best && { time: best.time, who: best.who, standing: best.authority };
  if (best && stated > best.time) return { state: 'stated_later', stated, ...seen, evidence };
  if (now && stated > now) return { state: 'future', stated, evidence };
  return best ? { state: 'not_later_than', stated, ...seen, evidence } : { state: 'own_word', stated, evidence };
}

// `record`: of judgeRecord. `chain`: of judgeChain over it and what stands beside it. `evidence`: time evidence for it.
export async function subjectOf(record, chain, settled, evidence, reader) {
  const bytes = { state: record.state, reason: record.reason, where: record.where, name: record.name };
  const signer = await signerOf(record, settled, earliestTrusted(evidence), reader);
  const time = timeOf(record, evidence, reader.now);
  const judged = record.link !== null && (record.state === 'intact' || record.state === 'same_content');
  const completeness = judged ? { state: chain.state, missing: chain.missing, forks: chain.forks, reason: chain.faults[0]?.reason ?? null } : { state: 'cannot_judge' };
  return { bytes, signer, time, completeness };
}

// The signer line of the pages of a report, by the key that signed them: as if a later key signed when it came into use.
// Only a token over the signature of the report says when the pages were there. `record`: the record in it.
export async function pagesSigner(report, record, settled, reader) {
  const later = report.key === record.issuer ? null : report.history.statements.find(({ key }) => key === report.key);
  const pages = { signed: true, issuer: report.key, fingerprint: report.fingerprint, issuer_name: record.issuer_name, issued_at: later?.from ?? record.issued_at };
  return signerOf(pages, settled, earliestTrusted(report.timestamp ? [report.timestamp] : []), reader);
}

// What the key under the pages makes of an unaltered report: `key_rejected`, `key_open`, or null.
export async function pagesState(report, record, settled, reader) {
  const signer = await pagesSigner(report, record, settled, reader);
  const exit = SIGNER_EXIT[signer.state] ?? 0;
  if (exit === 1) return { state: 'key_rejected', signer, reason: `the key that signed the pages: ${signer.state}` };
  // A token over the record's name clears the record of a revoked key, never the pages.
  const asks = report.key !== record.issuer || signer.state === 'revoked_unproved';
  return exit === 2 && asks ? { state: 'key_open', signer, reason: `the key that signed the pages: ${signer.state}` } : null;
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
  // What somebody took back, or said more of later, is not to be relied on unread.
  codes.push(completeness.is_withdrawal || completeness.superseded_by ? 2 : 0);
  return heaviest(codes);
}
