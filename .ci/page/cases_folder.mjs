// The failure cases that are files, from `testkit failures --out DIR`, judged by a reader who knows nobody and by one who compared
// the workshop's fingerprint. What each must come to is written here by hand, by its name; what has no name here is rejected.

import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { compareHistories, readHistory } from '../../crates/package/page/core/history.js';
import { judgeFile, readJson } from '../../crates/package/page/core/index.js';
import { reader } from './core/made.mjs';

// Exit codes of the two readers.
const REJECTED = [1, 1];
const OPEN = [3, 3];
const ASKED = [2, 2];
const TAKEN = [2, 0];

// By case and name; behind the exit codes the state of the time line and who says so, where that is what the case is about.
const WANTED = {
  10: { 'written with line ends': TAKEN, 'members in another order': TAKEN, 'a line end behind it': TAKEN },
  12: { 'writing direction turned': TAKEN, 'a space of no width': TAKEN, 'a letter of another script': TAKEN },
  // Without the mark of a record nobody can say whose document it is.
  14: { 'changed /schema/id': OPEN },
  17: { 'the twin of the signature': TAKEN },
  23: { 'a time that has not come': [...TAKEN, 'future'] },
  25: { 'published example of P-256': OPEN, 'published example of P-384': OPEN, 'published example of Ed25519': OPEN },
  26: { "sealed by a stranger under the workshop's name": ASKED },
  29: { 'first key, while it was in force': TAKEN, 'second key, while it is in force': TAKEN },
  30: {
    'before the theft, without outside evidence': [...ASKED, 'own_word'],
    'before the theft, with outside evidence': [...TAKEN, 'not_later_than trusted'],
    'before the theft, with evidence of a day after it': [...ASKED, 'not_later_than trusted'],
  },
  34: { 'a record of another blade beside it': TAKEN },
  36: { 'the first alone': TAKEN, 'the first while the second is here': ASKED },
  38: { 'a newer version': OPEN, 'a record of a newer version': OPEN },
  40: { 'a withdrawal alone': ASKED, 'a package that ends in a withdrawal': ASKED },
  45: { 'a price that can be guessed, salted': TAKEN },
  46: { 'everything withheld': TAKEN },
  47: { 'everything disclosed': TAKEN, 'nothing disclosed': TAKEN },
  49: { 'a photo left out': TAKEN, 'a photo missing that the manifest lists': OPEN, 'a photo that no record names': ASKED, 'a photo that no manifest lists': ASKED, 'a photo of another name': ASKED, 'a file of a later version': TAKEN },
  50: { 'a manifest of another algorithm': TAKEN, 'all deflated': TAKEN, 'descriptors behind the data': TAKEN, 'zip: an entry for its folder': TAKEN },
  52: { 'cut off before the last line': OPEN, ...Object.fromEntries([1, 2, 5, 9, 15, 19].map((part) => [`cut off after ${part} twentieths`, OPEN])) },
  55: { 'a second signature before the first': OPEN },
  59: {
    'a hidden layer': OPEN, 'an object that nothing names': OPEN, 'an object that is not there': OPEN, 'a text field': OPEN, 'a second annotation': OPEN, 'a widget over the page that is not printed': OPEN,
    'a kind of annotation in an object of its own': OPEN, 'the list of fields in an object of its own': OPEN,
  },
  60: { 'a script': OPEN, 'a program': OPEN, 'an address': OPEN, 'further actions': OPEN, 'a form of another kind': OPEN, 'an action named in an object of its own': OPEN, 'a catalogue in the trailer': OPEN },
  62: { 'an old certificate of the same key': TAKEN, 'signed by a later key, with the history': TAKEN },
  63: { 'of the first record while later ones are here': ASKED, 'a report of the first record': ASKED },
  64: {
    'it fits': [...TAKEN, 'not_later_than unknown'], 'it fits, with its root': [...TAKEN, 'not_later_than trusted'],
    'granted with changes': [...TAKEN, 'not_later_than unknown'], 'granted with changes, with its root': [...TAKEN, 'not_later_than trusted'],
    // The certificate in the token is none of an authority; the one that the reader gives, of the same key, is.
    'who certified it is no authority': [...TAKEN, 'not_later_than unknown'], 'who certified it is no authority, with its root': [...TAKEN, 'not_later_than trusted'],
    'a fraction of a second': [...TAKEN, 'not_later_than unknown'], 'a fraction of a second, with its root': [...TAKEN, 'not_later_than trusted'],
    'run by the workshop itself': [...TAKEN, 'not_later_than workshop'], 'run by the workshop itself, with its root': [...TAKEN, 'not_later_than workshop'],
  },
  69: { 'line ends of another system in the tag files': TAKEN },
};
// Texts that are JSON of the strict kind.
const READ = ['keys that sort by code unit', '2 to the 53 less one', '32 levels', 'y_array_heterogeneous', 'y_string_unicode_U+200B_ZERO_WIDTH_SPACE'];
// Key histories that read; of two, whether they agree.
const HISTORIES = { 'a history of two keys': 'read', 'a recovery by the key on paper': 'read', 'two successors of one key': 'fork' };

