// Whether a report is unaltered (report-format.md). States: `unaltered`, `altered`, `cannot_judge`.

import { FAULT, fromHex, latinOf, reasonOf, refuse, sameBytes } from './text.js';
import { sha256, sha256Hex, fingerprintOfPoint } from './key.js';
import { readHistory, standingOf } from './history.js';
import { endsWell, takeApart } from './pdffile.js';
import { placeOfSignature, signatureDictionary, STRING_DIGITS } from './pdfplace.js';
import { checkHoldings } from './pdfrules.js';
import { checkCertificate, checkSignature, groundOf, readStructure, structureLength } from './pdfsignature.js';
import { isForeign, judgeRecord } from './record.js';
import { checkRevealed } from './reveal.js';
import { judgeBareToken, readAuthorities } from './timestamp.js';
import { checkDisclosures, readDisclosures, revealed } from './withhold.js';

const MOST_REPORT = 64 * 1024 * 1024;

// Whether the 11 bytes `record.json` stand anywhere.
function hasMark(bytes) {
  const mark = 'record.json';
  for (let at = bytes.indexOf(0x72); at >= 0; at = bytes.indexOf(0x72, at + 1)) {
    let same = 1;
    while (same < mark.length && bytes[at + same] === mark.charCodeAt(same)) same += 1;
    if (same === mark.length) return true;
  }
  return false;
}

// Steps 3 to 5: null, or why nothing can be judged.
function notToJudge(bytes, { range, string }) {
  if (range === null && string === null) return 'there is no signature';
  const numbers = range?.numbers ?? null;
  const isCutOff = range === null || string === null || (numbers !== null && numbers[1] + numbers[2] > bytes.length);
  if (isCutOff && !endsWell(bytes)) return 'the file is cut off';
  if (numbers && string && numbers.every((number) => number === 0)) {
    const digits = latinOf(bytes, string.from + 1, string.to - 1);
    if (/^0+$/.test(digits)) return 'the report was never signed';
  }
  return null;
}

// The grounds A1 to A10 that are broken, and what was read: { grounds, structure, certificate }.
async function grounds(bytes, { range, string }) {
  const broken = [];
  const add = (rule, reason) => broken.push({ rule, reason });
  const numbers = range?.numbers ?? null;
  if (numbers === null) add('A1', 'what the signature covers is missing, or written in another way');
  if (numbers && string && (numbers[0] !== string.from || numbers[1] !== string.to)) add('A2', 'the signature does not cover all but itself');
  if (numbers && numbers[1] + numbers[2] !== bytes.length) add('A3', 'the signature does not reach the end of the file: something was added');
  if (string === null) {
    add('A4', 'the signature itself is missing');
    return { broken };
  }
  const digits = latinOf(bytes, string.from + 1, string.to - 1);
  const isRightForm = digits.length === STRING_DIGITS && /^[0-9a-f]*$/.test(digits);
  if (!isRightForm) {
    add('A5', 'the signature has another length or other digits');
    return { broken };
  }
  const raw = fromHex(digits);
  const length = structureLength(raw);
  if (raw.subarray(length).some((byte) => byte !== 0)) add('A6', 'something stands behind the signature');
  const der = raw.subarray(0, length);
  let structure = null;
  const a7 = await groundOf('A7', () => {
    structure = readStructure(der);
  });
  if (a7) {
    broken.push(a7);
    return { broken };
  }
  if (numbers && numbers[0] <= numbers[1] && numbers[1] + numbers[2] <= bytes.length) {
    const signed = new Uint8Array(numbers[0] + numbers[2]);
    signed.set(bytes.subarray(0, numbers[0]));
    signed.set(bytes.subarray(numbers[1], numbers[1] + numbers[2]), numbers[0]);
    if (!sameBytes(await sha256(signed), structure.digest)) add('A8', 'the bytes were changed after they were signed');
  }
  let certificate = null;
  const a9 = await groundOf('A9', async () => {
    certificate = await checkCertificate(structure.certificate);
  });
  if (a9) broken.push(a9);
  else {
    const a10 = await groundOf('A10', () => checkSignature(der, structure, certificate));
    if (a10) broken.push(a10);
  }
  return { broken, structure, certificate };
}

// K2 and K3: the key of the certificate is the issuer's, or a later one of its history, which is given.
async function checkKey(record, certificate, historyBytes) {
  if (certificate.did === record.issuer && historyBytes === undefined) return null;
  if (historyBytes === undefined) refuse('K2', 'another key than the issuer signed the report');
  const history = await readHistory(historyBytes);
  const at = (key) => history.statements.findIndex((statement) => statement.key === key);
  if (at(record.issuer) < 0 || at(certificate.did) <= at(record.issuer)) refuse('K3', 'the key history names no later key of the issuer that signed');
  if (history.revocations.some(({ key }) => key === certificate.did)) refuse('K3', 'the key that signed the report was revoked');
  const standing = standingOf(history, record.issuer, record.issued_at);
  if (standing !== 'in_force' && standing !== 'revoked_unproved') refuse('K3', 'the key of the record was not in force when it was issued');
  return history;
}

