// The parts of a package, each with its states (package-format.md, "How it is judged").

import { reasonOf } from './text.js';
import { readHistory } from './history.js';
import { howOther } from './photo.js';
import { judgeRecord } from './record.js';
import { judgeReport } from './report.js';
import { checkRevealed } from './reveal.js';
import { judgeToken, readAuthorities } from './timestamp.js';
import { checkDisclosures, readDisclosures, revealed } from './withhold.js';
import { isForked, pagesState, settleHistories } from './verdict.js';

// The files of one kind in the order of their paths.
export function ofKind(bag, kind) {
  return [...bag.values()].filter((entry) => entry.kind === kind).sort((one, other) => (one.path < other.path ? -1 : 1));
}

export function stands({ state }) {
  return state === 'intact' || state === 'same_content';
}

// Verdicts of judgeRecord by file, with `number` (NN) and `bytes_state`: what the bytes are, whatever the file is named.
export async function judgeRecords(bag, schema) {
  const files = ofKind(bag, 'record');
  const records = {};
  for (const { path, parts, bytes } of files) {
    const number = Number(parts[0]);
    const verdict = { ...(await judgeRecord(bytes, schema)), file: path, number };
    verdict.bytes_state = verdict.state;
    records[path] = verdict;
    if (!stands(verdict)) continue;
    const other = files.find((file) => file.path !== path && Number(file.parts[0]) === number);
    if (verdict.sequence !== number || verdict.purpose !== parts[1]) {
      Object.assign(verdict, { state: 'misnamed', reason: `the record is number ${verdict.sequence}, ${verdict.purpose}` });
    } else if (other) Object.assign(verdict, { state: 'misnamed', reason: `${other.path} has the same number` });
  }
  return records;
}

// Record NN: the one that stands; else `cannot_judge` where the file of that number cannot be judged; else null.
function recordOfNumber(records, digits) {
  const number = Number(digits);
  const files = Object.values(records).filter((record) => record.number === number);
  return files.find(stands) ?? files.find(({ state }) => state === 'cannot_judge') ?? null;
}

export async function judgeDisclosures(bag, records, schema) {
  const disclosures = {};
  for (const { path, parts, bytes } of ofKind(bag, 'disclosures')) {
    try {
      const entries = await readDisclosures(bytes);
      const record = recordOfNumber(records, parts[0]);
      if (record === null) disclosures[path] = { state: 'no_record', reason: `there is no record ${parts[0]}` };
      else if (!stands(record)) disclosures[path] = { state: 'cannot_judge', record: record.file };
      else {
        checkDisclosures(record.record, entries);
        checkRevealed(revealed(record.record, entries), schema);
        record.revealed = entries.map(({ path: place, value }) => ({ path: place, value }));
        disclosures[path] = { state: 'fit', record: record.file, places: record.revealed.map(({ path: place }) => place) };
      }
    } catch (problem) {
      disclosures[path] = { state: 'refused', ...reasonOf(problem) };
    }
  }
  return disclosures;
}

// Digests that records name: Map from digest to { as, facts, photo }. `as` is `original` where one record says so.
export function namedPhotos(records) {
  const named = new Map();
  for (const verdict of Object.values(records)) {
    if (!stands(verdict)) continue;
    const shown = verdict.revealed ? revealed(verdict.record, verdict.revealed) : verdict.record;
    for (const photo of shown.photos ?? []) {
      const add = (as, facts) => {
        const known = named.get(facts.digest);
        if (known === undefined || (known.as === 'copy' && as === 'original')) named.set(facts.digest, { as, facts, photo: photo.id });
      };
      if (photo.original) add('original', photo.original);
      for (const { file } of photo.derivatives ?? []) add('copy', file);
    }
  }
  return named;
}

