// The bag: RFC 8493 as far as a package uses it (package-format.md). Everything that is refused whole is refused here.

import { refuse, textOf } from './text.js';
import { sha256Hex } from './key.js';
import { checkCollisions, checkPath, kindOfPath } from './paths.js';
import { checkLengths } from './source.js';
import { openZip } from './zip.js';

const BAGIT = /^BagIt-Version: 1\.0\r?\nTag-File-Character-Encoding: UTF-8(\r?\n)?$/;
const MANIFEST_LINE = /^([0-9a-f]{64}) ( ?)([^ ].*)$/;
const PAYLOAD_MANIFEST = 'manifest-sha256.txt';
const TAG_MANIFEST = 'tagmanifest-sha256.txt';

// Files of a package: `data` is a zip (bytes or Blob) or [{ path, length, read }] without the top folder.
export async function openBag(data) {
  if (!Array.isArray(data)) {
    const { files, folders, top } = await openZip(data);
    checkPath(top);
    return checkedFiles(files, folders);
  }
  const files = data.map((file) => ({ path: file.path, size: file.length, read: file.read ?? (async () => file.bytes) }));
  return checkedFiles(files, []);
}

async function checkedFiles(files, folders) {
  for (const { path } of files) checkPath(path);
  for (const folder of folders) if (folder.path !== '') checkPath(folder.path);
  checkCollisions(files.map(({ path }) => path));
  const names = new Set(files.map(({ path }) => path.toLowerCase()));
  const within = new Set();
  for (const { path } of folders) {
    if (names.has(path.toLowerCase())) refuse('path_folder', 'a file and a folder have the same name', path);
    const folded = path.toLowerCase().normalize('NFC');
    if (within.has(folded)) refuse('path_twice', 'two folders have the same name', path);
    within.add(folded);
  }
  checkLengths(files);
  for (const folder of folders) await folder.read();
  return files;
}

// The lines of a manifest, a Map from path to digest.
export function readManifest(bytes, name, within) {
  const text = textOf(bytes);
  if (text === null) refuse('manifest', 'a manifest is not UTF-8', name);
  const listed = new Map();
  const lines = text.split('\n');
  if (lines.pop() !== '') refuse('manifest', 'the last line of a manifest has no end', name);
  for (const [number, line] of lines.entries()) {
    const parts = MANIFEST_LINE.exec(line.endsWith('\r') ? line.slice(0, -1) : line);
    if (parts === null) refuse('manifest', `line ${number + 1} is no line of a manifest`, name);
    if (/%(?!0A|0D|25)/.test(parts[3])) refuse('manifest', `line ${number + 1} has a percent sign that is not written %25`, name);
    const path = parts[3].replace(/%(0A|0D|25)/g, (_, digits) => String.fromCharCode(parseInt(digits, 16)));
    checkPath(path);
    if (listed.has(path)) refuse('manifest', 'a path stands twice in a manifest', path);
    if (!path.startsWith(within)) refuse('manifest', 'a manifest lists a file outside `data/`', path);
    listed.set(path, parts[1]);
  }
  return listed;
}

// Reads every file once: its digest, what `look` says of its bytes, and the bytes themselves where they are kept.
async function readAll(files, watch, look) {
  const total = files.reduce((sum, { size }) => sum + size, 0);
  let done = 0;
  const bag = new Map();
  for (const file of files) {
    watch?.signal?.throwIfAborted();
    const { kind, parts } = kindOfPath(file.path);
    const bytes = await file.read();
    if (bytes.length !== file.size) refuse('file_length', 'a file has another length than stated', file.path);
    const entry = { path: file.path, kind, parts, size: file.size, bytes: kind === 'photo' ? null : bytes, facts: null };
    const small = bytes.length < 65536;
    // Digests of small files are taken side by side, those of long ones one after the other.
    entry.digesting = sha256Hex(bytes);
    if (!small) await entry.digesting;
    if (kind === 'photo') entry.facts = look(bytes);
    bag.set(file.path, entry);
    done += file.size;
    watch?.progress?.({ path: file.path, done, total });
  }
  for (const entry of bag.values()) {
    entry.digest = await entry.digesting;
    delete entry.digesting;
  }
  return bag;
}

// The files of the package by path, and the states of the bag. `look` reads the header of a photo.
export async function readBag(data, watch, look) {
  const files = await openBag(data);
  const paths = new Set(files.map(({ path }) => path));
  if (paths.has('fetch.txt')) refuse('bag_fetch', 'there is a fetch.txt: files would have to be fetched', 'fetch.txt');
  if (!paths.has('bagit.txt')) refuse('bag_bagit', 'there is no bagit.txt', 'bagit.txt');
  if (!files.some(({ path }) => path.startsWith('data/records/'))) refuse('bag_records', 'there is no data/records/', 'data/records/');
  const bag = await readAll(files, watch, look);
  const declared = textOf(bag.get('bagit.txt').bytes);
  if (declared === null || !BAGIT.test(declared)) refuse('bag_bagit', 'another BagIt version or encoding than 1.0 and UTF-8', 'bagit.txt');
  const states = { changed: [], missing: [], unlisted: [], not_looked_at: [], ignored_manifests: [] };
  const listed = new Map();
  for (const [name, within] of [[PAYLOAD_MANIFEST, 'data/'], [TAG_MANIFEST, '']]) {
    if (!bag.has(name)) continue;
    for (const [path, digest] of readManifest(bag.get(name).bytes, name, within)) {
      if (!listed.has(path)) listed.set(path, []);
      listed.get(path).push(digest);
    }
  }
  for (const [path, digests] of listed) {
    const entry = bag.get(path);
    if (entry === undefined) states.missing.push(path);
    else if (digests.some((digest) => digest !== entry.digest)) states.changed.push(path);
  }
  for (const { path, kind } of bag.values()) {
    if (kind === 'manifest') states.ignored_manifests.push(path);
    else if (kind === 'extra' || (!listed.has(path) && path !== TAG_MANIFEST)) states.unlisted.push(path);
    if (kind === 'later') states.not_looked_at.push(path);
  }
  for (const list of Object.values(states)) list.sort();
  return { bag, states };
}
