// A hand-over package judged as a whole (package-format.md, "How it is judged").

import { reasonOf, Refusal } from './text.js';
import { readBag } from './bag.js';
import { judgeChain } from './chain.js';
import { photoFacts } from './photo.js';
import { judgeDisclosures, judgeKeys, judgePhotos, judgeRecords, judgeReports, judgeTimestamps, namedPhotos, ofKind, stands } from './parts.js';
import { readHistory } from './history.js';
import { stillWithheld } from './withhold.js';
import { digestOfSchema } from './schema.js';
import { earliestTrusted, fingerprintsOf, heaviest, standingIn, subjectExit, subjectOf } from './verdict.js';
import { isForeign } from './record.js';
import { aidStates, pageState } from './released.js';

// Weights of the table, as exit codes; what is not named here weighs nothing.
const EXIT = {
  records: { altered: 1, misnamed: 1, cannot_judge: 3 },
  disclosures: { refused: 1, no_record: 1 },
  photos: { not_the_same: 1, unsigned: 2 },
  reports: { altered: 1, other_record: 1, key_rejected: 1, cannot_judge: 3, older: 2, key_open: 2 },
  keys: { refused: 1, fork: 1, no_issuer: 2 },
  timestamps: { refused: 1, no_record: 1 },
  aids: { other: 2 },
};

// Histories that the reader has: those that cannot be read are left out.
async function historiesOf(reader) {
  const read = [];
  for (const bytes of reader.histories ?? []) {
    try {
      read.push(await readHistory(bytes));
    } catch (problem) {
      reasonOf(problem);
    }
  }
  return read;
}

// The record that the four answers are about.
function subjectRecord(records) {
  const all = Object.values(records).sort((one, other) => one.number - other.number || (one.file < other.file ? -1 : 1));
  return all.filter(stands).at(-1) ?? all.at(-1);
}

function chainOf(records) {
  const all = Object.values(records);
  const linked = all.filter(({ state, link }) => link !== null && ['intact', 'same_content', 'misnamed'].includes(state));
  const unread = new Set(all.filter(({ state }) => state === 'altered' || state === 'cannot_judge').map(({ number }) => number));
  const chain = judgeChain(linked.map(({ link, file }) => ({ ...link, file })), unread);
  if (linked.length === 0) chain.state = 'incomplete';
  return chain;
}

function evidenceFor(timestamps, file) {
  return Object.values(timestamps).filter(({ state, record }) => state === 'fits' && record === file);
}

// Gives each record whose signature holds its standing; the weights are returned.
function judgeStandings(records, timestamps, settled) {
  const weights = [];
  for (const record of Object.values(records)) {
    if (record.state === 'altered') continue;
    const provedBy = earliestTrusted(evidenceFor(timestamps, record.file));
    const { standing, weight } = standingIn(settled, record.issuer, record.issued_at, provedBy);
    record.standing = standing;
    weights.push(weight);
  }
  return weights;
}

async function schemaState(bag, schema) {
  const entry = ofKind(bag, 'schema')[0];
  if (entry === undefined) return null;
  return entry.digest === (await digestOfSchema(schema)) ? 'fits' : 'other';
}

// What the header of a photo says, null also where reading it breaks off.
function headerOf(bytes) {
  try {
    return photoFacts(bytes);
  } catch (problem) {
    reasonOf(problem);
    return null;
  }
}

// The verdict on a package. `source`: zip (Uint8Array or Blob) or files [{ path, length, read }]. See index.js.
export async function judgePackage(source, reader, watch = null) {
  let opened;
  try {
    opened = await readBag(source, watch, headerOf);
  } catch (problem) {
    // What a disk or a right keeps from being read, and a run that was stopped, are no verdict on the package.
    if (!(problem instanceof Refusal)) throw problem;
    const { rule, reason, where } = reasonOf(problem);
    return { exit: 1, refused: { rule, path: where, reason } };
  }
  const { bag, states } = opened;
  const records = await judgeRecords(bag, reader.schema);
  const disclosures = await judgeDisclosures(bag, records, reader.schema);
  const chain = chainOf(records);
  const named = namedPhotos(records);
  const photos = judgePhotos(bag, named);
  const readers = await historiesOf(reader);
  const { keys, histories, settled } = await judgeKeys(bag, records, readers);
  const timestamps = await judgeTimestamps(bag, records, [...settled.histories, ...settled.forked], reader);
  const subjectOne = subjectRecord(records);
  const reports = await judgeReports(bag, records, subjectOne, reader, [...histories, ...readers]);
  const codes = judgeStandings(records, timestamps, settled);
  const about = { ...subjectOne, state: subjectOne.bytes_state };
  // The line on its bytes is that of a file by itself, whatever the package makes of it.
  if (isForeign(about, bag.get(about.file).bytes)) about.state = 'cannot_judge';
  const subject = { file: about.file, ...(await subjectOf(about, chain, settled, evidenceFor(timestamps, about.file), reader)) };
  const schema = await schemaState(bag, reader.schema);
  const page = bag.has('data/verify.html') ? await pageState(bag.get('data/verify.html').bytes, reader.releasedPages ?? []) : 'missing';
  const aids = aidStates(bag, reader.releasedAids ?? {});
  const withdrawals = Object.values(records).filter((one) => one.purpose === 'withdrawal' && (stands(one) || one.state === 'misnamed')).map(({ file }) => file);
  const parts = { records, disclosures, photos, reports, keys, timestamps, aids };
  for (const [part, files] of Object.entries(parts)) for (const { state } of Object.values(files)) codes.push(EXIT[part][state] ?? 0);
  codes.push(states.changed.length > 0 || schema === 'other' || chain.state === 'broken' ? 1 : 0);
  codes.push(states.missing.length > 0 ? 3 : 0);
  codes.push(states.unlisted.length > 0 || page === 'other' || withdrawals.length > 0 ? 2 : 0);
  codes.push(subjectExit(subject));
  const packed = new Set(Object.entries(photos).filter(([, { state }]) => state === 'original' || state === 'copy').map(([path]) => bag.get(path).digest));
  return {
    exit: heaviest(codes),
    refused: null,
    bag: states,
    chain,
    ...parts,
    schema,
    page,
    subject,
    withdrawals,
    fingerprints: await fingerprintsOf([...Object.values(records).map(({ issuer }) => issuer), ...histories.flatMap(({ statements }) => statements.map(({ key }) => key))]),
    withheld: stands(subjectOne) ? stillWithheld(subjectOne.record, subjectOne.revealed ?? []) : [],
    photos_not_packed: [...named.keys()].filter((digest) => !packed.has(digest)).length,
    files: [...bag.values()].map(({ path, kind, size, digest }) => ({ path, kind, size, digest })),
  };
}
