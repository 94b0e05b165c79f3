// One file by itself, with what was handed in beside it: a record, a report, or a package.

import { textOf, latinOf } from './text.js';
import { isObject, readJson } from './json.js';
import { judgeChain } from './chain.js';
import { compareHistories, readHistory } from './history.js';
import { judgePackage } from './package.js';
import { isForeign, judgeRecord } from './record.js';
import { judgeReport } from './report.js';
import { checkRevealed } from './reveal.js';
import { judgeToken, readAuthorities } from './timestamp.js';
import { reasonOf } from './parts.js';
import { checkDisclosures, readDisclosures, revealed, stillWithheld } from './withhold.js';
import { fingerprintsOf, heavierSigner, heaviest, settleHistories, signerOf, subjectExit, subjectOf } from './verdict.js';

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

// Verdicts on what lies beside a record, by path; and the histories, the opened disclosures and the evidence found.
async function judgeBeside(beside, main, reader) {
  const found = { records: {}, reports: {}, disclosures: {}, keys: {}, timestamps: {}, histories: [], revealed: [] };
  for (const { path, bytes } of beside) {
    const kind = fileKind(bytes, path);
    if (kind === 'record') found.records[path] = { ...(await judgeRecord(bytes, reader.schema)), file: path };
    else if (kind === 'pdf') found.reports[path] = await judgeReport(bytes, reader);
    else if (kind === 'key_history') await addHistory(found, path, bytes);
  }
  const issuers = [main, ...Object.values(found.records)].filter(({ state }) => state !== 'altered').map(({ issuer }) => issuer);
  for (const entry of Object.values(found.keys)) {
    if (entry.state === 'fits' && !entry.statements.some(({ key }) => issuers.includes(key))) entry.state = 'no_issuer';
  }
  const given = await readAuthorities(reader.authorities ?? []);
  for (const { path, bytes } of beside) {
    const kind = fileKind(bytes, path);
    const targets = [main, ...Object.values(found.records)].filter(({ state }) => state === 'intact' || state === 'same_content');
    if (kind === 'disclosures') found.disclosures[path] = await fitDisclosures(bytes, targets, reader.schema);
    if (kind === 'timestamp') found.timestamps[path] = await fitToken(bytes, targets, given, found.histories);
  }
  return found;
}

async function addHistory(found, path, bytes) {
  try {
    const history = await readHistory(bytes);
    const forked = found.histories.some((other) => compareHistories(other, history) === 'fork');
    found.histories.push(history);
    found.keys[path] = { state: forked ? 'fork' : 'fits', fingerprint: history.fingerprint, statements: history.statements, revocations: history.revocations };
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
    const own = new Set([target.issuer]);
    for (const { statements } of histories) if (statements.some(({ key }) => key === target.issuer)) for (const { key } of statements) own.add(key);
    try {
      return { state: 'fits', record: target.file, ...(await judgeToken(bytes, target.name, given, own)) };
    } catch (problem) {
      verdict = verdict.state === 'refused' ? verdict : { state: 'refused', ...reasonOf(problem) };
    }
  }
  return verdict;
}

const FILE_EXIT = {
  records: { altered: 1, cannot_judge: 3 },
  reports: { altered: 1, cannot_judge: 3 },
  disclosures: { refused: 1 },
  keys: { refused: 1, fork: 1, no_issuer: 2 },
  timestamps: { refused: 1 },
};

// The signer of a report by a later key, as if that key signed when it came into use.
async function laterSigner(report, about, settled, reader) {
  const { from } = report.history.statements.find(({ key }) => key === report.key);
  return signerOf({ ...about, issuer: report.key, fingerprint: report.fingerprint, issued_at: from }, settled, null, reader);
}

// The verdict on one file, in the shape of judgePackage. `beside`: [{ path, bytes }] or bytes alone.
export async function judgeFile(bytes, reader, beside = [], path = 'file') {
  const kind = fileKind(bytes, path);
  if (kind === 'zip') return judgePackage(bytes, reader);
  const others = beside.map((one, at) => (one instanceof Uint8Array ? { path: `beside ${at + 1}`, bytes: one } : one));
  const report = kind === 'pdf' ? await judgeReport(bytes, reader) : null;
  const main = report ? report.record_verdict ?? null : await judgeRecord(bytes, reader.schema);
  if (!report && main.state === 'altered' && isForeign(bytes)) Object.assign(main, { state: 'cannot_judge', reason: `no record: ${main.reason}` });
  const about = { ...(main ?? { state: report.state, link: null, issuer: null }), file: path };
  if (report?.revealed) about.revealed = report.revealed;
  const found = await judgeBeside(others, about, reader);
  const readers = [];
  for (const one of reader.histories ?? []) await addHistory({ histories: readers, keys: {} }, '', one);
  const settled = settleHistories([...found.histories, ...readers, ...(report?.history ? [report.history] : [])]);
  const linked = [about, ...Object.values(found.records)].filter(({ link, state }) => link !== null && ['intact', 'same_content'].includes(state));
  const distinct = linked.filter((one, at) => linked.findIndex(({ name }) => name === one.name) === at);
  const chain = judgeChain(distinct.map(({ link, file }) => ({ ...link, file })));
  const evidence = Object.values(found.timestamps).filter(({ state, record }) => state === 'fits' && record === path);
  if (report?.timestamp) evidence.push(report.timestamp);
  const subject = { file: path, ...(await subjectOf(about, chain, settled, evidence, reader)) };
  if (report?.history) subject.signer = heavierSigner(subject.signer, await laterSigner(report, about, settled, reader));
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
  const isSound = about.state === 'intact' || about.state === 'same_content';
  const withheld = isSound ? stillWithheld(about.record, about.revealed ?? []) : [];
  return { exit: heaviest(codes), refused: null, bag: null, chain, ...parts, schema: null, page: null, subject, fingerprints, withheld };
}
