// node .ci/page/cases.mjs [DIR]: the failure cases that a verifier of records, reports and packages must hold, each by its number.
//
// What is expected is written here by hand, from the list of cases and the format pages; the files are made here, by a signer
// that shares nothing with the verifier. With DIR (from `testkit failures --out DIR`) the files there are judged too.
// Prints every case that does not hold, and last `count cases N`. Exit code 1 when one does not hold.
//
// Not here: 11 (a feature of a Rust crate), 46 (what is written, not read), 65 to 67 (logs, not in this version). 13, texts that
// readers of JSON disagree on, is in DIR alone: they were written from memory of what such readers stumble over.

import { judgeFile, judgePackage, readJson } from '../../crates/package/page/core/index.js';
import {
  bag, base58, base64url, bytes32, canonical, chain, dataOf, decoy, disclosure, disclosuresFile, entryDigest, examinerName, fileList, first, hex, historyFile, joined, key, later, N, nameOf, number, paper, proved, reader,
  record, recordPath, revocation, sample, schema, sealed, second, sha, sha256hex, statement, utf8, withExaminer, zip, zipOf,
} from './core/made.mjs';
import { certificate, int, report } from './core/pdf.mjs';
import { certificateOf, clock, pemOf, root, rootCertificate, token as madeToken } from './core/tokens.mjs';
import { visible } from '../../crates/package/page/ui/lang.js';
import { folderCases } from './cases_folder.mjs';

const knows = reader({ fingerprints: [first.fingerprint] });
const made = record({ change: withExaminer });
const text = new TextDecoder().decode(sealed(made));
const [one, two, three] = chain([{ change: withExaminer }, {}, {}]);
const good = dataOf([one, two, three]);

// Verdicts in one line each: what the file is, and the exit code.
const onRecord = async (bytes, beside = [], ask = knows) => {
  const verdict = await judgeFile(bytes instanceof Uint8Array ? bytes : typeof bytes === 'string' ? utf8(bytes) : sealed(bytes), ask, beside, 'record.json');
  return `${verdict.subject.bytes.state} ${verdict.exit}`;
};
const onSigner = async (bytes, beside = [], ask = knows) => {
  const verdict = await judgeFile(sealed(bytes), ask, beside, 'record.json');
  return `${verdict.subject.signer.state} ${verdict.exit}`;
};
const onReport = async (bytes, ask = knows) => {
  const verdict = await judgeFile(bytes, ask, [], 'report.pdf');
  return `${verdict.reports['report.pdf'].state} ${verdict.exit}`;
};
const onPackage = async (data, tell = () => '', more = {}, ask = knows) => {
  const verdict = await judgePackage(data instanceof Uint8Array ? data : fileList(bag(data, more)), ask);
  return verdict.refused ? `refused ${verdict.exit}` : `${tell(verdict)} ${verdict.exit}`.trim();
};
const onJson = (bytes) => {
  try {
    return canonical(readJson(typeof bytes === 'string' ? utf8(bytes) : bytes));
  } catch (problem) {
    return problem.rule.startsWith('json_') ? 'refused' : problem.rule;
  }
};
const onDisclosures = (list, from = one) => onPackage({ ...dataOf([from]), 'data/disclosures/01.json': disclosuresFile(list) }, ({ disclosures }) => disclosures['data/disclosures/01.json'].state);
const chained = ({ chain: { state } }) => state;
const flip = (bytes, at, bit = 1) => bytes.map((byte, place) => (place === at ? byte ^ bit : byte));
const resigned = (options) => proved(made, first, made.issued_at, { options });
const pdf = (how = {}, source = made) => report(sealed(source), { by: first, at: source.issued_at, ...how });
const inObject = (object, from, to) => ({ change: (list) => (list[object] = list[object].replace(from, to)) });
const did = (...bytes) => `did:key:z${base58(new Uint8Array(bytes))}`;
const [byClock, byRoot] = [record({ by: clock }), record({ by: root })];
const withKey = (other) => record({ change: (list) => (list.issuer.id = other) });

// Key histories.
const start = statement(first, '2026-01-01T00:00:00Z');
const turn = later('rotation', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), first);
const beside = (...entries) => [{ path: 'keys.json', bytes: historyFile(entries) }];
const revoked = (since) => revocation(first, since, entryDigest(turn), second, '2026-08-01T00:00:00Z');

const CASES = [];
const holds = (number, name, run, wanted) => CASES.push({ number, name, run, wanted });

