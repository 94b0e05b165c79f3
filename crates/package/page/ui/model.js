// What the views show, made from the result of the core.

import { revealed } from '../core/index.js';

const HOLDING = ['intact', 'same_content'];
/** Standings of a key that the reader must know of, also for records before the newest. */
export const DOUBTFUL_STANDINGS = ['too_early', 'too_late', 'revoked', 'revoked_unproved', 'revoked_proved', 'two_histories'];
const GOOD_STATES = [...HOLDING, 'fit', 'fits', 'original', 'copy', 'unaltered', 'released'];

/** The answer on the signer with the state that has words: a key not in force is too early or too late. */
function normalSigner(signer) {
  if (signer.state === 'not_in_force' && ['too_early', 'too_late'].includes(signer.standing)) return { ...signer, state: signer.standing };
  return signer.state === 'known' && signer.standing === 'revoked_proved' ? { ...signer, state: 'revoked_proved' } : signer;
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
    file, state: found.state, reason: found.reason ?? '', rule: found.rule ?? null, record, holds, photos: holds && Array.isArray(photos) ? photos : [],
    sequence: found.sequence ?? null, purpose: found.purpose ?? null, name: found.name ?? null,
    issuer: found.issuer_name ?? null, fingerprint: found.fingerprint ?? null, issued_at: found.issued_at ?? null,
    standing: found.standing ?? null, revealed: found.revealed ?? [], evidence: [],
  };
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

const PARTS = [['records', 'record'], ['reports', 'report'], ['disclosures', 'disclosures'], ['keys', 'key_history'], ['timestamps', 'timestamp'], ['photos', 'photo']];

function partList(result) {
  const list = PARTS.flatMap(([field, part]) => Object.entries(result[field] ?? {}).map(([file, found]) => ({ part, file, state: found.state, further: found.further ?? null, reason: found.reason ?? '', rule: found.rule ?? null })));
  for (const [file, { reason, rule }] of Object.entries(result.left_out ?? {})) list.push({ part: 'record', file, state: 'left_out', further: null, reason: reason ?? '', rule: rule ?? null });
  for (const [field, part, file] of [['schema', 'schema', 'data/schema/tangmark-record-1.schema.json'], ['page', 'page', 'data/verify.html']]) {
    const state = result[field] ?? 'missing';
    if (state !== 'missing') list.push({ part, file, state, further: null, reason: '' });
  }
  return list;
}

/**
 * Makes the model of a result. `source`: name, number, bytes and names of what was dropped; `urls`: from path to blob URL
 * of each photo that a browser can show.
 */
export function modelOf(result, source, urls) {
  const records = Object.entries(result.records ?? {}).map(([file, found]) => recordEntry(file, found))
    .sort((a, b) => (a.sequence ?? Infinity) - (b.sequence ?? Infinity) || (a.file < b.file ? -1 : 1));
  for (const found of Object.values(result.timestamps ?? {})) {
    const entry = records.find(one => one.file === found.record);
    if (found.state === 'fits' && entry) entry.evidence.push({ time: found.time, authority: found.authority, who: found.who ?? '' });
  }
  const subject = records.find(one => one.file === result.subject?.file) ?? records.filter(one => one.holds).at(-1) ?? records.at(-1) ?? null;
  if (subject && result.subject?.time?.evidence) subject.evidence = result.subject.time.evidence;
  const photos = photoEntries(result, records, urls);
  const parts = partList(result);
  const bag = result.bag ?? {};
  const answers = Object.fromEntries(['bytes', 'signer', 'time', 'completeness'].map(key => [key, { reason: '', ...(result.subject?.[key] ?? { state: 'cannot_judge' }) }]));
  answers.signer = normalSigner(answers.signer);
  answers.time = normalTime(answers.time);
  answers.bytes.rule = subject?.rule ?? null;
  const issues = ['bytes', 'signer', 'time', 'completeness'].map(key => ({ part: key, about: key, state: answers[key].state, reason: answers[key].reason ?? '', rule: answers[key].rule ?? null }));
  // Where the bytes do not hold the other answers follow from that, and need no word of their own.
  if (!HOLDING.includes(answers.bytes.state)) issues.splice(1, 3, ...issues.slice(1).filter(one => one.state !== 'cannot_judge'));
  // The subject's own bytes are the first of the four answers already.
  const told = file => file === subject?.file && answers.bytes.state === parts.find(one => one.file === file)?.state;
  for (const one of parts) if (!told(one.file)) issues.push({ part: one.part, file: one.file, state: one.further ?? one.state, reason: one.reason, rule: one.rule });
  for (const one of records) if (one !== subject && DOUBTFUL_STANDINGS.includes(one.standing)) issues.push({ part: 'signer', file: one.file, state: one.standing, reason: '' });
  // A withdrawal is told before everything else, whichever record the answers are about.
  issues.unshift(...(result.withdrawals ?? []).map(file => ({ part: 'withdrawal', file, state: 'withdrawal', reason: '', rule: null })));
  // What is rejected by itself needs no second line because the list of the package names other bytes.
  const judged = new Set(parts.filter(one => !GOOD_STATES.includes(one.state)).map(one => one.file));
  for (const state of ['changed', 'missing', 'unlisted']) {
    for (const file of bag[state] ?? []) if (!(state === 'changed' && judged.has(file))) issues.push({ part: 'file', file, state, reason: '' });
  }
  return {
    isPackage: source.isPackage, source, result, records, subject, subjectHolds: HOLDING.includes(answers.bytes.state), answers, photos,
    unpacked: unpackedPhotos(records, photos), parts, bag, issues, chain: { ...(result.chain ?? answers.completeness), reason: result.chain?.faults?.map(fault => `${fault.file}: ${fault.reason}`).join('; ') ?? '' }, withheld: result.withheld ?? [],
    revealed: subject?.revealed ?? [], typed: '', typedResult: null, authorities: [],
  };
}
