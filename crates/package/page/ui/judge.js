// Hands what was dropped to the core, and gathers what the views need besides its result.

import { fileKind, judgeFile, judgePackage, revealed, sha256Hex, openBag } from '../core/index.js';
import { Problem, bytesOfFile } from './sources.js';
import { sizeText } from './lang.js';

const MEDIA_TYPES = { jpg: 'image/jpeg', jpeg: 'image/jpeg', png: 'image/png' };
/** Longest loose file that is read whole, and all that are kept together, bytes; photos are read one at a time. */
const LOOSE_LIMIT = 256 * 1024 * 1024;
const LOOSE_LIMIT_ALL = 1_000_000_000;
/** Most loose files. */
const MOST_LOOSE = 2000;
/** Bytes of pictures that are taken out of a zip file to be shown; the others are checked, not shown. */
const ROOM_FOR_PICTURES = 256 * 1024 * 1024;
const ZIP_BEGINNINGS = [[0x50, 0x4b, 3, 4], [0x50, 0x4b, 5, 6]];

async function isZip(file) {
  const first = await bytesOfFile(file, 4);
  return ZIP_BEGINNINGS.some(begin => begin.every((byte, index) => first[index] === byte)) || /\.zip$/i.test(file.path);
}

function asSource(files) {
  return files.map(file => ({ path: file.path, length: file.blob.size, blob: file.blob, read: () => bytesOfFile(file) }));
}

/** Lets the browser draw and listen before the next stretch of work. */
export function breath() {
  return new Promise(done => { setTimeout(done, 0); });
}

/** The bytes of the one zip file that was dropped, or null; a zip file with anything beside it is a problem. */
async function zipAlone(files) {
  if (files.length > MOST_LOOSE) throw new Problem('problem_loose_many', { count: files.length, limit: MOST_LOOSE });
  for (const file of files) {
    if (!(await isZip(file))) continue;
    if (files.length === 1) return file.blob;
    throw new Problem('problem_zip_beside', { name: file.path, count: files.length - 1 });
  }
  return null;
}

/** Judges what was dropped; `watch` has `progress({ path, done, total })` and `signal`. */
export async function judgeDropped(dropped, reader, watch) {
  const zip = dropped.isPackage ? null : await zipAlone(dropped.files);
  if (zip || dropped.isPackage) {
    const source = zip ?? asSource(dropped.files);
    const result = await judgePackage(source, reader, watch);
    const files = result.refused ? [] : zip ? (await openBag(zip)).files.map(one => ({ path: one.path, length: one.size, read: one.read })) : source;
    return { result, files, isPackage: true };
  }
  return { ...(await judgeLoose(dropped.files, reader, watch)), isPackage: false };
}

/**
 * Judges again with what the reader gave since: fingerprints typed, certificates of authorities. Photos are not read anew.
 * Returns the result with the parts that can have changed.
 */
export async function judgedAgain(judged, reader) {
  const again = judged.isPackage
    ? await judgePackage(judged.files.filter(file => !file.path.startsWith('data/photos/')), reader)
    : await judgeFile(judged.main.bytes, reader, judged.beside, judged.main.path);
  const { subject, records, timestamps, reports } = again;
  return { ...judged.result, subject, records, timestamps, reports };
}

const MAIN_KINDS = ['record', 'pdf'];

/** Digests photos one at a time and tells which of them the records name. */
async function loosePhotos(files, records, watch) {
  const named = new Map();
  for (const { record, state, revealed: opened } of Object.values(records)) {
    if (state !== 'intact' && state !== 'same_content') continue;
    const shown = opened ? revealed(record, opened) : record;
    for (const photo of Array.isArray(shown?.photos) ? shown.photos : []) {
      for (const { file } of photo.derivatives ?? []) if (!named.has(file.digest)) named.set(file.digest, 'copy');
      if (photo.original) named.set(photo.original.digest, 'original');
    }
  }
  const photos = {};
  const total = files.reduce((sum, file) => sum + file.blob.size, 0);
  let done = 0;
  for (const file of files) {
    watch.signal.throwIfAborted();
    watch.progress({ path: file.path, done, total });
    await breath();
    const digest = await sha256Hex(await bytesOfFile(file));
    done += file.blob.size;
    photos[file.path] = { state: named.get(digest) ?? 'unmatched', digest };
  }
  return photos;
}

/** The number that a record gives itself, 0 where it gives none; -1 where the file does not speak of a record of ours. */
function sequenceOf(bytes) {
  try {
    const text = new TextDecoder().decode(bytes);
    if (!text.includes('tangmark-record')) return -1;
    const { sequence } = JSON.parse(text);
    return Number.isInteger(sequence) ? Math.max(0, sequence) : 0;
  } catch {
    return 0;
  }
}

/** Judges loose files: the record of the highest number, else the report, with all the others beside it. */
async function judgeLoose(files, reader, watch) {
  const photos = [];
  const small = [];
  const others = [];
  let kept = 0;
  for (const file of files) {
    watch.signal.throwIfAborted();
    const kind = fileKind(await bytesOfFile(file, 4096), file.path);
    if (kind === 'photo') photos.push(file);
    else if (kind === 'other' || file.blob.size > LOOSE_LIMIT) others.push(file.path);
    else {
      kept += file.blob.size;
      if (kept > LOOSE_LIMIT_ALL) throw new Problem('problem_loose_long', { limit: sizeText(LOOSE_LIMIT_ALL) });
      const bytes = await bytesOfFile(file);
      small.push({ path: file.path, kind: fileKind(bytes, file.path), bytes });
    }
  }
  const mains = small.filter(file => MAIN_KINDS.includes(file.kind));
  if (mains.length === 0) throw new Problem('problem_nothing', { names: files.slice(0, 8).map(file => file.path).join(', ') });
  // Before the report only what is, or was, a record of ours.
  const rank = file => (file.kind === 'record' ? 1 + sequenceOf(file.bytes) : 0.5);
  const main = mains.reduce((most, file) => (rank(file) > rank(most) ? file : most));
  const beside = small.filter(file => file !== main);
  watch.progress({ path: main.path, done: 0, total: 0 });
  await breath();
  const judged = await judgeFile(main.bytes, reader, beside, main.path);
  const result = { ...judged, photos: await loosePhotos(photos, judged.records ?? {}, watch) };
  result.bag = { not_looked_at: [...others, ...(judged.not_looked_at ?? [])].sort() };
  return { result, files: asSource(files), main, beside };
}

/** Makes blob URLs of the photos that a browser can show, from path to URL. Files from the disk are not read for it. */
export async function photoUrls(result, files) {
  const urls = new Map();
  let room = ROOM_FOR_PICTURES;
  for (const file of files) {
    const type = MEDIA_TYPES[file.path.split('.').at(-1).toLowerCase()];
    if (type === undefined || !Object.hasOwn(result.photos ?? {}, file.path)) continue;
    if (!file.blob && file.length > room) continue;
    if (!file.blob) room -= file.length;
    const blob = file.blob ? file.blob.slice(0, file.length, type) : new Blob([await file.read()], { type });
    urls.set(file.path, URL.createObjectURL(blob));
  }
  return urls;
}
