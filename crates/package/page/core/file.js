// One file by itself, with what was handed in beside it: a record, a report, or a package.

import { latinOf, reasonOf, textOf } from './text.js';
import { isObject, readJson } from './json.js';
import { judgeChain } from './chain.js';
import { readHistory } from './history.js';
import { judgePackage } from './package.js';
import { isForeign, judgeRecord } from './record.js';
import { judgeReport } from './report.js';
import { checkRevealed } from './reveal.js';
import { judgeToken, readAuthorities } from './timestamp.js';
import { keysOfWorkshop, stands } from './parts.js';
import { checkDisclosures, readDisclosures, revealed, stillWithheld } from './withhold.js';
import { fingerprintsOf, heavierSigner, heaviest, isForked, pagesSigner, pagesState, settleHistories, subjectExit, subjectOf } from './verdict.js';

const FORMATS = { 'tangmark disclosures 1': 'disclosures', 'tangmark key history 1': 'key_history' };

// What a file is, by its bytes and then by its name:
// `record`, `pdf`, `zip`, `disclosures`, `key_history`, `timestamp`, `photo`, `other`.
export function fileKind(bytes, name = '') {
  const head = latinOf(bytes, 0, Math.min(16, bytes.length));
  if (head.startsWith('%PDF') || /\.pdf$/i.test(name)) return 'pdf';
  if (head.startsWith('PK\u0003\u0004') || head.startsWith('PK\u0005\u0006') || /\.zip$/i.test(name)) return 'zip';
  if (/^\u00ff\u00d8|^\u0089PNG|^II\*\u0000|^MM\u0000\*/.test(head)) return 'photo';
  if (/\.tsr$/i.test(name)) return 'timestamp';
  if (/^[\s\ufeff\u00ef\u00bb\u00bf]*[{[]/.test(head) || /\.json$/i.test(name)) return kindOfJson(bytes);
  return head.startsWith('0\u0082') || head.startsWith('0\u0081') ? 'timestamp' : 'other';
}

function kindOfJson(bytes) {
  try {
    const value = readJson(bytes);
    return (isObject(value) && Object.hasOwn(FORMATS, String(value.format)) && FORMATS[value.format]) || 'record';
  } catch (problem) {
    reasonOf(problem);
    const format = /"format"\s*:\s*"(tangmark [a-z ]+ 1)"/.exec(textOf(bytes) ?? '');
    return (format && FORMATS[format[1]]) || 'record';
  }
}

// Why a record beside the one judged does not count, or null (record-format.md, "Chain"): it does not stand, which its state
// tells, or it is of another blade (`other_blade`).
function leftOut(other, main, bytes) {
  const { state, signed, rule, reason } = other;
  if (!stands(other)) return { state: isForeign(other, bytes) ? 'cannot_judge' : state, signed, rule, reason };
  const isOfAnother = stands(main) && main.link !== null && other.link?.blade !== main.link.blade;
  return isOfAnother ? { state: 'other_blade', signed, rule, reason: 'a record of another blade' } : null;
}

// The key histories beside a record, read; the rest is found by judgeBeside.
async function historiesBeside(beside) {
  const found = { records: {}, left_out: {}, reports: {}, disclosures: {}, keys: {}, timestamps: {}, read: new Map(), settled: null };
  for (const { path, bytes } of beside) if (fileKind(bytes, path) === 'key_history') await addHistory(found, path, bytes);
  return found;
}

// Adds verdicts on what lies beside a record, by path; the records left out; and all histories settled: those at hand, and
// `within`, that of the report.
async function judgeBeside(found, beside, main, reader, atHand, within) {
  for (const { path, bytes } of beside) {
    const kind = fileKind(bytes, path);
    if (kind === 'record') {
      const other = { ...(await judgeRecord(bytes, reader.schema)), file: path };
      const left = leftOut(other, main, bytes);
      if (left === null) found.records[path] = other;
      else found.left_out[path] = left;
    }
  }
  found.settled = settleHistories([...atHand, ...within]);
  const issuers = [main, ...Object.values(found.records)].filter(({ state }) => state !== 'altered').map(({ issuer }) => issuer);
  for (const [path, history] of found.read) {
    const entry = found.keys[path];
    if (isForked(history, [...atHand, ...within])) entry.state = 'fork';
    else if (!entry.statements.some(({ key }) => issuers.includes(key))) entry.state = 'no_issuer';
  }
  const given = await readAuthorities(reader.authorities ?? []);
  for (const { path, bytes } of beside) {
    const kind = fileKind(bytes, path);
    const targets = [main, ...Object.values(found.records)].filter(stands);
    if (kind === 'disclosures') found.disclosures[path] = await fitDisclosures(bytes, targets, reader.schema);
    if (kind === 'timestamp') found.timestamps[path] = await fitToken(bytes, targets, given, [...atHand, ...within]);
    if (kind !== 'pdf') continue;
    const report = await judgeReport(bytes, reader, new Map(), atHand);
    const settled = settleHistories([...atHand, ...(report.history ? [report.history] : [])]);
    const key = report.state === 'unaltered' ? await pagesState(report, report.record_verdict, settled, reader) : null;
    found.reports[path] = { ...report, ...key };
  }
}

async function addHistory(found, path, bytes) {
  try {
    const history = await readHistory(bytes);
    found.read.set(path, history);
    found.keys[path] = { state: 'fits', fingerprint: history.fingerprint, statements: history.statements, revocations: history.revocations };
  } catch (problem) {
    found.keys[path] = { state: 'refused', ...reasonOf(problem) };
  }
}

// Finds the record of a file of disclosures by trial.
async function fitDisclosures(bytes, targets, schema) {
  let verdict = { state: 'no_record', reason: 'no record is here' };
  for (const target of targets) {
    try {
      const entries = await readDisclosures(bytes);
      checkDisclosures(target.record, entries);
      checkRevealed(revealed(target.record, entries), schema);
      target.revealed = entries.map(({ path, value }) => ({ path, value }));
      return { state: 'fit', record: target.file, places: target.revealed.map(({ path }) => path) };
    } catch (problem) {
      verdict = verdict.state === 'refused' ? verdict : { state: 'refused', ...reasonOf(problem) };
    }
  }
  return verdict;
}

async function fitToken(bytes, targets, given, histories) {
  let verdict = { state: 'no_record', reason: 'no record is here' };
  for (const target of targets) {
    try {
      return { state: 'fits', record: target.file, ...(await judgeToken(bytes, target.name, given, keysOfWorkshop(target.issuer, histories))) };
    } catch (problem) {
      verdict = verdict.state === 'refused' ? verdict : { state: 'refused', ...reasonOf(problem) };
    }
  }
  return verdict;
}

// What the records at hand say of the one judged: it is a withdrawal itself, the last of the later ones by name, and the later
// one that withdraws it.
function saidLater(main, records) {
  const later = records.filter(({ sequence }) => sequence > main.sequence).sort((one, other) => one.sequence - other.sequence);
  const taking = later.filter(({ purpose, record }) => purpose === 'withdrawal' && record.refers_to?.record === main.name);
  return { is_withdrawal: main.purpose === 'withdrawal', superseded_by: later.at(-1)?.name ?? null, withdrawn_by: taking.at(-1)?.name ?? null };
}

// The files of withdrawals in the order of their numbers.
function withdrawalsAmong(records) {
  return records.filter(({ purpose }) => purpose === 'withdrawal').sort((one, other) => one.sequence - other.sequence).map(({ file }) => file);
}

const FILE_EXIT = {
  records: { altered: 1, cannot_judge: 3 },
  reports: { altered: 1, key_rejected: 1, cannot_judge: 3, key_open: 2 },
  disclosures: { refused: 1 },
  keys: { refused: 1, fork: 1, no_issuer: 2 },
  timestamps: { refused: 1 },
};

// The verdict on one file, in the shape of judgePackage. `beside`: [{ path, bytes }] or bytes alone.
export async function judgeFile(bytes, reader, beside = [], path = 'file') {
  if (fileKind(bytes, path) === 'zip') return judgePackage(bytes, reader);
  // What begins as a PDF is judged as a report, everything else as a record, whatever it is named (verdicts.md, "Bytes").
  const isReport = latinOf(bytes, 0, 4) === '%PDF';
  const others = beside.map((one, at) => (one instanceof Uint8Array ? { path: `beside ${at + 1}`, bytes: one } : one));
  const found = await historiesBeside(others);
  const known = { read: new Map(), keys: {} };
  for (const [number, one] of (reader.histories ?? []).entries()) await addHistory(known, number, one);
  const atHand = [...found.read.values(), ...known.read.values()];
  const report = isReport ? await judgeReport(bytes, reader, new Map(), atHand) : null;
  const main = report ? report.record_verdict ?? null : await judgeRecord(bytes, reader.schema);
  if (!report && isForeign(main, bytes)) Object.assign(main, { state: 'cannot_judge', reason: `no record: ${main.reason}` });
  const about = { ...(main ?? { state: report.state, link: null, issuer: null }), file: path };
  if (report?.revealed) about.revealed = report.revealed;
  if (report?.state === 'cannot_judge' && about.state === 'altered') about.state = 'cannot_judge';
  await judgeBeside(found, others, about, reader, atHand, report?.history ? [report.history] : []);
  const { settled } = found;
  const linked = [about, ...Object.values(found.records)].filter((one) => one.link !== null && stands(one));
  const distinct = linked.filter((one, at) => linked.findIndex(({ name }) => name === one.name) === at);
  const chain = judgeChain(distinct.map(({ link, file }) => ({ ...link, file })));
  const evidence = Object.values(found.timestamps).filter(({ state, record }) => state === 'fits' && record === path);
  if (report?.timestamp) evidence.push(report.timestamp);
  const subject = { file: path, ...(await subjectOf(about, chain, settled, evidence, reader)) };
  if (stands(about)) Object.assign(subject.completeness, saidLater(about, distinct));
  if (report?.key && main?.signed) subject.signer = heavierSigner(subject.signer, await pagesSigner(report, main, settled, reader));
  if (report && report.state !== 'unaltered') subject.bytes = { state: report.state, reason: report.reason, name: main?.name ?? null };
  const parts = {
    records: main ? { [path]: about, ...found.records } : found.records,
    disclosures: found.disclosures, photos: {},
    reports: report ? { [path]: report, ...found.reports } : found.reports,
    keys: found.keys, timestamps: found.timestamps,
  };
  const codes = [subjectExit(subject)];
  for (const [part, table] of Object.entries(FILE_EXIT)) for (const { state } of Object.values(parts[part])) codes.push(table[state] ?? 0);
  const fingerprints = await fingerprintsOf([...Object.values(parts.records).map(({ issuer }) => issuer), ...settled.histories.flatMap(({ statements }) => statements.map(({ key }) => key))]);
  const withheld = stands(about) ? stillWithheld(about.record, about.revealed ?? []) : [];
  const withdrawals = stands(about) ? withdrawalsAmong(distinct) : [];
  return { exit: heaviest(codes), refused: null, bag: null, chain, ...parts, left_out: found.left_out, schema: null, page: null, subject, withdrawals, fingerprints, withheld };
}
