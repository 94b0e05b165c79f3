// Where the bytes of a package come from: one interface over bytes in memory, a Blob, and the files of a folder.

import { refuse } from './text.js';

export const LIMITS = {
  paths: 20000,
  small: 16 * 1024 * 1024,
  large: 256 * 1024 * 1024,
  all: 8 * 1024 * 1024 * 1024,
};

// A stretch of bytes that can be read in parts.
export function sourceOf(data) {
  if (data instanceof Uint8Array) return { size: data.length, read: async (from, to) => data.subarray(from, to) };
  return { size: data.size, read: async (from, to) => new Uint8Array(await data.slice(from, to).arrayBuffer()) };
}

// The greatest length of the file at this path of the bag.
export function greatestLength(path) {
  return path.startsWith('data/photos/') || path.startsWith('data/reports/') ? LIMITS.large : LIMITS.small;
}

// Refuses longer files than a package has. `files` are { path, size }.
export function checkLengths(files) {
  let all = 0;
  for (const { path, size } of files) {
    if (size > greatestLength(path)) refuse('file_length', `${size} bytes, more than ${greatestLength(path)}`, path);
    all += size;
  }
  if (all > LIMITS.all) refuse('all_length', `${all} bytes in all, more than ${LIMITS.all}`);
}
