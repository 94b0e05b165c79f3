// Withheld values and their disclosures, RFC 9901's digests (record-format.md, "Withheld values").

import { base64url, bytesOf, fromBase64url, refuse } from './text.js';
import { isObject, JsonObject, readJson } from './json.js';
import { sha256 } from './key.js';
import { atPointer, eachObject, pointerOf } from './pointer.js';

const PERSON = ['address', 'contact', 'name'];
const PLACES = [
  ['', 2, ['private_findings', 'valuation']],
  ['/agreement', 2, ['insured_value', 'price_ceiling']],
  ['/agreement/owner', 3, PERSON],
  ['/blade/maker/*/author', 3, PERSON],
  ['/blade/origin/*/author', 3, PERSON],
  ['/blade/period/*/author', 3, PERSON],
  ['/blade/registrations/*', 1, ['number']],
  ['/custody/*', 1, ['price']],
  ['/custody/*/documents/*', 1, ['number']],
  ['/custody/*/from', 3, PERSON],
  ['/custody/*/to', 3, PERSON],
  ['/examination/by', 3, PERSON],
  ['/photos/*', 1, ['original']],
  ['/referral/to', 3, PERSON],
  ['/tang/inscriptions/*/opinions/*/author', 3, PERSON],
].map(([place, count, names]) => ({ form: new RegExp(`^${place.replace(/\*/g, '(?:0|[1-9][0-9]*)')}$`), count, names }));

function placeOf(pointer) {
  return PLACES.find(({ form }) => form.test(pointer)) ?? null;
}

// Checks the digests of a sealed record and gives its places: Map from pointer to { digests, names }.
export function withheldPlaces(record) {
  const places = new Map();
  const seen = new Set();
  eachObject(record, (object, path) => {
    if (path.length > 0 && Object.hasOwn(object, '_sd_alg')) refuse('withheld', '`_sd_alg` stands elsewhere than at the top', pointerOf(path));
    if (!Object.hasOwn(object, '_sd')) return;
    const pointer = pointerOf(path);
    const place = placeOf(pointer);
    if (place === null) refuse('withheld', 'nothing may be withheld here', pointer);
    const digests = object._sd;
    if (!Array.isArray(digests) || digests.length !== place.count) refuse('withheld', `other than ${place.count} digests`, `${pointer}/_sd`);
    for (let at = 0; at < digests.length; at += 1) {
      if (at > 0 && !(digests[at - 1] < digests[at])) refuse('withheld', 'the digests do not ascend', `${pointer}/_sd`);
      if (seen.has(digests[at])) refuse('withheld', 'a digest stands twice', `${pointer}/_sd`);
      seen.add(digests[at]);
    }
    places.set(pointer, { digests, names: place.names.filter((name) => !Object.hasOwn(object, name)) });
  });
  if (places.size > 0 !== Object.hasOwn(record, '_sd_alg')) refuse('withheld', '`_sd_alg` stands there exactly when there are digests', '/_sd_alg');
  return places;
}

// The entries of a file of disclosures: [{ path, pointer, name, value, digest }]. What needs no record is looked at, each by itself.
export async function readDisclosures(bytes) {
  const file = readJson(bytes);
  if (!isObject(file) || Object.keys(file).sort().join() !== 'disclosures,format' || file.format !== 'tangmark disclosures 1') {
    refuse('disclosures_form', 'no file of disclosures');
  }
  if (!Array.isArray(file.disclosures)) refuse('disclosures_form', '`disclosures` is no list');
  const entries = [];
  const [digests, salts] = [new Set(), new Set()];
  for (const entry of file.disclosures) {
    if (!isObject(entry) || Object.keys(entry).sort().join() !== 'disclosure,path') refuse('disclosures_form', 'an entry has other members');
    if (typeof entry.path !== 'string' || typeof entry.disclosure !== 'string') refuse('disclosures_form', 'an entry has other members');
    const opened = await openDisclosure(entry);
    if (digests.has(opened.digest)) refuse('disclosure_twice', 'a disclosure stands twice', entry.path);
    if (salts.has(opened.salt)) refuse('disclosure_salt', 'two disclosures have one salt', entry.path);
    digests.add(opened.digest);
    salts.add(opened.salt);
    entries.push(opened);
  }
  return entries;
}

async function openDisclosure({ path, disclosure }) {
  const raw = fromBase64url(disclosure);
  if (raw === null) refuse('disclosure', 'a disclosure is not base64url without padding', path);
  const parts = readJson(raw);
  if (!Array.isArray(parts) || parts.length !== 3) refuse('disclosure', 'a disclosure is no list of three', path);
  const [salt, name, value] = parts;
  if (typeof salt !== 'string' || fromBase64url(salt)?.length !== 16) refuse('disclosure_salt', 'the salt is not 16 bytes', path);
  if (typeof name !== 'string' || ['_sd', '_sd_alg', '...'].includes(name)) refuse('disclosure_name', 'this name may not be disclosed', path);
  const pointer = path.slice(0, Math.max(0, path.lastIndexOf('/')));
  if (path !== `${pointer}/${name}`) refuse('disclosure_name', 'the path ends in another name than the disclosure has', path);
  return { path, pointer, name, value, salt, digest: base64url(await sha256(bytesOf(disclosure))) };
}

// Refuses entries that do not belong to a sealed record, or stand twice.
export function checkDisclosures(record, entries) {
  const paths = new Set();
  for (const { path } of entries) {
    if (paths.has(path)) refuse('disclosure_twice', 'a place is disclosed twice', path);
    paths.add(path);
  }
  const places = withheldPlaces(record);
  for (const { path, pointer, name, digest } of entries) {
    const holder = atPointer(record, pointer);
    if (!isObject(holder)) refuse('disclosure_place', 'there is no object at the place of a disclosure', path);
    if (Object.hasOwn(holder, name)) refuse('disclosure_name', 'the name stands in clear', path);
    const place = places.get(pointer);
    if (place === undefined || !place.digests.includes(digest)) refuse('disclosure_digest', 'no digest of the record fits', path);
    if (!place.names.includes(name)) refuse('disclosure_name', 'this name cannot be withheld here', path);
  }
}

// The record with the disclosed values in their places; what is on the way is copied, the rest shared.
export function revealed(record, opened) {
  const copy = copyOf(record);
  for (const { path, value } of opened) {
    const at = path.lastIndexOf('/');
    atPointer(copy, path.slice(0, at))[path.slice(at + 1)] = value;
  }
  return copy;
}

function copyOf(value) {
  if (Array.isArray(value)) return value.map(copyOf);
  if (typeof value !== 'object' || value === null) return value;
  const copy = new JsonObject();
  for (const key of Object.keys(value)) copy[key] = copyOf(value[key]);
  return copy;
}

// Pointers of what may stay withheld, in order, without what was disclosed.
export function stillWithheld(record, opened = []) {
  const shown = new Set(opened.map(({ path }) => path));
  const open = [];
  for (const [pointer, { names }] of withheldPlaces(record)) {
    for (const name of names) if (!shown.has(`${pointer}/${name}`)) open.push(`${pointer}/${name}`);
  }
  return open.sort();
}