async function ofHistories(files) {
  try {
    const read = await Promise.all(files.map(({ bytes }) => readHistory(bytes)));
    return read.length > 1 && compareHistories(read[0], read[1]) === 'fork' ? 'fork' : 'read';
  } catch {
    return 'refused';
  }
}

function ofJson(bytes) {
  try {
    readJson(bytes);
    return 'read';
  } catch (problem) {
    return problem.rule?.startsWith('json_') ? 'refused' : String(problem.stack);
  }
}

const isPem = ({ path }) => path.endsWith('.pem');

// The exit codes of both readers, and what the time line says. Certificates beside the file are authorities of the reader.
async function ofFiles([main, ...others], workshop, tellsTime) {
  const authorities = others.filter(isPem).map(({ bytes }) => new TextDecoder().decode(bytes));
  const beside = others.filter((file) => !isPem(file));
  const found = [];
  for (const fingerprints of [[], [workshop]]) found.push(await judgeFile(main.bytes, reader({ fingerprints, authorities }), beside, main.path));
  const { state, standing } = found[1].subject?.time ?? {};
  return [...found.map(({ exit }) => exit), ...(tellsTime ? [[state, standing].filter(Boolean).join(' ')] : [])].join(', ');
}

// Adds the cases of the folder: `holds(number, name, run, wanted)`.
export async function folderCases(folder, holds) {
  const list = JSON.parse(readFileSync(join(folder, 'index.json'), 'utf8'));
  const filesOf = (entry) => entry.files.map((path) => ({ path, bytes: new Uint8Array(readFileSync(join(folder, path))) }));
  const sound = list.find((entry) => entry.case === 36 && entry.name === 'the first alone');
  const workshop = (await judgeFile(filesOf(sound)[0].bytes, reader(), [], 'record.json')).subject.signer.fingerprint;
  const met = new Set();
  for (const entry of list) {
    const files = filesOf(entry);
    const name = `${entry.kind}: ${entry.name} (of the folder)`;
    met.add(`${entry.case} ${entry.name}`);
    if (entry.kind === 'keys') holds(entry.case, name, () => ofHistories(files), HISTORIES[entry.name] ?? 'refused');
    else if (entry.kind === 'json') holds(entry.case, name, () => ofJson(files[0].bytes), READ.includes(entry.name) ? 'read' : 'refused');
    else {
      const wanted = WANTED[entry.case]?.[entry.name] ?? REJECTED;
      holds(entry.case, name, () => ofFiles(files, workshop, wanted.length > 2), wanted.join(', '));
    }
  }
  // A name that no file has is a slip of this list.
  for (const [number, names] of Object.entries(WANTED)) for (const name of Object.keys(names)) holds(Number(number), `${name} is among the files`, () => met.has(`${number} ${name}`), 'true');
}
