// What the views show, made from the result of the core.

import { revealed } from '../core/index.js';

const HOLDING = ['intact', 'same_content'];
const UNUSABLE = ['altered', 'cannot_judge'];
/** Standings of a key that the reader must know of, also for records before the newest. */
export const DOUBTFUL_STANDINGS = ['too_early', 'too_late', 'revoked', 'revoked_unproved', 'revoked_proved', 'two_histories'];
const GOOD_STATES = [...HOLDING, 'fit', 'fits', 'original', 'copy', 'unaltered', 'released'];

/** The answer on the bytes with the state that has words: a report is no record, and a signature that holds is told. */
function normalBytes(bytes, signer, isReport) {
  if (!UNUSABLE.includes(bytes.state)) return bytes;
  if (isReport) return { ...bytes, state: `${bytes.state}_report` };
  return signer.state === 'cannot_judge' ? bytes : { ...bytes, state: `${bytes.state}_signed` };
}

/** The answer on the signer with the state that has words: a key not in force is too early or too late. */
function normalSigner(signer) {
  return signer.state === 'not_in_force' && ['too_early', 'too_late'].includes(signer.standing) ? { ...signer, state: signer.standing } : signer;
}

/** The state of one record with words: a signature that holds is told. */
function recordState({ state, signed }) {
  return signed && UNUSABLE.includes(state) ? `${state}_signed` : state;
}

/** The answer on the time with the state that has words: who says so is the reader's trusted authority, another, or the workshop. */
function normalTime(time) {
  return ['unknown', 'workshop'].includes(time.standing) ? { ...time, state: `${time.state}_${time.standing}` } : time;
}

/** One record as the views need it; `photos` with the disclosed ones. */
function recordEntry(file, found) {
  const record = found.record ?? null;
  const holds = HOLDING.includes(found.bytes_state ?? found.state);
  const photos = holds && found.revealed ? revealed(record, found.revealed).photos : record?.photos;
  return {
    file, state: recordState(found), reason: found.reason ?? '', rule: found.rule ?? null, record, holds, photos: holds && Array.isArray(photos) ? photos : [],
    sequence: found.sequence ?? null, purpose: found.purpose ?? null, name: found.name ?? null,
    issuer: found.issuer_name ?? null, fingerprint: found.fingerprint ?? null, issued_at: found.issued_at ?? null,
    standing: found.standing ?? null, revealed: found.revealed ?? [], evidence: [], speaksOf: null, spokenOf: [],
  };
}

/**
 * Ties each record that speaks of an earlier one to it: `speaksOf` (`name`, `statement`, and `entry` where it is here), and on
 * that one `spokenOf`, the entries of those that speak of it.
 */
function tieRecords(records) {
  for (const entry of records) {
    const said = entry.holds ? entry.record?.refers_to : null;
    if (typeof said?.record !== 'string' || typeof said.statement !== 'string') continue;
    const earlier = records.find(one => one !== entry && one.name === said.record) ?? null;
    entry.speaksOf = { name: said.record, statement: said.statement, entry: earlier };
    earlier?.spokenOf.push(entry);
  }
}

/** The records that take back what an entry says: withdrawals, and corrections. */
export function takenBackBy(entry) {
  return entry.spokenOf.filter(one => ['withdrawal', 'correction'].includes(one.purpose));
}

const SHOWING_REPORTS = ['unaltered', 'older', 'key_open'];

/** The values disclosed, of every record, each place once: by files of disclosures, then by reports. */
function disclosedOf(result, records) {
  const found = records.map(entry => ({ sequence: entry.sequence, values: [...entry.revealed] }));
  for (const report of Object.values(result.reports ?? {})) {
    if (!SHOWING_REPORTS.includes(report.state) || !report.revealed) continue;
    const at = records.findIndex(entry => entry.name !== null && entry.name === report.record_name);
    const values = at < 0 ? [] : found[at].values;
    if (at < 0) found.push({ sequence: report.record?.sequence ?? null, values });
    for (const one of report.revealed) if (!values.some(({ path }) => path === one.path)) values.push(one);
  }
  return found.filter(({ values }) => values.length > 0);
}

