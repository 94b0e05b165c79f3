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

/**
 * Folders that hold a package, each with its last `/`: those with a bagit.txt; where no file has that name, those with
 * data/records/. One inside another is part of that.
 */
export function packagePlaces(files) {
  const places = form => [...new Set(files.map(({ path }) => form.exec(path)?.[1]).filter(place => place !== undefined))];
  const bags = places(/^((?:.*\/)?)bagit\.txt$/s);
  const found = bags.length > 0 ? bags : places(/^((?:.*?\/)?)data\/records\//s);
  return found.filter(place => !found.some(other => other !== place && place.startsWith(other)));
}

/**
 * What was dropped, as `{ name, isPackage, files, outside }`: the files of the one package in it, by their paths in it, and
 * the paths of those that lie beside it; or all files.
 */
export function sorted(files) {
  if (files.length === 0) throw new Problem('problem_empty');
  const places = packagePlaces(files);
  if (places.length > 1) throw new Problem('problem_packages', { count: places.length, names: places.slice(0, 4).map(place => place || './').join(', ') });
  const [place] = places;
  if (place !== undefined) {
    const inside = files.filter(({ path }) => path.startsWith(place)).map(({ path, blob }) => ({ path: path.slice(place.length), blob }));
    const outside = files.filter(({ path }) => !path.startsWith(place)).map(({ path }) => path).sort();
    return { name: place.split('/').at(-2) ?? '', isPackage: true, files: inside, outside };
  }
  const top = files[0].path.split('/')[0];
  const inOne = files.every(file => file.path.startsWith(`${top}/`));
  const stripped = inOne ? files.map(({ path, blob }) => ({ path: path.slice(top.length + 1), blob })) : files;
  return { name: inOne || files.length === 1 ? top : '', isPackage: false, files: stripped, outside: [] };
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
  return sorted(found);
}

/** Lists what was chosen by a button. */
export function fromChoice(files) {
  if (files.length > MOST_FILES) throw new Problem('problem_many', { limit: MOST_FILES, depth: MOST_DEPTH });
  return sorted([...files].map(file => ({ path: file.webkitRelativePath || file.name, blob: file })));
}

/** Reads the bytes of a file, all or the first `most`. */
export async function bytesOfFile(file, most = file.blob.size) {
  try {
    return new Uint8Array(await file.blob.slice(0, most).arrayBuffer());
  } catch (error) {
    throw new Problem('problem_read', { name: file.path, reason: error.message });
  }
}
