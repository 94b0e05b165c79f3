// One record: are these the bytes that were sealed (record-format.md)?
// States: `intact`, `same_content`, `altered`, `cannot_judge`.

import { FAULT, hexOf, latinOf, reasonOf, refuse, sameBytes } from './text.js';
import { isObject, readJson } from './json.js';
import { canonicalPair } from './canonical.js';
import { fingerprintOf, sha256 } from './key.js';
import { checkProof } from './proof.js';
import { digestOfSchema, schemaCheck } from './schema.js';
import { checkInputs, checkRules } from './rules.js';
import { isUtcTime } from './times.js';

const SCHEMA_ID = 'tangmark-record';
const SCHEMA_VERSION = 1;
const NAME_FORM = /^[0-9a-f]{64}$/;

// Whether bytes that are no record, by their verdict, speak of none either: another file, not one of ours that was changed.
export function isForeign({ state, signed }, bytes) {
  return state === 'altered' && !signed && !latinOf(bytes).includes(SCHEMA_ID);
}

// What the chain needs of a record, or null where a part of it is not there in its known form.
function linkOf(record, name) {
  const { sequence, previous, issued_at: issuedAt } = record;
  const blade = isObject(record.blade) ? record.blade.id : undefined;
  const fits =
    Number.isInteger(sequence) && sequence >= 1 && (previous === null || (typeof previous === 'string' && NAME_FORM.test(previous))) &&
    typeof issuedAt === 'string' && typeof blade === 'string';
  return fits ? { sequence, previous, issued_at: issuedAt, blade, name } : null;
}

// Looks at the schema that the record names, then at schema and rules. True: held; false: cannot be interpreted here.
async function interpret(record, schema) {
  const named = record.schema;
  if (!isObject(named) || named.id !== SCHEMA_ID || named.version !== SCHEMA_VERSION) return false;
  if (named.digest !== (await digestOfSchema(schema))) refuse('schema_named', 'the record names another schema of version 1', '/schema/digest');
  const fault = schemaCheck(schema)(record);
  if (fault) refuse('schema', `${fault.place || 'the record'} ${fault.message}`, fault.place);
  checkRules(record);
  await checkInputs(record);
  return true;
}

// { state, signed: its proof holds, reason, rule, where, sequence, purpose, name, issuer, issuer_name, fingerprint, issued_at, record, link }.
// `schema`: the bytes of the published schema file.
export async function judgeRecord(bytes, schema) {
  const verdict = { state: 'altered', signed: false, reason: null, rule: null, where: null, record: null, link: null };
  try {
    const record = readJson(bytes);
    verdict.record = record;
    if (!isObject(record)) refuse('record_form', 'no record: the value is no object');
    const { whole, document } = canonicalPair(record);
    const digest = await sha256(document);
    verdict.name = hexOf(digest);
    Object.assign(verdict, await factsOf(record));
    if (!isObject(record.issuer)) refuse('record_form', 'the record names no issuer', '/issuer');
    if (!isUtcTime(record.issued_at)) refuse('time', 'the record has no time of sealing', '/issued_at');
    const isLower = await checkProof(digest, record.proof, record.issuer.id, record.issued_at);
    verdict.signed = true;
    verdict.link = linkOf(record, verdict.name);
    const known = await interpret(record, schema);
    if (!known) verdict.state = 'cannot_judge';
    // Signers use the lower s: with the higher one the bytes are not those that were sealed.
    else verdict.state = isLower && sameBytes(whole, bytes) ? 'intact' : 'same_content';
    if (!known) verdict.reason = 'the signature fits; the record names a schema that is not known here';
    if (verdict.state === 'same_content') verdict.reason = 'the same content, not the sealed bytes';
  } catch (problem) {
    Object.assign(verdict, reasonOf(problem));
    verdict.state = verdict.rule === FAULT ? 'cannot_judge' : 'altered';
  }
  return verdict;
}

async function factsOf(record) {
  const text = (value) => (typeof value === 'string' ? value : null);
  const issuer = isObject(record.issuer) ? record.issuer : {};
  return {
    sequence: Number.isInteger(record.sequence) ? record.sequence : null,
    purpose: text(record.purpose),
    issued_at: text(record.issued_at),
    issuer: text(issuer.id),
    issuer_name: text(issuer.name),
    fingerprint: await fingerprintOf(issuer.id),
  };
}