// JSON
holds(1, 'a key twice', () => onRecord(text.replace('"blade":', '"purpose":"intake","blade":')), 'altered 1');
holds(2, 'a key twice, once with an escape', () => onRecord(text.replace('"blade":', '"purp\\u006fse":"intake","blade":')), 'altered 1');
holds(3, 'text outside form C', () => onRecord(record({ change: (list) => (list.blade.title = 'e\u0301') })), 'altered 1');
for (const [at, bad] of ['-0', '-0.0'].entries()) holds(4, `zero with a sign ${at}`, () => onJson(bad), 'refused');
for (const bad of ['9007199254740993', '1'.repeat(30)]) holds(5, `a whole number too long: ${bad.length} digits`, () => onJson(bad), 'refused');
for (const bad of ['1.0', '0.30000000000000001', '1e2']) holds(6, `a fraction ${bad}`, () => onJson(bad), 'refused');
holds(6, 'a number where a text belongs', () => onRecord(record({ change: (list) => (list.dimensions.blade_length.value = 712) })), 'altered 1');
for (const bad of ['"\\ud800"', '"\\u0000"', '\ufeff1', '1 x', 'NaN', '1e400']) holds(7, `no strict JSON: ${JSON.stringify(bad)}`, () => onJson(bad), 'refused');
holds(7, 'a line end after the record', () => onRecord(`${text}\n`), 'same_content 0');
holds(7, 'bytes after the record', () => onRecord(`${text}x`), 'altered 1');
holds(8, 'keys in the order of UTF-16', () => onJson('{"\\u20ac":1,"\\ud83d\\ude02":2,"\\u00f6":3,"1":4}'), '{"1":4,"ö":3,"€":1,"😂":2}');
holds(9, 'ten thousand levels', () => onJson('['.repeat(10000)), 'refused');
holds(9, 'more than 16 MiB', () => onRecord(joined(sealed(made), new Uint8Array(16 * 1024 * 1024).fill(32))), 'altered 1');
holds(9, 'too many values', () => onJson(`[${'0,'.repeat(200000)}0]`), 'refused');
holds(10, 'spaces and another order', () => onRecord(JSON.stringify(Object.fromEntries(Object.entries(made).reverse()), null, 2)), 'same_content 0');
// Sealed they are; what the page shows of them is told by number.
for (const [name, sign] of Object.entries({ 'letters that turn the line': '\u202e', 'a space of no width': '\u200b', 'a mark of direction': '\u061c' })) {
  holds(12, name, async () => {
    const verdict = await judgeFile(sealed(record({ change: (list) => (list.blade.title = `a${sign}b`) })), knows, [], 'record.json');
    return `${verdict.exit} ${visible(verdict.records['record.json'].record.blade.title)}`;
  }, `0 aU+${sign.codePointAt(0).toString(16).toUpperCase().padStart(4, '0')}b`);
}

