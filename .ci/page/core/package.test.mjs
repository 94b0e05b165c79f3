import assert from 'node:assert/strict';
import test from 'node:test';
import { judgePackage } from '../../../crates/package/page/core/index.js';
import {
  bag, chain, dataOf, disclosuresFile, entryDigest, examinerName, fileList, first, historyFile, joined, later, nameOf, number, paper, proved, reader, record, recordPath,
  revocation, sample, schema, sealed, second, sha256hex, statement, utf8, withExaminer, zip, zipOf,
} from './made.mjs';

const JPEG = sample('samples/photos/reed-after.jpg');
const [one, two, three] = chain([{ change: withExaminer }, {}, {}]);
const judged = (data, more = {}, ask = {}) => judgePackage(fileList(bag(data, more)), reader(ask));
const known = { fingerprints: [first.fingerprint] };
const good = dataOf([one, two, three]);

test('a sound package is told as one, as folder, as zip and as blob', async () => {
  const files = bag({ ...good, 'data/disclosures/01.json': disclosuresFile([examinerName]), 'data/schema/tangmark-record-1.schema.json': schema });
  for (const source of [fileList(files), zipOf(files), new Blob([zipOf(files)])]) {
    const verdict = await judgePackage(source, reader(known));
    assert.equal(verdict.exit, 0, JSON.stringify(verdict.subject));
    assert.equal(verdict.refused, null);
    assert.deepEqual(Object.values(verdict.records).map(({ state }) => state), ['intact', 'intact', 'intact']);
    assert.deepEqual([verdict.chain.state, verdict.schema, verdict.page, verdict.subject.file], ['whole', 'fits', 'missing', recordPath(three)]);
    assert.equal(verdict.disclosures['data/disclosures/01.json'].state, 'fit');
    assert.equal(verdict.subject.signer.state, 'known');
  }
});

test('what is refused whole: paths', async () => {
  const table = {
    path_part: ['../x', 'data/../x', 'data/./x', 'data//x', 'data/x.', 'data/x ', 'data/x./y', '.', '..', 'data/...'],
    path_absolute: ['/data/x'],
    path_empty: [''],
    path_long: [`data/${'a'.repeat(121)}`, `data/${'a/'.repeat(118)}`.slice(0, -1) + 'bb', `data/${'é'.repeat(61)}`],
    path_character: ['data\\x', 'c:x', 'data/a*', 'data/a?', 'data/a"', 'data/<a', 'data/a>', 'data/a|b', 'data/a\u0001', 'data/a\u0085', 'data/a\u007f', 'data/a\nb'],
    path_device: ['data/CON', 'data/con.txt', 'data/Nul.tar.gz', 'data/com0', 'data/LPT9.x', 'data/aux .txt', 'prn/x'],
    path_text: ['data/e\u0301'],
    path_twice: ['DATA/x', 'data/Records/x', 'BagIt.txt', `data/records/${recordPath(one).split('/').pop().toUpperCase()}`],
    path_folder: ['data', 'data/records', 'bagit.txt/x'],
  };
  for (const [rule, paths] of Object.entries(table)) {
    for (const path of paths) {
      const verdict = await judged(good, { [path]: utf8('x') });
      assert.deepEqual([verdict.exit, verdict.refused?.rule, path], [1, rule, path]);
      assert.equal(verdict.records, undefined);
    }
  }
  // What only looks odd is taken, and told as not listed.
  for (const path of ['data/é', 'data/console', 'data/.x', 'data/com10', 'data/a b', `data/${'a'.repeat(120)}`, 'data/日本']) {
    const verdict = await judged(good, { [path]: utf8('x') }, known);
    assert.deepEqual([verdict.exit, verdict.refused, verdict.bag.unlisted], [2, null, [path]]);
  }
  const many = Object.fromEntries(Array.from({ length: 19991 }, (_, at) => [`data/exports/${at}`, new Uint8Array()]));
  assert.equal((await judged({ ...good, ...many })).refused.rule, 'paths');
});

