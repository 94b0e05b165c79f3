// The key history of a workshop (key-history-format.md): read, compared, and what it says of a record.

import { hexOf, Refusal, refuse } from './text.js';
import { isObject, readJson } from './json.js';
import { canonicalBytes, without } from './canonical.js';
import { fingerprintOf, isPrintedKey, pointOfDid, sha256, sha256Hex } from './key.js';
import { checkProof } from './proof.js';
import { isUtcTime } from './times.js';

const HISTORY_LIMITS = { bytes: 256 * 1024, levels: 32, values: 200000 };
const MOST_ENTRIES = 200;
const HEX_DIGEST = /^[0-9a-f]{64}$/;

function members(object, names, where) {
  if (!isObject(object)) refuse('history_form', 'no object', where);
  if (Object.keys(object).sort().join() !== [...names].sort().join()) refuse('history_members', 'other members than the page names', where);
}

function text(value, where) {
  if (typeof value !== 'string') refuse('history_form', 'no text', where);
}

class HistoryReader {
  constructor() {
    this.statements = [];
    this.revocations = [];
    this.digests = [];
    this.time = '';
  }

  inForce() {
    return this.statements[this.statements.length - 1];
  }

  isRevoked(key) {
    return this.revocations.some((entry) => entry.key === key);
  }

  async statement(statement, how, where) {
    const first = this.statements.length === 0;
    members(statement, ['key', 'from', 'reason', 'recovery_digest', 'proof', ...(first ? [] : ['previous'])], where);
    const { key, from } = statement;
    text(key, `${where}/key`);
    text(statement.reason, `${where}/reason`);
    if (pointOfDid(key) === null) refuse('history_key', 'no did:key on P-256', `${where}/key`);
    if (isPrintedKey(key)) refuse('history_key', 'the private half of this key is printed in a specification', `${where}/key`);
    if (this.statements.some((other) => other.key === key)) refuse('history_key', 'a key stands in two statements', `${where}/key`);
    if (!isUtcTime(from)) refuse('history_time', 'no time', `${where}/from`);
    text(statement.recovery_digest, `${where}/recovery_digest`);
    if (!HEX_DIGEST.test(statement.recovery_digest)) refuse('history_form', 'no digest', `${where}/recovery_digest`);
    if (!first) {
      this.follows(statement.previous, `${where}/previous`);
      if (from <= this.inForce().from) refuse('history_time', '`from` is not later than the one before', `${where}/from`);
      this.forwards(from, `${where}/from`);
    }
    await this.proof(without(statement, 'proof'), statement.proof, key, from, where);
    this.time = from;
    return { key, from, reason: statement.reason, recovery_digest: statement.recovery_digest, how };
  }

  follows(previous, where) {
    if (previous !== this.digests[this.digests.length - 1]) refuse('history_previous', 'not the digest of the entry before', where);
  }

  forwards(time, where) {
    if (time < this.time) refuse('history_time', 'the time of an entry runs back', where);
  }

  async proof(document, proof, did, created, where) {
    try {
      await checkProof(await sha256(canonicalBytes(document)), proof, did, created, true);
    } catch (problem) {
      if (problem instanceof Refusal) refuse(problem.rule, problem.message, where);
      throw problem;
    }
  }

  // The did of the recovery key that a proof names, or null where it is not the one announced.
  async recoveryKey(proof) {
    const named = typeof proof?.verificationMethod === 'string' ? proof.verificationMethod.split('#')[0] : '';
    const point = pointOfDid(named);
    if (point === null || isPrintedKey(named)) return null;
    return hexOf(await sha256(point)) === this.inForce().recovery_digest ? named : null;
  }

  async entry(entry, where) {
    if (this.statements.length === 0) {
      this.statements.push(await this.statement(entry, 'first', where));
    } else if (isObject(entry) && (entry.kind === 'rotation' || entry.kind === 'recovery')) {
      members(entry, ['kind', 'statement', 'proof'], where);
      const before = this.inForce();
      const signer = entry.kind === 'recovery' ? await this.recoveryKey(entry.proof) : this.isRevoked(before.key) ? null : before.key;
      if (signer === null) refuse('history_signer', 'not signed by a key that may sign it: the recovery key that was announced, or a key that is not revoked', where);
      const statement = await this.statement(entry.statement, entry.kind, `${where}/statement`);
      await this.proof(without(entry, 'proof'), entry.proof, signer, statement.from, where);
      this.statements.push(statement);
    } else if (isObject(entry) && entry.kind === 'revocation') {
      await this.revocation(entry, where);
    } else refuse('history_kind', 'no kind of entry that this version knows', where);
    this.digests.push(await sha256Hex(canonicalBytes(without(entry, 'proof'))));
  }

