// A zip file in the one form that every program reads alike (package-format.md, "What is refused whole").
// Source of the structures: the published description of the .ZIP file format (APPNOTE), from memory.

import { refuse, sameBytes, textOf } from './text.js';
import { inflateRaw } from './inflate.js';
import { sourceOf } from './source.js';

const LOCAL = 0x04034b50;
const CENTRAL = 0x02014b50;
const END = 0x06054b50;
const DESCRIPTOR = 0x08074b50;
const ENCRYPTED = 0x2041; // bits 0, 6 and 13
const WITH_DESCRIPTOR = 0x0008;
const UTF8_NAME = 0x0800;
const LARGEST_DIRECTORY = 16 * 1024 * 1024;

const CRC_TABLES = makeCrcTables();

function makeCrcTables() {
  const tables = Array.from({ length: 8 }, () => new Uint32Array(256));
  for (let byte = 0; byte < 256; byte += 1) {
    let value = byte;
    for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
    tables[0][byte] = value;
  }
  for (let step = 1; step < 8; step += 1) {
    for (let byte = 0; byte < 256; byte += 1) {
      const before = tables[step - 1][byte];
      tables[step][byte] = (before >>> 8) ^ tables[0][before & 255];
    }
  }
  return tables;
}

// CRC-32 as in zip and PNG, eight bytes at a step.
export function crc32(bytes) {
  const [t0, t1, t2, t3, t4, t5, t6, t7] = CRC_TABLES;
  let crc = -1;
  let at = 0;
  for (const end = bytes.length - 7; at < end; at += 8) {
    crc ^= bytes[at] | (bytes[at + 1] << 8) | (bytes[at + 2] << 16) | (bytes[at + 3] << 24);
    crc =
      t7[crc & 255] ^ t6[(crc >>> 8) & 255] ^ t5[(crc >>> 16) & 255] ^ t4[crc >>> 24] ^
      t3[bytes[at + 4]] ^ t2[bytes[at + 5]] ^ t1[bytes[at + 6]] ^ t0[bytes[at + 7]];
  }
  for (; at < bytes.length; at += 1) crc = (crc >>> 8) ^ t0[(crc ^ bytes[at]) & 255];
  return (crc ^ -1) >>> 0;
}

function view(bytes) {
  return new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
}

async function readEnd(source) {
  if (source.size < 22) refuse('zip_end', 'the zip file has no end record');
  const end = view(await source.read(source.size - 22, source.size));
  if (end.getUint32(0, true) !== END) refuse('zip_end', 'the end record does not end the file, or an archive comment stands there');
  if (end.getUint16(20, true) !== 0) refuse('zip_comment', 'an archive comment');
  const count = end.getUint16(10, true);
  const length = end.getUint32(12, true);
  const offset = end.getUint32(16, true);
  if (count === 0xffff || length === 0xffffffff || offset === 0xffffffff) refuse('zip_64', 'zip64 structures');
  if (end.getUint16(4, true) !== 0 || end.getUint16(6, true) !== 0 || end.getUint16(8, true) !== count) {
    refuse('zip_disks', 'more than one disk');
  }
  if (offset + length !== source.size - 22) refuse('zip_end', 'the directory does not end at the end record');
  if (length > LARGEST_DIRECTORY) refuse('zip_directory', 'the directory is too long');
  return { count, offset, length };
}