export function judgePhotos(bag, named) {
  const photos = {};
  for (const { path, parts, digest, facts } of ofKind(bag, 'photo')) {
    const wanted = named.get(parts[0]) ?? null;
    const shown = { found: facts, named: wanted?.facts ?? null, photo: wanted?.photo ?? null };
    const further = digest === parts[0] ? null : howOther(facts, shown.named);
    const state = digest === parts[0] ? wanted?.as ?? 'unsigned' : 'not_the_same';
    photos[path] = further ? { state, further, ...shown } : { state, ...shown };
  }
  return photos;
}

// `readers`: the histories that the reader has. Gives the states, and what was read: those of the package, and all settled.
export async function judgeKeys(bag, records, readers) {
  const keys = {};
  const histories = [];
  const read = [];
  const issuers = Object.values(records).filter(({ state }) => state !== 'altered').map(({ issuer }) => issuer);
  for (const { path, parts, bytes } of ofKind(bag, 'keys')) {
    try {
      const history = await readHistory(bytes);
      const shown = { fingerprint: history.fingerprint, statements: history.statements, revocations: history.revocations };
      if (history.fingerprint !== parts[0]) {
        keys[path] = { state: 'refused', reason: 'the file is not named by the fingerprint of its first key', ...shown };
        continue;
      }
      histories.push(history);
      const names = history.statements.some(({ key }) => issuers.includes(key));
      keys[path] = { state: names ? 'fits' : 'no_issuer', ...shown };
      read.push([keys[path], history]);
    } catch (problem) {
      keys[path] = { state: 'refused', ...reasonOf(problem) };
    }
  }
  const settled = settleHistories([...histories, ...readers]);
  for (const [entry, history] of read) if (isForked(history, [...histories, ...readers])) entry.state = 'fork';
  return { keys, histories, settled };
}

// The keys of a workshop: the issuer's, and those of every history that names it.
export function keysOfWorkshop(issuer, histories) {
  const own = new Set([issuer]);
  for (const { statements } of histories) {
    if (statements.some(({ key }) => key === issuer)) for (const { key } of statements) own.add(key);
  }
  return own;
}

export async function judgeTimestamps(bag, records, histories, reader) {
  const timestamps = {};
  const files = ofKind(bag, 'timestamp');
  const given = files.length > 0 ? await readAuthorities(reader.authorities ?? []) : [];
  for (const { path, parts, bytes } of files) {
    const record = recordOfNumber(records, parts[0]);
    if (record === null) timestamps[path] = { state: 'no_record', reason: `there is no record ${parts[0]}` };
    else if (!stands(record)) timestamps[path] = { state: 'cannot_judge', record: record.file };
    else {
      try {
        const token = await judgeToken(bytes, record.name, given, keysOfWorkshop(record.issuer, histories));
        timestamps[path] = { state: 'fits', record: record.file, ...token };
      } catch (problem) {
        timestamps[path] = { state: 'refused', ...reasonOf(problem) };
      }
    }
  }
  return timestamps;
}

// `subject`: the record that the verdict is about; `atHand`: the histories of the package and of the reader.
export async function judgeReports(bag, records, subject, reader, atHand) {
  const reports = {};
  const known = new Map(Object.values(records).map((one) => [bag.get(one.file).digest, { ...one, state: one.bytes_state }]));
  for (const { path, bytes } of ofKind(bag, 'report')) {
    const verdict = await judgeReport(bytes, reader, known, atHand);
    reports[path] = verdict;
    if (verdict.state !== 'unaltered') continue;
    const same = Object.values(records).find(({ file }) => bag.get(file).digest === verdict.record_digest);
    if (same === undefined) {
      Object.assign(verdict, { state: 'other_record', reason: 'the record in it is not byte for byte one of the package' });
      continue;
    }
    const settled = settleHistories(verdict.history ? [...atHand, verdict.history] : atHand);
    const key = await pagesState(verdict, verdict.record_verdict, settled, reader);
    if (key?.state !== 'key_rejected' && same !== subject) Object.assign(verdict, { state: 'older', reason: `it shows ${same.file}, not the record of this verdict` });
    else if (key) Object.assign(verdict, key);
  }
  return reports;
}
