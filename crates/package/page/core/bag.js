// The bag: RFC 8493 as far as a package uses it (package-format.md). Everything that is refused whole is refused here.

import { refuse, textOf } from './text.js';
import { sha256Hex } from './key.js';
import { checkPath, checkPaths, kindOfPath } from './paths.js';
import { checkLengths, LIMITS } from './source.js';
import { openZip } from './zip.js';

const BAGIT = /^BagIt-Version: 1\.0\r?\nTag-File-Character-Encoding: UTF-8\r?\n$/;
const MANIFEST_LINE = /^([0-9a-f]{64}) {1,2}(.+)$/s;
const PAYLOAD_MANIFEST = 'manifest-sha256.txt';
const TAG_MANIFEST = 'tagmanifest-sha256.txt';

// Files and folders of a package: `data` is a zip (bytes or Blob) or [{ path, length, read }] without the top folder.
export async function openBag(data) {
  if (!Array.isArray(data)) {
    const { files, folders, top } = await openZip(data);
    checkPath(top);
    return { files, folders: folders.filter(({ isTop }) => !isTop), all: folders };
  }
  const files = data.map((file) => ({ path: file.path, size: file.length, read: file.read ?? (async () => file.bytes) }));
  return { files, folders: [], all: [] };
}

// The lines of a manifest, a Map from path to digest.
function readManifest(bytes, name, isPayload) {
  const text = textOf(bytes);
  if (text === null || text.startsWith('\ufeff')) refuse('manifest', 'a manifest is not UTF-8 without a byte order mark', name);
  const listed = new Map();
  const lines = text.split('\n');
  if (lines.pop() !== '') refuse('manifest', 'the last line of a manifest has no end', name);
  for (const [number, line] of lines.entries()) {
    const parts = MANIFEST_LINE.exec(line.endsWith('\r') ? line.slice(0, -1) : line);
    if (parts === null) refuse('manifest', `line ${number + 1} is no line of a manifest`, name);
    if (/%(?!0A|0D|25)/.test(parts[2])) refuse('manifest', `line ${number + 1} has a percent sign that is not written %25`, name);
    const path = parts[2].replace(/%(0A|0D|25)/g, (_, digits) => String.fromCharCode(parseInt(digits, 16)));
    checkPath(path);
    if (listed.has(path)) refuse('manifest', 'a path stands twice in a manifest', path);
    if (path.startsWith('data/') !== isPayload) refuse('manifest', `${name} lists a file of the other manifest`, path);
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
  const { files, folders, all } = await openBag(data);
  const paths = files.map(({ path }) => path);
  for (const path of [...paths, ...folders.map(({ path }) => path)]) checkPath(path);
  if (new Set(paths).size !== paths.length) refuse('path_twice', 'a path stands twice');
  if (paths.includes('fetch.txt')) refuse('bag_fetch', 'there is a fetch.txt: files would have to be fetched', 'fetch.txt');
  for (const name of ['bagit.txt', PAYLOAD_MANIFEST, TAG_MANIFEST]) if (!paths.includes(name)) refuse('bag_tag_file', `there is no ${name}`, name);
  if (!paths.some((path) => kindOfPath(path).kind === 'record')) refuse('bag_records', 'there is no record in data/records/', 'data/records/');
  checkLengths(files);
  for (const folder of all) await folder.read();
  const bag = await readAll(files, watch, look);
  const declared = textOf(bag.get('bagit.txt').bytes);
  if (declared === null || !BAGIT.test(declared)) refuse('bag_version', 'another BagIt version or encoding than 1.0 and UTF-8', 'bagit.txt');
  const listed = new Map();
  for (const name of [PAYLOAD_MANIFEST, TAG_MANIFEST]) {
    for (const [path, digest] of readManifest(bag.get(name).bytes, name, name === PAYLOAD_MANIFEST)) listed.set(path, digest);
  }
  checkPaths([...new Set([...paths, ...listed.keys()])], folders.map(({ path }) => path), LIMITS.paths);
  return { bag, states: statesOf(bag, listed) };
}

function statesOf(bag, listed) {
  const states = { changed: [], missing: [], unlisted: [], not_looked_at: [], ignored_manifests: [] };
  for (const [path, digest] of listed) {
    if (!bag.has(path)) states.missing.push(path);
    else if (bag.get(path).digest !== digest) states.changed.push(path);
  }
  for (const { path, kind, digest } of bag.values()) {
    if (kind === 'later') states.not_looked_at.push(path);
    if (kind === 'manifest') states.ignored_manifests.push(path);
    else if (listed.has(path) ? kind === 'extra' && listed.get(path) === digest : path !== TAG_MANIFEST) states.unlisted.push(path);
  }
  for (const list of Object.values(states)) list.sort();
  return states;
}