function readDirectory(bytes, count) {
  const entries = [];
  const data = view(bytes);
  let at = 0;
  for (let number = 0; number < count; number += 1) {
    if (at + 46 > bytes.length || data.getUint32(at, true) !== CENTRAL) refuse('zip_directory', 'the directory has fewer entries than stated');
    const lengths = [data.getUint16(at + 28, true), data.getUint16(at + 30, true), data.getUint16(at + 32, true)];
    const next = at + 46 + lengths[0] + lengths[1] + lengths[2];
    if (next > bytes.length) refuse('zip_directory', 'an entry of the directory is cut short');
    const rawName = bytes.subarray(at + 46, at + 46 + lengths[0]);
    const name = textOf(rawName);
    if (name === null) refuse('path_utf8', 'a path is not UTF-8');
    const entry = {
      name,
      rawName,
      flags: data.getUint16(at + 8, true),
      method: data.getUint16(at + 10, true),
      crc: data.getUint32(at + 16, true),
      packed: data.getUint32(at + 20, true),
      size: data.getUint32(at + 24, true),
      offset: data.getUint32(at + 42, true),
      mode: data.getUint16(at + 40, true) & 0xf000,
    };
    if (entry.packed === 0xffffffff || entry.size === 0xffffffff || entry.offset === 0xffffffff) refuse('zip_64', 'zip64 structures', name);
    checkExtra(bytes.subarray(at + 46 + lengths[0], at + 46 + lengths[0] + lengths[1]), name);
    if (entry.flags & ENCRYPTED) refuse('zip_encrypted', 'an entry is encrypted', name);
    if (!(entry.flags & UTF8_NAME) && rawName.some((byte) => byte > 127)) refuse('zip_name', 'a name is not ASCII and not marked as UTF-8', name);
    if (data.getUint16(at + 34, true) !== 0) refuse('zip_disks', 'more than one disk', name);
    if (entry.method !== 0 && entry.method !== 8) refuse('zip_method', `method ${entry.method}; only 0 and 8 are read`, name);
    if (entry.method === 0 && entry.packed !== entry.size) refuse('zip_size', 'a stored entry has two lengths', name);
    checkMode(entry);
    entries.push(entry);
    at = next;
  }
  if (at !== bytes.length) refuse('zip_directory', 'the directory has more than the entries stated');
  return entries;
}

// Refuses extra fields that are not whole, that belong to zip64 (0001) or give another name (7075).
function checkExtra(extra, name) {
  let at = 0;
  while (at + 4 <= extra.length) {
    const id = extra[at] | (extra[at + 1] << 8);
    if (id === 0x0001) refuse('zip_64', 'zip64 structures', name);
    if (id === 0x7075) refuse('zip_name', 'an extra field gives another name', name);
    at += 4 + (extra[at + 2] | (extra[at + 3] << 8));
  }
  if (at !== extra.length) refuse('zip_extra', 'an extra field is cut short', name);
}

function checkMode({ name, mode, size }) {
  if (mode === 0xa000) refuse('link', 'a symbolic link', name);
  const folder = name.endsWith('/');
  if (mode !== 0 && mode !== (folder ? 0x4000 : 0x8000)) refuse('no_file', 'neither a plain file nor a folder', name);
  if (folder && size !== 0) refuse('zip_folder', 'a folder with contents', name);
}

// Where the data of an entry begin; the local header says what the directory says.
async function openLocal(source, entry, end) {
  if (entry.offset + 30 > end) refuse('zip_local', 'an entry has no local header', entry.name);
  const head = view(await source.read(entry.offset, entry.offset + 30));
  if (head.getUint32(0, true) !== LOCAL) refuse('zip_local', 'an entry has no local header', entry.name);
  const flags = head.getUint16(6, true);
  const nameLength = head.getUint16(26, true);
  const extraLength = head.getUint16(28, true);
  const start = entry.offset + 30 + nameLength + extraLength;
  if (start + entry.packed > end) refuse('zip_overlap', 'the data of an entry reach into what follows', entry.name);
  const rest = await source.read(entry.offset + 30, start);
  if (!sameBytes(rest.subarray(0, nameLength), entry.rawName)) refuse('zip_local', 'another name in the local header', entry.name);
  checkExtra(rest.subarray(nameLength), entry.name);
  if (flags !== entry.flags) refuse('zip_local', 'other flags in the local header', entry.name);
  if (head.getUint16(8, true) !== entry.method) refuse('zip_local', 'another method in the local header', entry.name);
  const described = (flags & WITH_DESCRIPTOR) !== 0;
  for (const [at, stated] of [[14, entry.crc], [18, entry.packed], [22, entry.size]]) {
    const here = head.getUint32(at, true);
    if (here !== stated && !(described && here === 0)) refuse('zip_local', 'another length or CRC-32 in the local header', entry.name);
  }
  entry.start = start;
  await checkGap(source, entry, start + entry.packed, end, described);
}