test('what is refused whole: tag files and manifests', async () => {
  const line = `${'a'.repeat(64)}  data/x\n`;
  const manifest = (text) => ({ 'manifest-sha256.txt': typeof text === 'string' ? utf8(text) : text });
  const table = [
    ['bag_fetch', { 'fetch.txt': utf8('') }],
    ['bag_tag_file', { 'bagit.txt': null }],
    ['bag_tag_file', { 'manifest-sha256.txt': null }],
    ['bag_tag_file', { 'tagmanifest-sha256.txt': null }],
    ['bag_version', { 'bagit.txt': utf8('BagIt-Version: 0.97\nTag-File-Character-Encoding: UTF-8\n') }],
    ['bag_version', { 'bagit.txt': utf8('BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-16\n') }],
    ['bag_version', { 'bagit.txt': utf8('BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8') }],
    ['bag_version', { 'bagit.txt': utf8('\ufeffBagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n') }],
    ['manifest', manifest(line.toUpperCase())],
    ['manifest', manifest(line.slice(0, -1))],
    ['manifest', manifest(line + line)],
    ['manifest', manifest(`${line}\n`)],
    ['manifest', manifest(`\ufeff${line}`)],
    ['manifest', manifest(new Uint8Array([...utf8(line.slice(0, -1)), 0xff, 10]))],
    ['manifest', manifest(`${'a'.repeat(63)}  data/x\n`)],
    ['manifest', manifest(`${'a'.repeat(64)}\tdata/x\n`)],
    ['manifest', manifest(`${'a'.repeat(64)}  x\n`)],
    ['manifest', manifest(`${'a'.repeat(64)}  data/a%0a\n`)],
    ['manifest', manifest(`${'a'.repeat(64)}  data/a%41\n`)],
    ['path_character', manifest(`${'a'.repeat(64)}  data/a%0A\n`)],
    ['path_part', manifest(`${'a'.repeat(64)}  data/../x\n`)],
    ['path_twice', manifest(`${'a'.repeat(64)}  data/RECORDS/x\n`)],
    ['path_folder', manifest(`${'a'.repeat(64)}  data/records\n`)],
    ['manifest', { 'tagmanifest-sha256.txt': utf8(line) }],
  ];
  for (const [at, [rule, more]] of table.entries()) assert.deepEqual([at, (await judged(good, more)).refused?.rule], [at, rule]);
  assert.equal((await judged({ 'data/verify.html': utf8('x') })).refused.rule, 'bag_records');
  assert.equal((await judged({ 'data/records/01-holiday.json': sealed(one) })).refused.rule, 'bag_records');
  assert.equal((await judged({ ...good, 'data/format/x.md': new Uint8Array(16 * 1024 * 1024 + 1) })).refused.rule, 'file_length');
});

test('manifests with one space, CRLF, percent signs and other algorithms are read', async () => {
  const lines = bag(good)['manifest-sha256.txt'];
  const text = new TextDecoder().decode(lines).replaceAll('  ', ' ').replaceAll('\n', '\r\n');
  const verdict = await judged(good, { 'manifest-sha256.txt': utf8(text), 'manifest-sha512.txt': utf8('?'), 'tagmanifest-md5.txt': utf8('?') }, known);
  assert.deepEqual(verdict.bag, { changed: ['manifest-sha256.txt'], missing: [], unlisted: [], not_looked_at: [], ignored_manifests: ['manifest-sha512.txt', 'tagmanifest-md5.txt'] });
  const percent = await judged({ ...good, 'data/100%.txt': utf8('x') }, { 'manifest-sha256.txt': utf8(new TextDecoder().decode(lines) + `${sha256hex(utf8('x'))}  data/100%25.txt\n`) }, known);
  assert.deepEqual(percent.bag.unlisted, ['data/100%.txt']);
});

test('states of files', async () => {
  const path = recordPath(two);
  assert.deepEqual((await judged({ ...good, 'data/proofs/x': utf8('x') }, {}, known)).bag.not_looked_at, ['data/proofs/x']);
  const missing = await judged({ ...good, 'data/HOW-TO-CHECK.txt': utf8('x') }, { 'data/HOW-TO-CHECK.txt': null }, known);
  assert.deepEqual([missing.exit, missing.bag.missing], [3, ['data/HOW-TO-CHECK.txt']]);
  const changed = await judged({ ...good, 'data/HOW-TO-CHECK.txt': utf8('x') }, { 'data/HOW-TO-CHECK.txt': utf8('y') }, known);
  assert.deepEqual([changed.exit, changed.bag.changed], [1, ['data/HOW-TO-CHECK.txt']]);
  const extra = await judged({ ...good, 'data/other.txt': utf8('x') }, {}, known);
  assert.deepEqual([extra.exit, extra.bag.unlisted], [2, ['data/other.txt']]);
  const reserved = await judged(good, { [path]: null }, known);
  assert.deepEqual([reserved.exit, reserved.chain.state, reserved.bag.missing], [1, 'broken', [path]]);
});