  async revocation(entry, where) {
    members(entry, ['kind', 'key', 'since', 'reason', 'previous', 'proof'], where);
    text(entry.reason, `${where}/reason`);
    this.follows(entry.previous, `${where}/previous`);
    if (!this.statements.some(({ key }) => key === entry.key)) refuse('history_key', 'a key is revoked that no statement names', `${where}/key`);
    if (this.revocations.some(({ key }) => key === entry.key)) refuse('history_key', 'a key is revoked twice', `${where}/key`);
    const created = entry.proof?.created;
    if (!isUtcTime(entry.since) || !isUtcTime(created)) refuse('history_time', 'no time', `${where}/since`);
    if (created < entry.since) refuse('history_time', 'revoked before `since`', `${where}/since`);
    this.forwards(created, where);
    const inForce = this.inForce().key;
    const named = typeof entry.proof.verificationMethod === 'string' ? entry.proof.verificationMethod.split('#')[0] : '';
    const signer = named === inForce && !this.isRevoked(inForce) ? inForce : await this.recoveryKey(entry.proof);
    if (signer === null) refuse('history_revocation', 'signed neither by the key in force nor by the recovery key', where);
    await this.proof(without(entry, 'proof'), entry.proof, signer, created, where);
    this.time = created;
    this.revocations.push({ key: entry.key, since: entry.since, reason: entry.reason });
  }
}

// { first, statements, revocations, digests, fingerprint }. Throws a Refusal.
export async function readHistory(bytes) {
  const file = readJson(bytes, HISTORY_LIMITS);
  members(file, ['format', 'entries'], '');
  if (file.format !== 'tangmark key history 1') refuse('history_form', 'no key history of version 1', '/format');
  if (!Array.isArray(file.entries) || file.entries.length === 0) refuse('history_form', 'no entries', '/entries');
  if (file.entries.length > MOST_ENTRIES) refuse('history_entries', `more than ${MOST_ENTRIES} entries`, '/entries');
  const reader = new HistoryReader();
  for (const [number, entry] of file.entries.entries()) await reader.entry(entry, `/entries/${number}`);
  const { statements, revocations, digests } = reader;
  return { first: statements[0].key, statements, revocations, digests, fingerprint: await fingerprintOf(statements[0].key) };
}

// How two histories stand to each other: `other`, `same`, `longer`, `shorter`, `fork`.
export function compareHistories(one, other) {
  if (one.first !== other.first) return 'other';
  const common = Math.min(one.digests.length, other.digests.length);
  for (let at = 0; at < common; at += 1) if (one.digests[at] !== other.digests[at]) return 'fork';
  if (one.digests.length === other.digests.length) return 'same';
  return one.digests.length > other.digests.length ? 'longer' : 'shorter';
}

// The standing of a record: issuer's key, time stated, and the earliest time that a trusted authority proves, or null.
export function standingOf(history, key, issuedAt, provedBy = null) {
  const at = history.statements.findIndex((statement) => statement.key === key);
  if (at < 0) return 'not_in_history';
  const next = history.statements[at + 1];
  if (issuedAt < history.statements[at].from) return 'too_early';
  if (next !== undefined && issuedAt >= next.from) return 'too_late';
  const revocation = history.revocations.find((entry) => entry.key === key);
  if (revocation === undefined) return 'in_force';
  if (issuedAt >= revocation.since) return 'revoked';
  return provedBy !== null && provedBy < revocation.since ? 'revoked_proved' : 'revoked_unproved';
}

// How a reader who knows the key `from` reaches `to`, forwards or backwards: `rotation`, `recovery`; null: there is no way.
export function pathBetween(history, from, to) {
  const [one, other] = [from, to].map((key) => history.statements.findIndex((statement) => statement.key === key));
  if (one < 0 || other < 0) return null;
  for (let at = Math.min(one, other) + 1; at <= Math.max(one, other); at += 1) {
    const { how, from: since } = history.statements[at];
    const revoked = history.revocations.find(({ key }) => key === history.statements[at - 1].key);
    // A rotation after the key that signed it was revoked: somebody else may have signed it.
    if (how !== 'rotation' || (revoked !== undefined && since >= revoked.since)) return 'recovery';
  }
  return 'rotation';
}