// Between an entry and the next stands nothing, or its data descriptor.
async function checkGap(source, entry, from, to, described) {
  const gap = to - from;
  if (gap === 0 && !described) return;
  if (!described) refuse('zip_gap', 'something stands between entries', entry.name);
  if (gap !== 12 && gap !== 16) refuse('zip_gap', 'something else than a data descriptor stands after an entry', entry.name);
  const data = view(await source.read(from, to));
  const at = gap - 12;
  const fits =
    (at === 0 || data.getUint32(0, true) === DESCRIPTOR) &&
    data.getUint32(at, true) === entry.crc && data.getUint32(at + 4, true) === entry.packed && data.getUint32(at + 8, true) === entry.size;
  if (!fits) refuse('zip_descriptor', 'the data descriptor says another thing than the directory', entry.name);
}

async function entryBytes(source, entry) {
  const packed = await source.read(entry.start, entry.start + entry.packed);
  let bytes = packed;
  if (entry.method === 8) {
    try {
      bytes = inflateRaw(packed, entry.size);
    } catch (problem) {
      refuse(problem.rule ?? 'deflate', `the data cannot be inflated: ${problem.message}`, entry.name);
    }
  }
  if (bytes.length !== entry.size) refuse('inflated_length', 'the data inflate to another length than stated', entry.name);
  if (crc32(bytes) !== entry.crc) refuse('zip_crc', 'the data have another CRC-32 than stated', entry.name);
  return bytes;
}

// The files of a zip with one top folder: [{ path, size, read }], paths without that folder. Bytes are checked when read.
export async function openZip(data) {
  const source = sourceOf(data);
  const { count, offset, length } = await readEnd(source);
  const entries = readDirectory(await source.read(offset, offset + length), count);
  const ordered = [...entries].sort((one, other) => one.offset - other.offset);
  if ((ordered[0]?.offset ?? offset) !== 0) refuse('zip_gap', 'something stands before the first entry');
  for (let at = 0; at < ordered.length; at += 1) {
    await openLocal(source, ordered[at], ordered[at + 1]?.offset ?? offset);
  }
  const opened = strip(source, entries);
  // A folder holds nothing, packed or not.
  for (const { read } of opened.folders) await read();
  return opened;
}

function strip(source, entries) {
  const names = new Set();
  let top = null;
  const files = [];
  const folders = [];
  for (const entry of entries) {
    if (names.has(entry.name)) refuse('zip_twice', 'a name stands twice', entry.name);
    names.add(entry.name);
    const slash = entry.name.indexOf('/');
    if (slash === 0) refuse('path_absolute', 'a path is absolute', entry.name);
    if (slash < 0) refuse('zip_top', 'a file stands outside the top folder', entry.name);
    top ??= entry.name.slice(0, slash);
    if (entry.name.slice(0, slash) !== top) refuse('zip_top', 'more than one top folder', entry.name);
    const path = entry.name.slice(slash + 1);
    const opened = { path, size: entry.size, read: () => entryBytes(source, entry) };
    // Only the exact name is the top folder: `reed//` is a folder without a name.
    if (entry.name.endsWith('/')) folders.push({ ...opened, path: path.replace(/\/$/, ''), isTop: path === '' });
    else files.push(opened);
  }
  if (top === null) refuse('zip_top', 'the zip file is empty');
  return { files, folders, top };
}