// Proof
const bytes = sealed(made);
for (let at = 3; at < bytes.length; at += Math.ceil(bytes.length / 60)) holds(14, `byte ${at} changed`, () => onRecord(flip(bytes, at)), 'altered 1');
for (const name of Object.keys(made.proof)) holds(14, `${name} of the proof changed`, () => onRecord({ ...made, proof: { ...made.proof, [name]: `${made.proof[name]}1` } }), 'altered 1');
holds(15, 'a proof field more, not signed', () => onRecord({ ...made, proof: { ...made.proof, domain: 'x' } }), 'altered 1');
holds(15, 'a proof field more, signed', () => onRecord(resigned({ domain: 'x' })), 'altered 1');
for (const [name, proof] of Object.entries({ 'one good, one bad': [made.proof, { ...made.proof, proofValue: 'z1' }], two: [made.proof, made.proof], one: [made.proof], none: [], null: null })) {
  holds(16, `a list of proofs: ${name}`, () => onRecord({ ...made, proof }), 'altered 1');
}
holds(16, 'no proof', () => onRecord(text.replace(/,"proof":\{[^}]*\}/, '')), 'altered 1');
holds(17, 'the higher s', () => onRecord(record({ change: withExaminer, how: { high: true } })), 'same_content 0');
const value = (raw, spell = (list) => `z${base58(list)}`) => onRecord({ ...made, proof: { ...made.proof, proofValue: spell(raw) } });
const pair = (r, s) => new Uint8Array([...bytes32(r), ...bytes32(s)]);
for (const [name, raw] of Object.entries({ 'r is 0': pair(0n, 1n), 's is 0': pair(1n, 0n), 'r is n': pair(N, 1n), 's is n': pair(1n, N), 'r above n': pair(N + 5n, 1n), '63 bytes': pair(1n, 1n).slice(1), '65 bytes': joined([1], pair(1n, 1n)), 'DER': joined([0x30, 6, 2, 1, 1, 2, 1, 1]) })) {
  holds(18, `signature: ${name}`, () => value(raw), 'altered 1');
}
holds(18, 'signature in base64url', () => value(pair(1n, 1n), (raw) => `u${base64url(raw)}`), 'altered 1');
for (const cryptosuite of ['eddsa-jcs-2022', 'ecdsa-rdfc-2019', 'ecdsa-jcs-2020']) holds(19, `suite ${cryptosuite}`, () => onRecord(resigned({ cryptosuite })), 'altered 1');
holds(19, 'a key on P-384', () => onRecord(withKey(did(0x81, 0x24, ...first.point, ...new Uint8Array(16)))), 'altered 1');
holds(19, 'a key on secp256k1', () => onRecord(withKey(did(0xe7, 0x01, ...first.point))), 'altered 1');
holds(20, 'a point beside the curve', () => onRecord(withKey(did(0x80, 0x24, 2, ...bytes32(1n)))), 'altered 1');
holds(20, 'an uncompressed point', () => onRecord(withKey(did(0x80, 0x24, ...first.long))), 'altered 1');
holds(20, 'another multicodec', () => onRecord(withKey(did(0x80, 0x25, ...first.point))), 'altered 1');
holds(21, 'another purpose of proof', () => onRecord(resigned({ proofPurpose: 'authentication' })), 'altered 1');
holds(22, '@context in the record', () => onRecord(proved({ ...made, '@context': ['x'] }, first, made.issued_at)), 'altered 1');
holds(22, '@context in record and proof', () => onRecord(proved({ ...made, '@context': ['x', 'y'] }, first, made.issued_at, { options: { '@context': ['x'] } })), 'altered 1');
holds(23, 'no date', () => onRecord(record({ issuedAt: '2026-13-01T09:30:00Z' })), 'altered 1');
holds(23, 'another time in the proof', () => onRecord(resigned({ created: '2026-03-01T09:30:01Z' })), 'altered 1');
holds(23, 'before the key is in force', () => onSigner(made, beside(statement(first, '2026-03-02T00:00:00Z'))), 'not_in_force 1');
holds(24, 'the hashes the other way round', () => onRecord(record({ how: { swap: true } })), 'altered 1');
holds(25, 'a document of others with such a proof: nothing of ours', () => onRecord('{"issuer":"https://vc.example/issuers/5678","proof":{"type":"DataIntegrityProof"}}'), 'cannot_judge 3');
holds(25, 'a record whose issuer is no key', () => onRecord(record({ change: (list) => (list.issuer.id = 'https://vc.example/issuers/5678') })), 'altered 1');