/** Every photo that the records name, by digest: photo and the records that name it. */
function photosNamed(records) {
  const named = new Map();
  const add = (digest, photo, sequence) => {
    const entry = named.get(digest) ?? { photo, records: [] };
    if (!entry.records.includes(sequence)) entry.records.unshift(sequence);
    // The newest record's words count: it comes first.
    named.set(digest, entry);
  };
  for (const { photos, sequence } of [...records].reverse()) {
    for (const photo of photos) {
      for (const copy of photo.derivatives ?? []) add(copy.file.digest, photo, sequence);
      if (photo.original) add(photo.original.digest, photo, sequence);
    }
  }
  return named;
}

function digestOfPath(path) {
  return /([0-9a-f]{64})\.[a-z]+$/.exec(path)?.[1] ?? '';
}

function photoEntries(result, records, urls) {
  const named = photosNamed(records);
  const digests = new Map((result.files ?? []).map(file => [file.path, file.digest]));
  const order = [...named.keys()];
  const place = entry => (order.includes(entry.digest) ? order.indexOf(entry.digest) : order.length);
  const entries = Object.entries(result.photos ?? {}).map(([file, found]) => {
    const digest = found.digest ?? digests.get(file) ?? digestOfPath(file);
    const match = named.get(digest) ?? named.get(digestOfPath(file)) ?? null;
    return {
      file, digest, state: found.state, further: found.further ?? null, reason: found.reason ?? '',
      photo: match?.photo ?? null, records: match?.records ?? [], url: urls.get(file) ?? null,
    };
  });
  // In the order of the records, the newest first; what no record names at the end.
  return entries.sort((a, b) => place(a) - place(b));
}

/** Photos of the records of which neither the original nor a copy is here, each once. */
function unpackedPhotos(records, entries) {
  const here = new Set(entries.filter(one => ['original', 'copy'].includes(one.state)).map(one => one.digest));
  const missing = new Map();
  for (const { photos, sequence } of records) {
    for (const photo of photos) {
      const digests = [photo.original?.digest, ...(photo.derivatives ?? []).map(copy => copy.file.digest)].filter(Boolean);
      if (!digests.some(digest => here.has(digest))) missing.set(digests[0] ?? `${sequence}/${photo.id}`, { photo, sequence });
    }
  }
  return [...missing.values()];
}

/** Kinds of files that are compared with the list of the package and with nothing else. */
const LISTED_ONLY = ['how', 'authority'];

const PARTS = [['records', 'record'], ['reports', 'report'], ['disclosures', 'disclosures'], ['keys', 'key_history'], ['timestamps', 'timestamp'], ['photos', 'photo'], ['aids', 'aid']];

function partList(result) {
  const list = PARTS.flatMap(([field, part]) => Object.entries(result[field] ?? {}).map(([file, found]) => ({ part, file, state: part === 'record' ? recordState(found) : found.state, further: found.further ?? null, reason: found.reason ?? '', rule: found.rule ?? null })));
  for (const [file, found] of Object.entries(result.left_out ?? {})) list.push({ part: 'record', file, state: recordState(found), further: null, reason: found.reason ?? '', rule: found.rule ?? null });
  for (const [field, part, file] of [['schema', 'schema', 'data/schema/tangmark-record-1.schema.json'], ['page', 'page', 'data/verify.html']]) {
    const state = result[field] ?? 'missing';
    if (state !== 'missing') list.push({ part, file, state, further: null, reason: '' });
  }
  return list;
}

const QUESTIONS = ['bytes', 'signer', 'time', 'completeness'];

/** The four answers, each with a state that has words. */
function answersOf(result, subject) {
  const answers = Object.fromEntries(QUESTIONS.map(key => [key, { reason: '', ...(result.subject?.[key] ?? { state: 'cannot_judge' }) }]));
  const report = result.reports?.[result.subject?.file] ?? null;
  answers.bytes = { ...normalBytes(answers.bytes, answers.signer, report !== null), rule: (report ?? subject)?.rule ?? null };
  answers.signer = normalSigner(answers.signer);
  answers.time = normalTime(answers.time);
  answers.completeness.rule = result.chain?.faults?.[0]?.rule ?? null;
  return answers;
}

