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

async function walk(entry, path, depth, found, progress) {
  if (found.length > MOST_FILES || depth > MOST_DEPTH) throw new Problem('problem_many', { limit: MOST_FILES, depth: MOST_DEPTH });
  const here = path === '' ? entry.name : `${path}/${entry.name}`;
  if (entry.isFile) {
    try {
      found.push({ path: here, blob: await fileOf(entry) });
    } catch (error) {
      throw new Problem('problem_read', { name: here, reason: error.message });
    }
    progress(found.length);
    return;
  }
  const reader = entry.createReader();
  // A reader gives a folder in parts, at most a hundred entries each time, and an empty part at the end.
  for (let part = await readEntries(reader); part.length > 0; part = await readEntries(reader)) {
    for (const inner of part) await walk(inner, here, depth + 1, found, progress);
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
  // The entries must be taken at once: after the first `await` the browser has emptied the list.
  const entries = [...transfer.items].map(item => (item.kind === 'file' ? item.webkitGetAsEntry?.() : null));
  const plain = [...transfer.files];
  const found = [];
  if (entries.length > 0 && entries.every(entry => entry)) {
    for (const entry of entries) await walk(entry, '', 0, found, progress);
  } else {
    for (const file of plain) found.push({ path: file.name, blob: file });
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