// Keys
holds(26, 'another key under the same name', () => onSigner(record({ by: second })), 'new 2');
holds(27, 'the issuer is another key than the proof', () => onRecord(proved(made, second, made.issued_at)), 'altered 1');
holds(28, 'the fragment is another key', () => onRecord(resigned({ verificationMethod: `${first.did}#${second.did.slice(8)}` })), 'altered 1');
holds(29, 'an earlier key within its time', () => onSigner(made, beside(start, turn)), 'known 0');
holds(29, 'an earlier key after its time', () => onSigner(record({ issuedAt: '2026-06-01T00:00:00Z' }), beside(start, turn)), 'not_in_force 1');
holds(29, 'a later key, by rotation', () => onSigner(record({ by: second, issuedAt: '2026-07-01T00:00:00Z' }), beside(start, turn)), 'succeeded 0');
holds(29, 'a later key before its time', () => onSigner(record({ by: second }), beside(start, turn)), 'not_in_force 1');
holds(29, 'a later key, by recovery', () => onSigner(record({ by: second, issuedAt: '2026-07-01T00:00:00Z' }), beside(start, later('recovery', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), paper))), 'recovered 2');
holds(30, 'revoked, issued after it', () => onSigner(made, beside(start, turn, revoked('2026-02-01T00:00:00Z'))), 'revoked 1');
holds(30, 'revoked, issued before it, nobody else says so', () => onSigner(made, beside(start, turn, revoked('2026-04-01T00:00:00Z'))), 'revoked_unproved 2');
// A token by an authority that the reader gave, and the day it says.
const seen = (time, digest = nameOf(made)) => ({ path: 'seen.tsr', bytes: madeToken(new Uint8Array(Buffer.from(digest, 'hex')), (parts) => (parts.time = time)) });
const onSeen = async (since, time, authorities = [pemOf(rootCertificate())]) => {
  const { exit, subject: { signer, time: said } } = await judgeFile(sealed(made), { ...knows, authorities }, [...beside(start, turn, revoked(since)), seen(time)], 'record.json');
  return `${signer.state} ${signer.standing} ${said.state} ${said.standing} ${exit}`;
};
holds(30, 'revoked, issued before it, an authority says so', () => onSeen('2026-04-01T00:00:00Z', '20260302080000Z'), 'known revoked_proved not_later_than trusted 0');
holds(30, 'revoked, an authority that the reader did not give', () => onSeen('2026-04-01T00:00:00Z', '20260302080000Z', []), 'revoked_unproved revoked_unproved not_later_than unknown 2');
holds(30, 'revoked, an authority says a day after it', () => onSeen('2026-04-01T00:00:00Z', '20260401000000Z'), 'revoked_unproved revoked_unproved not_later_than trusted 2');
holds(30, 'revoked, the evidence is rounded up to the moment of it', () => onSeen('2026-04-01T00:00:00Z', '20260331235959.5Z'), 'revoked_unproved revoked_unproved not_later_than trusted 2');
holds(30, 'revoked, and evidence of before, but issued after it', () => onSeen('2026-02-01T00:00:00Z', '20260131000000Z'), 'revoked revoked stated_later trusted 1');
holds(31, 'two successors', () => onSigner(made, beside(start, turn), reader({ fingerprints: [first.fingerprint], histories: [historyFile([start, later('rotation', statement(key('thief'), '2026-06-01T00:00:00Z', entryDigest(start)), first)])] })), 'two_histories 1');
const printed = { ...start, key: 'did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP' };
holds(32, 'the printed key of a specification', () => onPackage({ ...good, [`data/keys/${first.fingerprint}.json`]: historyFile([printed]) }, ({ keys }) => Object.values(keys)[0].rule), 'history_key 1');