test('states of records and of the chain', async () => {
  const [a, b, c] = [one, two, three].map(recordPath);
  const states = async (data, ask = known) => {
    const verdict = await judged(data, {}, ask);
    return [verdict.exit, Object.values(verdict.records).map(({ state }) => state).join(), verdict.chain.state, verdict.subject.file];
  };
  const bad = new Uint8Array(sealed(two).map((byte, at) => (at === 200 ? byte ^ 1 : byte)));
  const spaced = utf8(JSON.stringify(two, null, 1));
  const newer = record({ sequence: 2, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z', change: (made) => (made.schema.version = 2) });
  const fork = record({ sequence: 3, previous: nameOf(two), purpose: 'receipt', issuedAt: '2026-03-03T09:30:00Z' });
  const otherBlade = record({ sequence: 2, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z', change: (made) => (made.blade.id = 'other') });
  const backwards = record({ sequence: 2, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-02-02T09:30:00Z' });
  const table = [
    [{ [a]: sealed(one), [b]: bad, [c]: sealed(three) }, 1, 'intact,altered,intact', 'incomplete', c],
    [{ [a]: sealed(one), [b]: spaced, [c]: sealed(three) }, 0, 'intact,same_content,intact', 'whole', c],
    [{ [a]: sealed(one), [b]: sealed(newer) }, 3, 'intact,cannot_judge', 'whole', a],
    [{ [a]: sealed(one), [b]: sealed(newer), [c]: sealed(three) }, 3, 'intact,cannot_judge,intact', 'incomplete', c],
    [{ [a]: sealed(one), [c]: sealed(three) }, 1, 'intact,intact', 'broken', c],
    [{ [b]: sealed(two), [c]: sealed(three) }, 0, 'intact,intact', 'incomplete', c],
    [{ [a]: bad, [c]: sealed(three) }, 1, 'altered,intact', 'incomplete', c],
    [{ [a]: bad }, 1, 'altered', 'incomplete', a],
    [{ ...good, [recordPath(fork)]: sealed(fork) }, 1, 'intact,intact,misnamed,misnamed', 'broken', b],
    [{ [a]: sealed(one), 'data/records/02-receipt.json': sealed(two) }, 1, 'intact,misnamed', 'whole', a],
    [{ [a]: sealed(one), 'data/records/03-transfer.json': sealed(two) }, 1, 'intact,misnamed', 'whole', a],
    [{ [a]: sealed(one), 'data/records/00-transfer.json': sealed(two) }, 1, 'misnamed,intact', 'whole', a],
    [{ [a]: sealed(one), [b]: sealed(otherBlade) }, 1, 'intact,intact', 'broken', b],
    [{ [a]: sealed(one), [b]: sealed(backwards) }, 1, 'intact,intact', 'broken', b],
  ];
  for (const [at, [data, ...wanted]] of table.entries()) {
    const [exit, list, chainState, file] = await states(data);
    assert.deepEqual([at, exit, list.split(',').sort().join(), chainState, file], [at, wanted[0], wanted[1].split(',').sort().join(), wanted[2], wanted[3]]);
  }
  // More zeros than two digits need: no record of ours, but an extra file.
  const zeros = await judged({ ...good, 'data/records/001-before_work.json': sealed(one) }, {}, known);
  assert.deepEqual(zeros.bag.unlisted, ['data/records/001-before_work.json']);
});

test('states of disclosures', async () => {
  const path = 'data/disclosures/01.json';
  const state = async (bytes, at = path, records = good) => (await judged({ ...records, [at]: bytes }, {}, known)).disclosures[at].state;
  assert.equal(await state(disclosuresFile([examinerName])), 'fit');
  assert.equal(await state(disclosuresFile([{ ...examinerName, path: '/agreement/owner/name' }])), 'refused');
  assert.equal(await state(utf8('{}')), 'refused');
  assert.equal(await state(utf8('{}'), 'data/disclosures/09.json'), 'refused');
  assert.equal(await state(disclosuresFile([examinerName]), 'data/disclosures/09.json'), 'no_record');
  assert.equal(await state(disclosuresFile([examinerName]), 'data/disclosures/02.json'), 'refused');
  const newer = record({ change: (made) => (made.schema.version = 2) });
  assert.equal(await state(disclosuresFile([]), path, dataOf([newer])), 'cannot_judge');
});

test('states of photos', async () => {
  const photo = (bytes, facts = {}) => ({ digest: sha256hex(bytes), length: bytes.length, media_type: 'image/jpeg', width_px: 900, height_px: 600, ...facts });
  const turned = tiff(900, 600, 6);
  const upright = tiff(900, 600, 1);
  const other = tiff(899, 600, 6);
  const withPhotos = record({
    change: (made) => {
      made.photos = [{ id: 'one', shows: made.photos?.[0]?.shows ?? 'whole_omote', caption: 'x', original: photo(turned, { media_type: 'image/tiff', orientation: 6 }), derivatives: [{ file: photo(JPEG), transform: 'x' }] }];
      made.findings = [];
      dropPhotoKeys(made);
    },
  });
  const verdict = await judged({
    ...dataOf([withPhotos]),
    [`data/photos/${sha256hex(turned)}.tif`]: turned,
    [`data/photos/${sha256hex(JPEG)}.jpg`]: JPEG,
    [`data/photos/${sha256hex(upright)}.tif`]: upright,
  }, {}, known);
  assert.deepEqual(Object.values(verdict.records).map(({ state, reason }) => [state, reason]), [['intact', null]]);
  assert.deepEqual(Object.fromEntries(Object.entries(verdict.photos).map(([path, { state }]) => [path.slice(12, 20), state])), {
    [sha256hex(turned).slice(0, 8)]: 'original', [sha256hex(JPEG).slice(0, 8)]: 'copy', [sha256hex(upright).slice(0, 8)]: 'unsigned',
  });
  assert.deepEqual([verdict.exit, verdict.photos_not_packed], [2, 0]);
  const path = `data/photos/${sha256hex(turned)}.tif`;
  for (const [bytes, further] of [[other, 'other_size'], [upright, 'other_orientation'], [joined(turned, utf8('x')), 'same_size'], [utf8('no photo'), undefined]]) {
    const swapped = await judged({ ...dataOf([withPhotos]), [path]: bytes }, {}, known);
    assert.deepEqual([swapped.exit, swapped.photos[path].state, swapped.photos[path].further], [1, 'not_the_same', further]);
    assert.equal(swapped.photos_not_packed, 2);
  }
});

// A TIFF of a header and one directory.
function tiff(width, height, orientation) {
  const entry = (tag, value) => joined(number(tag, 2), number(3, 2), number(1, 4), number(value, 4));
  return joined(utf8('II'), number(42, 2), number(8, 4), number(3, 2), entry(256, width), entry(257, height), entry(274, orientation), number(0, 4));
}

function dropPhotoKeys(value) {
  if (Array.isArray(value)) value.forEach(dropPhotoKeys);
  else if (value && typeof value === 'object') {
    for (const name of Object.keys(value)) if (name === 'photos' && typeof value[name][0] === 'string') delete value[name];
    Object.values(value).forEach(dropPhotoKeys);
  }
}

test('states of key histories, and the signer of the newest record', async () => {
  const start = statement(first, '2026-01-01T00:00:00Z');
  const turn = later('rotation', statement(second, '2026-03-02T12:00:00Z', entryDigest(start)), first);
  const path = `data/keys/${first.fingerprint}.json`;
  const signed = chain([{}, {}, { by: second }]);
  const run = async (entries, ask = {}, records = signed, at = path) => {
    const verdict = await judged({ ...dataOf(records), [at]: entries instanceof Uint8Array ? entries : historyFile(entries) }, {}, ask);
    return [verdict.exit, verdict.keys[at].state, verdict.subject.signer.state];
  };
  assert.deepEqual(await run([start, turn]), [2, 'fits', 'new']);
  assert.deepEqual(await run([start, turn], { fingerprints: [second.fingerprint] }), [0, 'fits', 'known']);
  assert.deepEqual(await run([start, turn], { fingerprints: [first.fingerprint] }), [0, 'fits', 'succeeded']);
  assert.deepEqual(await run([start, turn], { fingerprints: [paper.fingerprint] }), [2, 'fits', 'new']);
  assert.deepEqual(await run([start], { fingerprints: [second.fingerprint] }), [0, 'fits', 'known']);
  const found = later('recovery', statement(second, '2026-03-02T12:00:00Z', entryDigest(start)), paper);
  assert.deepEqual(await run([start, found], { fingerprints: [first.fingerprint] }), [2, 'fits', 'recovered']);
  const otherTurn = later('rotation', statement(paper, '2026-03-02T12:00:00Z', entryDigest(start)), first);
  assert.deepEqual(await run([start, turn], { histories: [historyFile([start, otherTurn])] }), [1, 'fork', 'two_histories']);
  const gone = revocation(first, '2026-03-01T00:00:00Z', entryDigest(turn), second, '2026-03-03T00:00:00Z');
  assert.deepEqual(await run([start, turn, gone], { fingerprints: [second.fingerprint] }), [1, 'fits', 'known']);
  const latest = statement(first, '2026-03-05T00:00:00Z');
  assert.deepEqual(await run([latest], { fingerprints: [first.fingerprint] }, [one, two, three]), [1, 'fits', 'not_in_force']);
  const nobody = statement(paper, '2026-01-01T00:00:00Z', undefined, first);
  assert.deepEqual(await run([nobody], known, [one, two, three], `data/keys/${paper.fingerprint}.json`), [2, 'no_issuer', 'known']);
  assert.deepEqual(await run([start], known, [one, two, three], `data/keys/${paper.fingerprint}.json`), [1, 'refused', 'known']);
  assert.deepEqual(await run(utf8('{}'), known, [one, two, three]), [1, 'refused', 'known']);
});

test('a withdrawal among the records is to be confirmed', async () => {
  const withdrawn = chain([{}, { purpose: 'withdrawal' }, {}]);
  const verdict = await judged(dataOf(withdrawn), {}, known);
  assert.deepEqual([verdict.exit, verdict.withdrawals], [2, ['data/records/02-withdrawal.json']]);
});

test('schema and page', async () => {
  const path = 'data/schema/tangmark-record-1.schema.json';
  assert.equal((await judged({ ...good, [path]: utf8('{}') }, {}, known)).schema, 'other');
  const blank = `<p>${'0'.repeat(64)}</p>`;
  const digest = sha256hex(utf8(blank));
  const page = utf8(blank.replace('0'.repeat(64), digest));
  const state = async (bytes, releasedPages) => {
    const verdict = await judged({ ...good, 'data/verify.html': bytes }, {}, { ...known, releasedPages });
    return [verdict.exit, verdict.page];
  };
  assert.deepEqual(await state(page, [digest]), [0, 'released']);
  assert.deepEqual(await state(page, []), [2, 'other']);
  assert.deepEqual(await state(joined(page, utf8('!')), [digest]), [2, 'other']);
  assert.deepEqual(await state(utf8(blank), [digest]), [2, 'other']);
});

test('format pages and tools that were released are known by name and bytes', async () => {
  const [path, bytes] = ['data/tools/check_record.py', utf8('print()')];
  const state = async (releasedAids, data = { [path]: bytes }) => {
    const verdict = await judged({ ...good, ...data }, {}, { ...known, releasedAids });
    return [verdict.exit, Object.values(verdict.aids)[0]?.state ?? null];
  };
  assert.deepEqual(await state({ [path]: [sha256hex(bytes)] }), [0, 'released']);
  assert.deepEqual(await state({ [path]: [sha256hex(utf8('x'))] }), [2, 'other']);
  assert.deepEqual(await state({ 'data/tools/check_record.mjs': [sha256hex(bytes)] }), [2, 'other']);
  assert.deepEqual(await state({}, { 'data/format/constructor.md': bytes }), [2, 'other']);
  assert.deepEqual(await state({}, {}), [0, null]);
});

test('what is refused whole: zip', async () => {
  const files = bag(good);
  const entries = () => Object.entries(files).sort().map(([path, bytes]) => ({ name: `reed/${path}`, bytes }));
  const rule = async (bytes) => (await judgePackage(bytes, reader(known))).refused?.rule ?? null;
  const with_ = (change, options = {}) => {
    const list = entries();
    change(list);
    return zip(list, options);
  };
  const cases = [
    [null, zip(entries())],
    [null, with_((list) => list.forEach((one) => (one.method = 8)))],
    [null, with_((list) => list.unshift({ name: 'reed/' }, { name: 'reed/data/', mode: 0x4000 }))],
    [null, with_((list) => list.forEach((one) => (one.mode = 0x8000)))],
    [null, with_((list) => described(list[0]))],
    [null, with_((list) => described(list[0], true))],
    [null, with_((list) => (list[0].extra = [0x55, 0x54, 1, 0, 9]))],
    ['zip_end', zip(entries(), { comment: 'hi' })],
    // A comment that ends as an end record does.
    ['zip_end', joined(zip(entries(), { comment: ' '.repeat(22) }).slice(0, -22), zip([]))],
    ['zip_end', zip(entries(), { after: 'x' })],
    ['zip_end', zip(entries(), { offset: 1 })],
    ['zip_end', utf8('PK')],
    ['zip_gap', zip(entries(), { before: 'MZ' })],
    ['zip_gap', zip(entries(), { between: 'x' })],
    ['zip_directory', zip(entries(), { count: 3 })],
    ['zip_directory', zip(entries(), { count: 30 })],
    ['zip_64', zip(entries(), { count: 0xffff })],
    ['zip_64', with_((list) => (list[0].extra = [1, 0, 0, 0]))],
    ['zip_name', with_((list) => (list[0].extra = [0x75, 0x70, 1, 0, 9]))],
    ['zip_extra', with_((list) => (list[0].extra = [0x55, 0x54, 9, 0, 9]))],
    ['zip_name', with_((list) => list.push({ name: 'reed/data/é', bytes: utf8('x') }))],
    [null, with_((list) => list.push({ name: 'reed/data/é', bytes: utf8('x'), flags: 0x800 }))],
    ['path_utf8', with_((list) => list.push({ rawName: new Uint8Array([0x72, 0x2f, 0xff]), name: '' }))],
    ['zip_encrypted', with_((list) => (list[0].flags = 1))],
    ['zip_encrypted', with_((list) => (list[0].flags = 0x40))],
    ['zip_encrypted', with_((list) => (list[0].flags = 0x2000))],
    ['zip_method', with_((list) => (list[0].method = 12))],
    ['zip_size', with_((list) => (list[0].size = 3))],
    ['zip_local', with_((list) => (list[0].local = { flags: 2 }))],
    ['zip_local', with_((list) => (list[0].local = { method: 8 }))],
    ['zip_local', with_((list) => (list[0].local = { sum: 1 }))],
    ['zip_local', with_((list) => (list[0].local = { size: 1 }))],
    ['zip_local', with_((list) => (list[0].local = { length: 1 }))],
    ['zip_local', with_((list) => (list[0].local = { raw: utf8('reed/bag-info.txT') }))],
    ['zip_crc', with_((list) => (list[0].crc = 1))],
    ['zip_disks', with_((list) => (list[0].disk = 1))],
    ['zip_descriptor', with_((list) => described(list[0], false, 1))],
    ['zip_gap', with_((list) => Object.assign(list[0], { descriptor: number(0, 12) }))],
    ['zip_gap', with_((list) => Object.assign(list[0], { flags: 8, descriptor: number(0, 13) }))],
    ['link', with_((list) => (list[0].mode = 0xa000))],
    ['no_file', with_((list) => (list[0].mode = 0x2000))],
    ['no_file', with_((list) => (list[0].mode = 0x4000))],
    ['zip_folder', with_((list) => list.push({ name: 'reed/x/', bytes: utf8('x') }))],
    ['zip_twice', with_((list) => list.push(list[0]))],
    ['zip_top', with_((list) => list.push({ name: 'other/x' }))],
    ['zip_top', with_((list) => list.push({ name: 'x' }))],
    ['zip_top', zip([])],
    ['path_absolute', with_((list) => list.push({ name: '/x' }))],
    ['path_part', with_((list) => list.push({ name: 'reed/../x' }))],
    ['path_folder', with_((list) => list.push({ name: 'reed/bagit.txt/' }))],
    // Only the exact name is the top folder.
    ['path_empty', with_((list) => list.push({ name: 'reed//' }))],
    ['path_absolute', with_((list) => list.push({ name: 'reed///' }))],
    ['path_part', with_((list) => list.push({ name: 'reed/data//' }))],
    ['path_absolute', with_((list) => list.push({ name: 'reed//x', bytes: utf8('x') }))],
    ['path_twice', with_((list) => list.push({ name: 'reed/DATA/' }))],
    ['path_part', zipOf(files, '..')],
    ['path_device', zipOf(files, 'con')],
    ['inflated_length', with_((list) => Object.assign(list[0], { method: 8, size: 5 }))],
    ['inflated_length', with_((list) => Object.assign(list[0], { method: 8, size: 5000 }))],
    ['deflate', with_((list) => Object.assign(list[0], { method: 8, packed: utf8('no deflate stream') }))],
  ];
  for (const [at, [wanted, bytes]] of cases.entries()) assert.deepEqual([at, await rule(bytes)], [at, wanted]);
  const whole = zip(entries());
  for (let length = 0; length < whole.length; length += 1009) assert.notEqual(await rule(whole.slice(0, length)), null, `${length} bytes`);
  for (let at = 0; at < whole.length; at += 499) {
    const bad = whole.slice();
    bad[at] ^= 0x10;
    const verdict = await judgePackage(bad, reader(known));
    // A flip that changes nothing that is read (a date) leaves every file as it was.
    if (verdict.exit === 0) for (const { path, digest } of verdict.files) assert.equal(digest, sha256hex(files[path]), `byte ${at}`);
  }
});

// Gives an entry a data descriptor, with or without its signature.
function described(entry, withSignature = false, wrong = 0) {
  const facts = joined(withSignature ? number(0x08074b50, 4) : [], number(crcOf(entry.bytes) + wrong, 4), number(entry.bytes.length, 4), number(entry.bytes.length, 4));
  Object.assign(entry, { flags: 8, descriptor: facts, local: { sum: 0, length: 0, size: 0 } });
}
function crcOf(bytes) {
  const plain = zip([{ name: 'a/b', bytes }]);
  return new DataView(plain.buffer, plain.byteOffset).getUint32(14, true);
}

test('case 51: manifests made anew after a change do not help', async () => {
  const bad = utf8(new TextDecoder().decode(sealed(two)).replace('Dune', 'Dawn').replace('dune', 'dusk'));
  assert.notDeepEqual(bad, sealed(two));
  const verdict = await judged({ ...good, [recordPath(two)]: bad }, {}, known);
  assert.deepEqual([verdict.exit, verdict.bag.changed, verdict.records[recordPath(two)].state], [1, [], 'altered']);
});

test('case 32: the printed key of a specification makes no history', async () => {
  const printed = 'did:key:zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP';
  const start = statement(first, '2026-01-01T00:00:00Z');
  const inner = { ...start, key: printed, from: '2026-02-01T00:00:00Z', previous: entryDigest(start) };
  const path = `data/keys/${first.fingerprint}.json`;
  const verdict = await judged({ ...good, [path]: historyFile([start, proved({ kind: 'rotation', statement: inner }, first, inner.from)]) }, {}, known);
  assert.deepEqual([verdict.keys[path].state, verdict.keys[path].rule], ['refused', 'history_key']);
});

test('progress is told and a cancelled run stops', async () => {
  const told = [];
  await judgePackage(zipOf(bag(good)), reader(known), { progress: ({ done, total }) => told.push([done, total]) });
  assert.equal(told.length, 7);
  assert.equal(told.at(-1)[0], told.at(-1)[1]);
  const controller = new AbortController();
  controller.abort();
  await assert.rejects(judgePackage(zipOf(bag(good)), reader(known), { signal: controller.signal }), { name: 'AbortError' });
});
