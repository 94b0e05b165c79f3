// Checks the proof of every sealed record with the npm suite for ecdsa-jcs-2019, offline, and
// that changed copies are refused: node proof.mjs NPM_FOLDER TOUR_FOLDER TOUR_JSON
import {createRequire} from 'node:module';
import {readFileSync} from 'node:fs';
import {join, resolve} from 'node:path';
import {pathToFileURL} from 'node:url';

const [npm, folder, listing] = process.argv.slice(2);
const require = createRequire(pathToFileURL(join(resolve(npm), 'package.json')));
const load = async name => import(pathToFileURL(require.resolve(name)));
const version = name => JSON.parse(readFileSync(join(npm, 'node_modules', name, 'package.json'), 'utf8')).version;

const suiteName = '@digitalbazaar/ecdsa-jcs-2019-cryptosuite';
const {DataIntegrityProof} = await load('@digitalbazaar/data-integrity');
const {createVerifyCryptosuite} = await load(suiteName);
const signatures = (await load('jsonld-signatures')).default;
console.log('proof-mjs: ' + [suiteName, '@digitalbazaar/data-integrity', 'jsonld-signatures', 'canonicalize']
  .map(name => `${name} ${version(name)}`).join(', ') + `, node ${process.versions.node}`);

// Anything the suite asks for but a did:key is an error: no context, no network.
const asked = new Set();
async function documentLoader(url) {
  asked.add(url);
  const match = /^did:key:(z[1-9A-HJ-NP-Za-km-z]+)(#\1)?$/.exec(url);
  if (!match) throw new Error(`asked for ${url}`);
  const [, multikey, fragment] = match;
  const did = `did:key:${multikey}`, id = `${did}#${multikey}`;
  const method = {
    '@context': 'https://w3id.org/security/multikey/v1',
    id, type: 'Multikey', controller: did, publicKeyMultibase: multikey,
  };
  const document = fragment ? method : {
    '@context': ['https://www.w3.org/ns/did/v1', 'https://w3id.org/security/multikey/v1'],
    id: did, verificationMethod: [method], assertionMethod: [id],
  };
  return {contextUrl: null, documentUrl: url, document};
}

async function holds(record) {
  const suite = new DataIntegrityProof({cryptosuite: createVerifyCryptosuite()});
  const purpose = new signatures.purposes.AssertionProofPurpose();
  try {
    return (await signatures.verify(structuredClone(record), {suite, purpose, documentLoader})).verified;
  } catch {
    return false;
  }
}

let passed = 0, failed = 0;
function check(good, what) {
  if (good) { passed += 1; } else { failed += 1; console.log(`FAILED: ${what}`); }
}

function* leaves(value, path = []) {
  if (value !== null && typeof value === 'object') {
    for (const key of Object.keys(value)) yield* leaves(value[key], [...path, key]);
  } else {
    yield path;
  }
}
function other(value) {
  if (typeof value === 'boolean') return !value;
  if (typeof value === 'number') return value + 1;
  if (typeof value === 'string') return value.slice(0, -1) + (value.endsWith('1') ? '2' : '1');
  return '1';
}
function changed(record, path) {
  const twin = structuredClone(record);
  const last = path.at(-1);
  let place = twin;
  for (const part of path.slice(0, -1)) place = place[part];
  place[last] = other(place[last]);
  return twin;
}

const tour = JSON.parse(readFileSync(listing, 'utf8'));
const files = tour.blades.flatMap(blade => blade.records).map(path => resolve(folder, path));
const records = files.map(file => JSON.parse(readFileSync(file, 'utf8')));
check(records.length >= 5, `${records.length} records, 5 or more wanted`);
let good = 0;
for (const [index, record] of records.entries()) {
  const verified = await holds(record);
  good += verified;
  check(verified, `${files[index]}: refused`);
}
let refused = 0;
for (const [index, record] of records.entries()) {
  const copies = [...leaves(record)].map(path => [path.join('/'), changed(record, path)]);
  copies.push(['a field added', {...record, zz: 'added'}]);
  copies.push(['a field added to the proof', {...record, proof: {...record.proof, zz: 'added'}}]);
  for (const name of Object.keys(record)) {
    const twin = structuredClone(record);
    delete twin[name];
    copies.push([`${name} left out`, twin]);
  }
  const neighbour = records.at(index - 1).proof.proofValue;
  copies.push(['another signature', {...record, proof: {...record.proof, proofValue: neighbour}}]);
  for (const [what, twin] of copies) {
    const verified = await holds(twin);
    refused += !verified;
    check(!verified, `${files[index]}: accepted with ${what}`);
  }
}
check([...asked].every(url => url.startsWith('did:key:')), `asked for something but did:key: ${[...asked]}`);
console.log(`${good} proofs hold, ${refused} changed copies refused, ${asked.size} addresses asked for, all of them did:key`);
console.log(`count proof-mjs ${passed + failed}`);
console.log(`${passed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