// Chain
const pick = (...list) => dataOf(list);
holds(33, 'the middle one removed', () => onPackage(pick(one, three), chained), 'broken 1');
holds(33, 'two exchanged', () => onPackage({ ...pick(one), 'data/records/02-transfer.json': sealed(three), 'data/records/03-transfer.json': sealed(two) }, chained), 'whole 1');
holds(33, 'numbered anew by the issuer', () => onPackage(pick(one, record({ sequence: 3, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z' })), chained), 'broken 1');
holds(34, 'the predecessor is of another blade', () => onPackage(pick(one, record({ sequence: 2, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z', change: (list) => (list.blade.id = 'other') })), chained), 'broken 1');
holds(34, 'another predecessor', () => onPackage(pick(one, record({ sequence: 2, previous: '0'.repeat(64), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z' })), chained), 'broken 1');
const otherTwo = record({ sequence: 2, previous: nameOf(one), purpose: 'receipt', issuedAt: '2026-03-02T09:30:00Z' });
holds(35, 'two after one', () => onPackage(pick(one, two, otherTwo), ({ chain: { state, forks } }) => `${state} ${forks.length}`), 'broken 1 1');
holds(36, 'the newest is not there: nobody can know', () => onPackage(pick(one, two), chained), 'whole 0');
holds(36, 'the first is not there', () => onPackage(pick(two, three), chained), 'incomplete 0');
const around = (...list) => list.map((other) => ({ path: `${other.sequence}.json`, bytes: sealed(other) }));
holds(36, 'a loose record alone', () => onRecord(one), 'intact 0');
holds(36, 'a loose record while a later one is here', () => onRecord(one, around(two)), 'intact 2');
holds(36, 'the last loose record, all before it here', () => onRecord(three, around(one, two)), 'intact 0');
holds(37, 'a number twice', () => onPackage(pick(one, record({ sequence: 1, purpose: 'transfer' })), chained), 'broken 1');
holds(37, 'a gap', () => onPackage(pick(one, record({ sequence: 9, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z' })), chained), 'broken 1');
holds(37, 'a first record with a predecessor', () => onRecord(record({ previous: '0'.repeat(64) })), 'altered 1');
holds(38, 'a newer schema', () => onRecord(record({ change: (list) => (list.schema.version = 2) })), 'cannot_judge 3');
holds(39, 'the schema file exchanged', () => onPackage({ ...good, 'data/schema/tangmark-record-1.schema.json': joined(schema, utf8(' ')) }, (verdict) => verdict.schema), 'other 1');
holds(40, 'a withdrawal', () => onPackage(dataOf(chain([{}, { purpose: 'withdrawal' }])), ({ withdrawals }) => withdrawals.length), '1 2');
const withdrawn = record({ sequence: 2, previous: nameOf(one), purpose: 'withdrawal', issuedAt: '2026-03-02T09:30:00Z', change: (list) => (list.refers_to = { record: nameOf(one), statement: 'not this blade' }) });
holds(40, 'a loose withdrawal', () => onRecord(withdrawn), 'intact 2');
holds(40, 'a loose record that is withdrawn', () => onRecord(one, around(withdrawn)), 'intact 2');

// Withholding
holds(41, 'a disclosure changed', () => onDisclosures([disclosure('/examination/by/name', 'Somebody')]), 'refused 1');
holds(41, 'a disclosure twice', () => onDisclosures([examinerName, examinerName]), 'refused 1');
const twice = record({ change: (list) => { withExaminer(list); list._sd = [examinerName.digest, decoy('x')].sort(); } });
holds(41, 'a digest twice in the record', () => onRecord(twice), 'altered 1');
const named = (name, more = {}) => {
  const raw = base64url(utf8(JSON.stringify([base64url(sha(utf8('salt')).slice(0, 16)), name, 'x'])));
  return [{ path: `/examination/by/${name}`, disclosure: raw, digest: base64url(sha(utf8(raw))), ...more }];
};
const holding = ([{ digest }]) => record({ change: (list) => (list.examination.by._sd = [digest, decoy('one'), decoy('two')].sort()) });
for (const name of ['_sd', '...', '_sd_alg', 'role']) holds(42, `a disclosure named ${name}`, () => onDisclosures(named(name), holding(named(name))), 'refused 1');
holds(43, 'a disclosure of another record', () => onDisclosures([examinerName], record({ change: (list) => (list.examination.by._sd = [decoy('one'), decoy('two'), decoy('three')].sort()) })), 'refused 1');
const salted = (salt) => {
  const raw = base64url(utf8(JSON.stringify([salt, 'name', 'x'])));
  return [{ path: '/examination/by/name', disclosure: raw, digest: base64url(sha(utf8(raw))) }];
};
for (const salt of ['', 'c2hvcnQ', 7]) holds(44, `salt ${JSON.stringify(salt)}`, () => onDisclosures(salted(salt), holding(salted(salt))), 'refused 1');
holds(45, 'of the prices from 0 to 100,000 only one fits, and only where there is no salt', () => {
  const example = readJson(sample('schemas/example-record.json'));
  const digests = JSON.stringify(example).match(/"[A-Za-z0-9_-]{43}"/g).map((digest) => digest.slice(1, -1));
  const unsalted = (amount) => base64url(sha(utf8(JSON.stringify({ amount: String(amount), currency: 'EUR' }))));
  // The digests of a record, and one that was made without a salt: the search finds what can be found.
  const sought = new Set([...digests, unsalted(1900)]);
  const found = Array.from({ length: 100001 }, (_, amount) => amount).filter((amount) => sought.has(unsalted(amount)));
  return `${digests.length > 20} ${found.join()}`;
}, 'true 1900');
holds(47, 'all withheld', async () => {
  const verdict = await judgeFile(bytes, knows, [], 'record.json');
  return `${verdict.subject.bytes.state} ${verdict.withheld.filter((path) => path.startsWith('/examination/by/')).length} ${verdict.exit}`;
}, 'intact 3 0');

// Photos and packages
const tiff = (width, height, turned) => joined(utf8('II'), number(42, 2), number(8, 4), number(3, 2), ...[[256, width], [257, height], [274, turned]].map(([tag, what]) => joined(number(tag, 2), number(3, 2), number(1, 4), number(what, 4))), number(0, 4));
const photo = tiff(900, 600, 6);
const photoPath = `data/photos/${sha256hex(photo)}.tif`;
const pictured = record({ change: (list) => {
  list.photos = [{ ...list.photos[0], original: { digest: sha256hex(photo), length: photo.length, media_type: 'image/tiff', width_px: 900, height_px: 600, orientation: 6 }, derivatives: undefined }];
  delete list.photos[0].derivatives;
  list.findings = [];
  const strip = (inner) => {
    for (const [name, what] of Object.entries(inner)) {
      if (name === 'photos' && typeof what[0] === 'string') delete inner[name];
      else if (what && typeof what === 'object') strip(what);
    }
  };
  strip(list);
} });
const onPhoto = (content) => onPackage({ ...dataOf([pictured]), [photoPath]: content }, ({ photos }) => `${photos[photoPath].state} ${photos[photoPath].further ?? '-'}`);
holds(48, 'the photo itself', () => onPhoto(photo), 'original - 0');
holds(48, 'another photo in its place', () => onPhoto(tiff(901, 600, 6)), 'not_the_same other_size 1');
holds(48, 'turned', () => onPhoto(tiff(900, 600, 8)), 'not_the_same other_orientation 1');
holds(48, 'written anew', () => onPhoto(joined(photo, [0])), 'not_the_same same_size 1');
holds(49, 'a photo that is listed and missing', () => onPackage({ ...dataOf([pictured]), [photoPath]: photo }, ({ bag: { missing } }) => missing.length, { [photoPath]: null }), '1 3');
holds(49, 'a photo that was not packed', () => onPackage(dataOf([pictured]), (verdict) => verdict.photos_not_packed), '1 0');
holds(49, 'a photo that no record names', () => onPackage({ ...good, [photoPath]: photo }, ({ photos }) => photos[photoPath].state), 'unsigned 2');
for (const path of ['../x', '/x', 'data/../../x', 'data/CON', 'data/nul.txt', 'DATA/x', 'data/e\u0301', 'fetch.txt', 'data/a:b', 'data/x ', 'data/records/x/../y']) holds(50, `path ${path}`, () => onPackage(good, undefined, { [path]: utf8('x') }), 'refused 1');
const entries = () => Object.entries(bag(good)).sort().map(([path, content]) => ({ name: `reed/${path}`, bytes: content }));
const zipped = (change, options) => {
  const list = entries();
  change(list);
  return zip(list, options);
};
holds(50, 'a sound zip', () => onPackage(zipOf(bag(good)), chained), 'whole 0');
holds(50, 'a zip with a link', () => onPackage(zipped((list) => (list[3].mode = 0xa000))), 'refused 1');
holds(50, 'a zip with a name twice', () => onPackage(zipped((list) => list.push(list[2]))), 'refused 1');
holds(50, 'a zip that swells', () => onPackage(zipped((list) => list.push({ name: 'reed/data/exports/zeros', bytes: new Uint8Array(17 * 1024 * 1024), method: 8 }))), 'refused 1');
holds(50, 'a zip that swells beyond what it says', () => onPackage(zipped((list) => list.push({ name: 'reed/data/exports/zeros', bytes: new Uint8Array(1024 * 1024), method: 8, size: 10 }))), 'refused 1');
holds(50, 'a zip behind a program', () => onPackage(zip(entries(), { before: 'MZ' })), 'refused 1');
holds(51, 'manifests made anew after a change', () => onPackage({ ...good, [recordPath(two)]: flip(sealed(two), 300) }, ({ bag: { changed }, records }) => `${changed.length} ${records[recordPath(two)].state}`), '0 altered 1');

// PDF
const sound = pdf();
holds(52, 'a sound report', () => onReport(sound), 'unaltered 0');
for (let length = 9; length < sound.length; length += Math.ceil(sound.length / 30)) holds(52, `cut after ${length} bytes`, async () => (await onReport(sound.slice(0, length))).replace(/^(altered 1|cannot_judge 3)$/, 'not taken'), 'not taken');
for (const junk of ['x', '\n\n', '%%EOF', '\u0000']) holds(53, `junk behind the end: ${JSON.stringify(junk)}`, () => onReport(joined(sound, utf8(junk))), 'altered 1');
const update = (content) => joined(sound, utf8(`${content}\nxref\n0 1\n0000000000 65535 f \ntrailer\n<< /Size 22 /Root 1 0 R /Prev 1 >>\nstartxref\n${sound.length}\n%%EOF\n`));
for (const [name, content] of Object.entries({ page: '4 0 obj\n<< /Length 0 >>\nstream\n\nendstream\nendobj', annotation: '40 0 obj\n<< /Type /Annot >>\nendobj', metadata: '41 0 obj\n<< /Type /Metadata >>\nendobj' })) holds(54, `a later revision: ${name}`, () => onReport(update(content)), 'altered 1');
const secondField = (list) => {
  list[5] = list[5].replace('[6 0 R]', '[6 0 R 8 0 R]');
  list[8] = '<< /Type /Annot /Subtype /Widget /FT /Sig /T (two) /Rect [0 0 0 0] /V 9 0 R >>';
  list[9] = '<< /Type /Sig >>';
};
holds(55, 'a second signature field from the start', () => onReport(pdf({ change: secondField })), 'cannot_judge 3');
holds(55, 'a second signature in a later revision', () => onReport(update('40 0 obj\n<< /Type /Sig >>\nendobj')), 'altered 1');
for (const [name, digits] of Object.entries({ empty: () => '0'.repeat(16384), capitals: (list) => list.toUpperCase(), 'something behind it': (list) => `${list.slice(0, -2)}01` })) holds(56, `Contents: ${name}`, () => onReport(pdf({ digits })), 'altered 1');
holds(56, 'Contents is null', () => onReport(new Uint8Array(Buffer.from(Buffer.from(sound).toString('latin1').replace(/\/Contents <[0-9a-f]+>/, (found) => `/Contents ${'null'.padEnd(found.length - 10)}`), 'latin1'))), 'altered 1');
holds(57, 'the range is short', () => onReport(pdf({ range: ([a, b, c]) => [a, b, c - 10] })), 'altered 1');
holds(57, 'the range begins late', () => onReport(pdf({ range: ([a, b, c]) => [a - 20, b, c] })), 'altered 1');
holds(57, 'the range overlaps', () => onReport(pdf({ range: ([a, b, c]) => [b, a, c + b - a] })), 'altered 1');
for (const to of ['[0 -00000001 0000000000 0000000000]', '[0 0000000000 0000000000 0000000000 0 1]', '8 0 R']) {
  holds(57, `the range is ${to}`, () => onReport(pdf({ change: (list) => { list[7] = list[7].replace('[0 0000000000 0000000000 0000000000]', to); if (to === '8 0 R') list[8] = '[0 0000000000 0000000000 0000000000]'; } })), 'altered 1');
}
holds(58, 'the second part is moved', () => onReport(pdf({ range: ([a, b, c]) => [a, b + 100, c - 100] })), 'altered 1');
holds(59, 'a hidden layer', () => onReport(pdf(inObject(1, '/Lang', '/OCProperties << /OCGs [] >> /Lang'))), 'cannot_judge 3');
holds(59, 'an object nobody reaches', () => onReport(pdf({ change: (list) => (list[9] = '<< /Type /Page >>') })), 'cannot_judge 3');
holds(59, 'a field with an appearance', () => onReport(pdf({ change: (list) => { list[5] = list[5].replace('[6 0 R]', '[6 0 R 8 0 R]'); list[8] = '<< /FT /Tx /T (x) /V (y) >>'; } })), 'cannot_judge 3');
for (const what of ['/OpenAction << /S /JavaScript /JS (x) >>', '/AA << /O << /S /Launch /F (x) >> >>', '/OpenAction << /S /URI /URI (http://example.org) >>', '/OpenAction [3 0 R /Fit]']) holds(60, what, () => onReport(pdf(inObject(1, '/Lang', `${what} /Lang`))), 'cannot_judge 3');
holds(61, 'another record in it than in the package', () => onPackage({ ...dataOf([made]), 'data/reports/a.pdf': pdf({}, record({ change: (list) => (list.blade.title = 'Another') })) }, ({ reports }) => reports['data/reports/a.pdf'].state), 'other_record 1');
holds(61, 'the record in it was changed', () => onReport(report(flip(bytes, 200), { by: first, at: made.issued_at })), 'altered 1');
holds(62, 'the same name, another key', () => onReport(pdf({ by: second })), 'altered 1');
holds(62, "the certificate is another's", () => onReport(pdf({ cms: (parts) => (parts.certificate = certificate(second)) })), 'altered 1');
holds(63, 'a loose report while a later record is here', async () => (await judgeFile(pdf({}, one), knows, around(two), 'report.pdf')).exit, '2');
holds(63, 'a report of an older record', () => onPackage({ ...good, 'data/reports/a.pdf': pdf({}, two) }, ({ reports }) => reports['data/reports/a.pdf'].state), 'older 2');

// Time
const token = (name) => sample(`crates/trust/tests/timestamps/${name}.tsr`);
for (const name of ['rsa', 'other-use', 'two-signers']) holds(64, `a token over other data: ${name}`, () => onPackage({ ...good, 'data/timestamps/01-a.tsr': token(name) }, ({ timestamps }) => Object.values(timestamps)[0].state), 'refused 1');
// Who says so, by a token that fits.
const onTime = async (change, authorities = [pemOf(rootCertificate())], ask = made) => {
  const bytes = madeToken(new Uint8Array(Buffer.from(nameOf(ask), 'hex')), change);
  const { exit, subject, timestamps } = await judgeFile(sealed(ask), { ...knows, authorities }, [{ path: 'seen.tsr', bytes }], 'record.json');
  return `${timestamps['seen.tsr'].state} ${subject.time.state} ${subject.time.standing ?? '-'} ${exit}`;
};
holds(64, 'a token by a trusted authority', () => onTime(() => {}), 'fits not_later_than trusted 0');
holds(64, 'a token by an authority that nobody gave', () => onTime(() => {}, []), 'fits not_later_than unknown 0');
holds(64, 'a token from before the time stated', () => onTime((parts) => (parts.time = '20260228000000Z')), 'fits stated_later trusted 0');
holds(64, "a token by the workshop's own key", async () => {
  const bytes = madeToken(new Uint8Array(Buffer.from(nameOf(byClock), 'hex')));
  const { subject } = await judgeFile(sealed(byClock), { ...knows, authorities: [pemOf(rootCertificate())] }, [{ path: 'seen.tsr', bytes }], 'record.json');
  return `${subject.time.state} ${subject.time.standing}`;
}, 'not_later_than workshop');
holds(64, 'the same, by the key over the authority', async () => {
  const bytes = madeToken(new Uint8Array(Buffer.from(nameOf(byRoot), 'hex')));
  const { subject } = await judgeFile(sealed(byRoot), { ...knows, authorities: [pemOf(rootCertificate())] }, [{ path: 'seen.tsr', bytes }], 'record.json');
  return `${subject.time.state} ${subject.time.standing}`;
}, 'not_later_than workshop');
for (const [name, change] of Object.entries({ 'with a day that there is not': (parts) => (parts.time = '20260230080000Z'), 'with the hour 24': (parts) => (parts.time = '20260302240000Z'), 'refused by the authority': (parts) => (parts.status = int(2)), 'whose certificate had ended': (parts) => (parts.certificates = [certificateOf(clock, root, { to: '20260301000000Z' })]) })) {
  holds(64, `a token ${name}`, () => onTime(change), 'refused own_word - 1');
}

// System
holds(68, 'nothing is fetched, and in 2046 all is as today', async () => {
  const kept = globalThis.fetch;
  globalThis.fetch = () => {
    throw new Error('something was fetched');
  };
  try {
    return await onPackage({ ...good, 'data/reports/a.pdf': pdf({}, three) }, chained, {}, { ...knows, now: '2046-01-01T00:00:00Z' });
  } finally {
    globalThis.fetch = kept;
  }
}, 'whole 0');
holds(69, 'text files with the line ends of Windows', async () => {
  const files = bag(good);
  const windows = (name) => utf8(new TextDecoder().decode(files[name]).replaceAll('\n', '\r\n'));
  const tags = { 'bagit.txt': windows('bagit.txt'), 'manifest-sha256.txt': windows('manifest-sha256.txt'), 'bag-info.txt': windows('bag-info.txt') };
  return onPackage(good, ({ bag: { changed } }) => changed.length, { ...tags, 'tagmanifest-sha256.txt': utf8(Object.entries(tags).map(([name, content]) => `${sha256hex(content)}  ${name}\r\n`).join('')) });
}, '0 0');
holds(69, 'a zip name that is not UTF-8', () => onPackage(zipped((list) => list.push({ name: '', rawName: new Uint8Array([...utf8('reed/data/'), 0xff]), flags: 0x800 }))), 'refused 1');
holds(70, 'no reason promises too much', async () => {
  const verdicts = [];
  for (const list of [good, { ...good, [recordPath(two)]: flip(sealed(two), 300) }, { ...good, 'data/x': utf8('x') }]) verdicts.push(await judgePackage(fileList(bag(list)), knows));
  const reasons = JSON.stringify(verdicts, (name, inner) => (name === 'record' || name === 'revealed' ? undefined : inner));
  return String(/\b(authentic|genuine|safe|legal|trustworthy)\b/i.exec(reasons)?.[0]);
}, 'undefined');

if (process.argv[2]) await folderCases(process.argv[2], holds);
let failed = 0;
for (const { number: place, name, run, wanted } of CASES) {
  const found = String(await Promise.resolve().then(run).catch((problem) => `broke: ${problem.stack}`));
  if (found === wanted) continue;
  failed += 1;
  console.log(`case ${place}, ${name}: ${found}; expected ${wanted}`);
}
console.log(`${new Set(CASES.map(({ number: place }) => place)).size} of the numbered cases, ${failed} checks failed`);
console.log(`count cases ${CASES.length}`);
if (failed > 0) process.exitCode = 1;
