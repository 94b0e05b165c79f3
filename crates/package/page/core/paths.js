// Which paths a package may have, and what each file is (package-format.md, "Files" and "What is refused whole").

import { bytesOf, refuse } from './text.js';

const DEVICES = /^(con|prn|aux|nul|com[0-9]|lpt[0-9])$/i;
const FORBIDDEN = /[\u0000-\u001f\u007f-\u009f\\:*?"<>|]/;
const NAME = '[a-z0-9][a-z0-9._-]{0,79}';
const NN_FORM = '0[0-9]|[1-9][0-9]{1,9}';
// The terms of Purpose in record-terms.md.
const PURPOSES = [
  'intake', 'before_work', 'in_work', 'after_work', 'transfer', 'referral', 'reply', 'receipt', 'correction', 'withdrawal', 'override', 'key_change',
];
const KINDS = [
  ['record', new RegExp(`^data/records/(${NN_FORM})-(${PURPOSES.join('|')})\\.json$`)],
  ['disclosures', new RegExp(`^data/disclosures/(${NN_FORM})\\.json$`)],
  ['photo', /^data\/photos\/([0-9a-f]{64})\.(jpg|png|tif)$/],
  ['report', new RegExp(`^data/reports/(${NAME})\\.pdf$`)],
  ['keys', /^data\/keys\/((?:[A-Z2-7]{5}-){3}[A-Z2-7]{5})\.json$/],
  ['timestamp', new RegExp(`^data/timestamps/(${NN_FORM})-(${NAME})\\.tsr$`)],
  ['authority', new RegExp(`^data/timestamps/authorities/(${NAME})\\.pem$`)],
  ['schema', /^data\/schema\/tangmark-record-1\.schema\.json$/],
  ['format', new RegExp(`^data/format/${NAME}\\.md$`)],
  ['tool', /^data\/tools\/check_record\.(py|mjs)$/],
  ['page', /^data\/verify\.html$/],
  ['how', /^data\/HOW-TO-CHECK\.txt$/],
  ['later', /^data\/(proofs|exports)\//],
];
export const TAG_FILES = ['bagit.txt', 'bag-info.txt', 'manifest-sha256.txt', 'tagmanifest-sha256.txt'];

// Refuses a path that some system reads in another way than others. Folders of a path stand in it as its parts.
export function checkPath(path) {
  if (path === '') refuse('path_empty', 'a path is empty', path);
  if (path.startsWith('/')) refuse('path_absolute', 'a path is absolute', path);
  if (bytesOf(path).length > 240) refuse('path_long', 'a path is longer than 240 bytes', path);
  if (path.normalize('NFC') !== path) refuse('path_text', 'a path is not in Unicode form C', path);
  if (FORBIDDEN.test(path)) refuse('path_character', 'a path has a character that some systems do not allow', path);
  for (const part of path.split('/')) {
    if (part === '' || part === '.' || part === '..') refuse('path_part', 'a path has an empty part, `.` or `..`', path);
    if (/[. ]$/.test(part)) refuse('path_part', 'a part of a path ends in a full stop or a space', path);
    if (bytesOf(part).length > 120) refuse('path_long', 'a part of a path is longer than 120 bytes', path);
    if (DEVICES.test(part.split('.')[0].replace(/ +$/, ''))) refuse('path_device', 'a part of a path is the name of a device', path);
  }
}

// Refuses paths that are too many or that one and the same file could have. `files` and `folders` are whole paths.
export function checkPaths(files, folders, most) {
  const isFolder = new Map(files.map((path) => [path, false]));
  const add = (path) => {
    if (isFolder.get(path) === false) refuse('path_folder', 'a path is a file and a folder', path);
    isFolder.set(path, true);
  };
  folders.forEach(add);
  for (const path of [...files, ...folders]) {
    for (let at = path.indexOf('/'); at >= 0; at = path.indexOf('/', at + 1)) add(path.slice(0, at));
  }
  if (isFolder.size > most) refuse('paths', `${isFolder.size} paths, more than ${most}`);
  const folded = new Map();
  for (const path of isFolder.keys()) {
    const plain = path.toLowerCase().normalize('NFC');
    if (folded.has(plain)) refuse('path_twice', `the same as ${folded.get(plain)} on systems that do not tell letters apart`, path);
    folded.set(plain, path);
  }
}

// What a file of the bag is: { kind, parts }; `tag`, `manifest` (of another algorithm) and `extra` besides those of the table.
export function kindOfPath(path) {
  if (TAG_FILES.includes(path)) return { kind: 'tag', parts: [] };
  if (/^(tag)?manifest-[a-z0-9]{1,40}\.txt$/.test(path)) return { kind: 'manifest', parts: [] };
  for (const [kind, pattern] of KINDS) {
    const parts = pattern.exec(path);
    if (parts) return { kind, parts: parts.slice(1) };
  }
  return { kind: 'extra', parts: [] };
}