function checkTime(signature, issuedAt) {
  const stated = signature.get('M');
  const isString = stated?.t === 'str' || stated?.t === 'hex';
  if (!isString || stated.v !== `D:${issuedAt.replace(/[-:T]/g, '')}`) refuse('K4', 'the time of the signature is not that of the record');
}

async function checkPdfDisclosures(record, bytes, schema) {
  if (bytes === undefined) return null;
  const entries = await readDisclosures(bytes);
  if (entries.length === 0) refuse('K5', 'disclosures that disclose nothing');
  checkDisclosures(record.record, entries);
  checkRevealed(revealed(record.record, entries), schema);
  return entries.map(({ path, value }) => ({ path, value }));
}

// K1 to K5. Gives what to add to the verdict. Throws a Refusal where the report is altered.
async function judgeInside(reached, files, certificate, schema, known) {
  const inner = files.get('record.json');
  const digest = await sha256Hex(inner);
  const record = known.get(digest) ?? (await judgeRecord(inner, schema));
  const facts = { record: record.record, record_verdict: record, record_name: record.name ?? null, record_digest: digest };
  if (isForeign(record, inner)) return { ...facts, state: 'cannot_judge', rule: 'K1', reason: `what lies in it is no record: ${record.reason}` };
  const isAltered = record.state === 'altered' || record.state === 'same_content';
  const altered = { ...facts, state: 'altered', rule: 'K1', reason: `the record in it: ${record.reason}` };
  if (isAltered && !record.signed) return altered;
  // Where the proof of the record holds, somebody signed both; then the key and the time come first.
  const history = await checkKey(record, certificate, files.get('key-history.json'));
  checkTime(reached.signature, record.issued_at);
  if (isAltered) return { ...altered, history };
  if (record.state === 'cannot_judge') return { ...facts, state: 'cannot_judge', rule: 'K1', reason: record.reason, history };
  const shown = await checkPdfDisclosures(record, files.get('disclosures.json'), schema);
  return { ...facts, state: 'unaltered', revealed: shown, history };
}

// The verdict on the bytes of a PDF: { state, rule, reason, record, record_name, record_digest, fingerprint, … }.
// `known`: verdicts of judgeRecord by the SHA-256 of the bytes, for records that were judged already. `atHand`: key histories.
export async function judgeReport(bytes, reader, known = new Map(), atHand = []) {
  try {
    return await judgeBytes(bytes, reader, known, atHand);
  } catch (problem) {
    return { state: 'cannot_judge', ...reasonOf(problem) };
  }
}

async function judgeBytes(bytes, reader, known, atHand) {
  const cannot = (rule, reason) => ({ state: 'cannot_judge', rule, reason });
  if (bytes.length > MOST_REPORT) return cannot('length', 'more than 64 MiB');
  let file = null;
  let fault = await groundOf(null, () => {
    file = takeApart(bytes);
  });
  const reached = file && signatureDictionary(file);
  const place = placeOfSignature(bytes, reached);
  const stopped = notToJudge(bytes, place);
  if (stopped) return cannot('signature', stopped);
  const { broken, structure, certificate } = await grounds(bytes, place);
  const token = structure?.token ? await groundOf('A7', () => tokenIn(structure, reader, [])) : null;
  if (token) broken.push(token);
  const isAltered = broken.some(({ rule }) => rule === 'A8') || (broken.length > 0 && hasMark(bytes));
  if (isAltered) return { state: 'altered', ...broken[0], grounds: broken };
  if (broken.length > 0) return cannot(broken[0].rule, broken[0].reason);
  if (fault) return cannot(fault.rule, fault.reason);
  let files = null;
  fault = await groundOf(null, () => {
    files = checkHoldings(file, bytes, reached);
  });
  if (fault) return cannot(fault.rule, fault.reason);
  const signer = { fingerprint: await fingerprintOfPoint(certificate.point), key: certificate.did };
  try {
    const inside = await judgeInside(reached, files, certificate, reader.schema, known);
    const own = new Set([certificate.did, inside.record_verdict.issuer]);
    const naming = [...atHand, ...(inside.history ? [inside.history] : [])].filter(({ statements }) => statements.some(({ key }) => own.has(key)));
    for (const { statements } of naming) for (const { key } of statements) own.add(key);
    const timestamp = structure.token ? await tokenIn(structure, reader, own) : null;
    return { ...signer, rule: null, reason: null, timestamp, ...inside };
  } catch (problem) {
    const { rule, reason } = reasonOf(problem);
    return { ...signer, state: rule === FAULT ? 'cannot_judge' : 'altered', rule, reason };
  }
}

// The token in the signature belongs to its form (A7). `own`: keys of the workshop.
async function tokenIn(structure, reader, own) {
  const imprint = await sha256(structure.signature);
  return judgeBareToken(structure.token, imprint, await readAuthorities(reader.authorities ?? []), new Set(own));
}