/** Everything that may need attention: `about` names one of the four answers, else `file` is what it is said of. */
function issuesOf(result, answers, records, subject, parts) {
  const issues = QUESTIONS.map(key => ({ part: key, about: key, state: answers[key].state, reason: answers[key].reason ?? '', rule: answers[key].rule ?? null }));
  // Where the bytes do not hold the other answers follow from that, and need no word of their own.
  if (!HOLDING.includes(answers.bytes.state)) issues.splice(1, 3, ...issues.slice(1).filter(one => one.state !== 'cannot_judge'));
  // The subject's own bytes are the first of the four answers already.
  const own = result.subject?.file;
  const told = ({ part, file }) => file === own && result.subject.bytes?.state === ({ record: result.records, report: result.reports }[part]?.[own])?.state;
  for (const one of parts) if (!told(one)) issues.push({ part: one.part, file: one.file, state: one.further ?? one.state, reason: one.reason, rule: one.rule });
  for (const one of records) if (one !== subject && DOUBTFUL_STANDINGS.includes(one.standing)) issues.push({ part: 'signer', file: one.file, state: one.standing, reason: '' });
  // Whatever else is known of the key, that it was revoked is told.
  if (answers.signer.standing === 'revoked_proved') issues.push({ part: 'signer', about: 'signer', state: 'revoked_proved', reason: '' });
  if (subject && takenBackBy(subject).length > 0) issues.push({ part: 'record', file: subject.file, state: 'taken_back', entry: subject, reason: '' });
  else if (subject && result.subject?.completeness?.superseded_by) issues.push({ part: 'record', file: subject.file, state: 'followed', reason: '' });
  // What is rejected by itself needs no second line because the list of the package names other bytes.
  const judged = new Set(parts.filter(one => !GOOD_STATES.includes(one.state)).map(one => one.file));
  for (const state of ['changed', 'missing', 'unlisted']) {
    for (const file of result.bag?.[state] ?? []) if (!(state === 'changed' && judged.has(file))) issues.push({ part: 'file', file, state, reason: '' });
  }
  // A withdrawal is told before everything else, whichever record the answers are about.
  const withdrawal = file => ({ part: 'withdrawal', file, state: 'withdrawal', entry: records.find(one => one.file === file) ?? null, reason: '', rule: null });
  return [...(result.withdrawals ?? []).map(withdrawal), ...issues];
}

/**
 * Makes the model of a result. `source`: name, number, bytes and names of what was dropped, and `outside`, what lay beside the
 * package; `urls`: from path to blob URL of each photo that a browser can show.
 */
export function modelOf(result, source, urls) {
  const records = Object.entries(result.records ?? {}).map(([file, found]) => recordEntry(file, found))
    .sort((a, b) => (a.sequence ?? Infinity) - (b.sequence ?? Infinity) || (a.file < b.file ? -1 : 1));
  for (const found of Object.values(result.timestamps ?? {})) {
    const entry = records.find(one => one.file === found.record);
    if (found.state === 'fits' && entry) entry.evidence.push({ time: found.time, authority: found.authority, who: found.who ?? '' });
  }
  tieRecords(records);
  const subject = records.find(one => one.file === result.subject?.file) ?? records.filter(one => one.holds).at(-1) ?? records.at(-1) ?? null;
  if (subject && result.subject?.time?.evidence) subject.evidence = result.subject.time.evidence;
  const answers = answersOf(result, subject);
  const photos = photoEntries(result, records, urls);
  const parts = partList(result);
  return {
    isPackage: source.isPackage, source, result, records, subject, subjectHolds: HOLDING.includes(answers.bytes.state), answers, photos, parts,
    unpacked: unpackedPhotos(records, photos), bag: result.bag ?? {}, issues: issuesOf(result, answers, records, subject, parts),
    chain: result.chain ?? answers.completeness, faults: result.chain?.faults ?? [],
    withheld: subject?.holds && HOLDING.includes(subject.state) ? result.withheld ?? [] : null, disclosed: disclosedOf(result, records),
    listedOnly: (result.files ?? []).filter(({ kind }) => LISTED_ONLY.includes(kind)).map(({ path }) => path).sort(),
    typed: '', typedResult: null, authorities: [],
  };
}
