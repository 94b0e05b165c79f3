// What the reader dropped or chose, as a list of files with their paths.

/** Most files that are listed, and how deep. */
export const MOST_FILES = 20000;
export const MOST_DEPTH = 24;

/** What went wrong while listing: a key of the page's words with its values. */
export class Problem extends Error {
  constructor(key, values = {}) {
    super(key);
    this.key = key;
    this.values = values;
  }
}

function readEntries(reader) {
  return new Promise((done, fail) => { reader.readEntries(done, fail); });
}

function fileOf(entry) {
  return new Promise((done, fail) => { entry.file(done, fail); });
}

function tooMany(found, depth) {
  if (found.length > MOST_FILES || depth > MOST_DEPTH) throw new Problem('problem_many', { limit: MOST_FILES, depth: MOST_DEPTH });
}

/** Lists a folder by its handle: Chromium gives folders dropped on a page from the disk in no other way. */
async function walkHandle(handle, path, depth, found, progress) {
  for await (const inner of handle.values()) {
    tooMany(found, depth);
    const here = `${path}/${inner.name}`;
    if (inner.kind === 'directory') await walkHandle(inner, here, depth + 1, found, progress);
    else found.push({ path: here, blob: await inner.getFile() });
    progress(found.length);
  }
}

/** Lists a folder by its entry, for browsers without handles. */
async function walkEntry(entry, path, depth, found, progress) {
  const reader = entry.createReader();
  // A reader gives a folder in parts, at most a hundred entries each time, and an empty part at the end.
  for (let part = await readEntries(reader); part.length > 0; part = await readEntries(reader)) {
    for (const inner of part) {
      tooMany(found, depth);
      const here = `${path}/${inner.name}`;
      if (inner.isDirectory) await walkEntry(inner, here, depth + 1, found, progress);
      else found.push({ path: here, blob: await fileOf(inner) });
      progress(found.length);
    }
  }
}

async function listFolder({ entry, handle }, found, progress) {
  const known = await handle?.catch(() => null);
  try {
    if (known?.kind === 'directory') await walkHandle(known, entry.name, 1, found, progress);
    else await walkEntry(entry, entry.name, 1, found, progress);
  } catch (error) {
    throw error instanceof Problem ? error : new Problem('problem_folder', { name: entry.name, reason: error.message });
  }
}

/** Takes the one folder that all paths begin with from them, and names the whole after it. */
function named(files) {
  if (files.length === 0) throw new Problem('problem_empty');
  const top = files[0].path.split('/')[0];
  const inOne = files.every(file => file.path.startsWith(`${top}/`));
  const stripped = inOne ? files.map(file => ({ path: file.path.slice(top.length + 1), blob: file.blob })) : files;
  return { name: inOne || files.length === 1 ? top : '', folder: inOne, files: stripped };
}

/** Lists what was dropped, folders with all that is in them. `progress(count)` is told as it goes. */
export async function fromDrop(transfer, progress) {
  // All is taken at once: after the first `await` the browser has emptied the list.
  const items = [...transfer.items].filter(item => item.kind === 'file').map(item => {
    const entry = item.webkitGetAsEntry?.() ?? null;
    return { entry, file: item.getAsFile(), handle: entry?.isDirectory ? item.getAsFileSystemHandle?.() : undefined };
  });
  const found = [];
  for (const item of items) {
    if (item.entry?.isDirectory) await listFolder(item, found, progress);
    else if (item.file) found.push({ path: item.file.name, blob: item.file });
  }
  return named(found);
}

/** Lists what was chosen by a button. */
export function fromChoice(files) {
  if (files.length > MOST_FILES) throw new Problem('problem_many', { limit: MOST_FILES, depth: MOST_DEPTH });
  return named([...files].map(file => ({ path: file.webkitRelativePath || file.name, blob: file })));
}

/** Reads all bytes of a file. */
export async function bytesOfFile(file) {
  try {
    return new Uint8Array(await file.blob.arrayBuffer());
  } catch (error) {
    throw new Problem('problem_read', { name: file.path, reason: error.message });
  }
}

/** Returns whether the files are those of a package's folder. */
export function isPackageFolder(files) {
  return files.some(file => file.path === 'bagit.txt' || file.path.startsWith('data/records/'));
}
