// What the verifier page says of what was dropped, without a browser: node --test .ci/page/views.test.mjs
import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { test } from 'node:test';
import { bag, chain, dataOf, disclosuresFile, examinerName, first, historyFile, nameOf, reader, record, sealed, statement, utf8, withExaminer, zipOf } from './core/made.mjs';
import { all, elements, textOf, withDocument } from './dom.mjs';
import { answersSection } from '../../crates/package/page/ui/answers.js';
import { chainSection } from '../../crates/package/page/ui/chain_view.js';
import { changesSection, takenOver } from '../../crates/package/page/ui/changes.js';
import { decisionSection } from '../../crates/package/page/ui/decision.js';
import { el } from '../../crates/package/page/ui/dom.js';
import { filesSection } from '../../crates/package/page/ui/files.js';
import { judgeFile } from '../../crates/package/page/core/index.js';
import { attentionOf, attentionSection, headOf } from '../../crates/package/page/ui/head.js';
import { judgeDropped } from '../../crates/package/page/ui/judge.js';
import { speak } from '../../crates/package/page/ui/lang.js';
import { mapSection } from '../../crates/package/page/ui/map.js';
import { modelOf } from '../../crates/package/page/ui/model.js';
import { photosSection } from '../../crates/package/page/ui/photos.js';
import { sorted } from '../../crates/package/page/ui/sources.js';
import { withheldSection } from '../../crates/package/page/ui/withheld.js';

withDocument();
speak('en');
const root = new URL('../../', import.meta.url);
const read = path => JSON.parse(readFileSync(new URL(path, root), 'utf8'));
const watch = { signal: new AbortController().signal, progress() {} };
const dropped = files => sorted(Object.entries(files).map(([path, bytes]) => ({ path, blob: new Blob([bytes]) })));

/** Files by path, judged as the page judges what was dropped, with its model. */
async function shown(files, given = {}) {
  const list = dropped(files);
  const { result, isPackage } = await judgeDropped(list, reader(given), watch);
  if (result.refused) return { result };
  return modelOf(result, { isPackage, name: list.name, files: list.files.length, bytes: 0, names: [], outside: list.outside }, new Map());
}

const below = (folder, files) => Object.fromEntries(Object.entries(files).map(([path, bytes]) => [`${folder}/${path}`, bytes]));
const head = model => textOf(headOf(model, () => {}));
const attention = model => textOf(attentionSection(model));
const inJapanese = make => {
  speak('ja');
  try {
    return make();
  } finally {
    speak('en');
  }
};
const [one, two] = chain([{}, {}]);
const whole = bag(dataOf([one, two]));

test('one package is found wherever it lies, and what lies beside it is named', async () => {
  for (const files of [whole, below('dune', whole), below('stick/dune', whole), { ...below('stick/dune', whole), 'stick/letter.txt': utf8('x'), 'stick/photo.jpg': utf8('y') }]) {
    const model = await shown(files);
    assert.equal(model.isPackage, true);
    assert.deepEqual([model.answers.bytes.state, model.answers.completeness.state, model.bag.unlisted], ['intact', 'whole', []]);
  }
  const model = await shown({ ...below('stick/dune', whole), 'stick/letter.txt': utf8('x'), 'one.json': sealed(one) });
  assert.equal(model.source.name, 'dune');
  assert.match(head(model), /beside the package, and no part of it: 2 \(one\.json, stick\/letter\.txt\)/);
  assert.match(textOf(filesSection(model)), /nothing was done with them.*one\.json/s);
  assert.doesNotMatch(textOf(filesSection(model)), /Nothing was left out/);
  // A bagit.txt inside a package is a file of that package.
  const nested = await shown({ ...below('dune', whole), 'dune/data/bagit.txt': utf8('x') });
  assert.deepEqual([nested.isPackage, nested.bag.unlisted, nested.source.outside], [true, ['data/bagit.txt'], []]);
  // A package that lost its bagit.txt is refused, and not taken for loose files.
  const { 'bagit.txt': _, ...lost } = whole;
  assert.equal((await shown(below('dune', lost))).result.refused.rule, 'bag_tag_file');
});

test('several packages, and a zip file with company, are problems with a next step', async () => {
  const problem = async files => shown(files).then(() => null, error => error.key);
  assert.equal(await problem({ ...below('a', whole), ...below('b', whole) }), 'problem_packages');
  assert.equal(await problem({ 'dune.zip': zipOf(whole), 'one.json': sealed(one) }), 'problem_zip_beside');
  assert.equal(await problem({ 'dune.zip': zipOf(whole), 'other.zip': zipOf(whole) }), 'problem_zip_beside');
  assert.equal((await shown({ 'folder/dune.zip': zipOf(whole) })).isPackage, true);
  assert.equal(await problem(Object.fromEntries(Array.from({ length: 2001 }, (_, at) => [`${at}.json`, utf8('')]))), 'problem_loose_many');
  // Bytes are not read before their lengths were added up.
  const huge = path => ({ path, blob: { size: 250e6, slice: () => new Blob(['{"a":1}']) } });
  const files = Array.from({ length: 5 }, (_, at) => huge(`${at}.json`));
  await assert.rejects(judgeDropped({ files, isPackage: false, outside: [] }, reader(), watch), error => error.key === 'problem_loose_long');
});

test('a record whose signature holds is not said to be unsigned or changed', async () => {
  const later_version = record({ change: made => (made.schema = { ...made.schema, version: 2 }) });
  const broken = record({ change: made => (made.strange = 1) });
  const foreign = utf8('{"blade":{"title":"x"},"issuer":{"name":"y"}}');
  const changed = utf8(new TextDecoder().decode(sealed(one)).replace('Dune', 'Dawn'));
  const cases = [
    [sealed(later_version), 'cannot_judge_signed', /cannot be used by this page: the signature fits.*version/],
    [sealed(broken), 'altered_signed', /cannot be used by this page: the signature fits.*breaks? a rule/],
    [foreign, 'cannot_judge', /not a record that this page can read/],
    [changed, 'altered', /changed after it was sealed, or was never sealed.*nobody signed it/],
  ];
  for (const [bytes, state, words] of cases) {
    const model = await shown({ 'a.json': bytes });
    assert.equal(model.answers.bytes.state, state);
    assert.match(head(model), words);
    const says = textOf(answersSection(model, () => {}, () => {}));
    if (state !== 'altered') assert.doesNotMatch(`${head(model)} ${attention(model)} ${says}`, /nobody signed it|changed after|never sealed/, state);
    assert.equal(/Nothing could be computed/.test(says), ['altered', 'cannot_judge'].includes(state));
  }
});

test('what is beside a good record and does not hold needs attention; another blade does not', async () => {
  const text = new TextDecoder().decode(sealed(one));
  const model = await shown({
    'two.json': sealed(two), 'one.json': sealed(one), 'bad.json': utf8(text.replace('Dune', 'Dawn')), 'no.json': utf8('{'),
    'other.json': sealed(record({ sequence: 1, change: made => (made.blade.id = 'another') })),
  });
  const weights = Object.fromEntries(attentionOf(model).flatMap(group => group.files.map(file => [file, group.weight])));
  assert.deepEqual(weights, { 'bad.json': 'fails', 'no.json': 'unknown' });
  assert.match(attention(model), /does not hold – bad\.json: altered/);
  assert.match(textOf(filesSection(model)), /other\.jsonleft out/);
});

test('a withdrawal tells which record and why, there, in the chain and where its numbers are compared', async () => {
  const start = record();
  const taken = record({
    sequence: 2, previous: nameOf(start), purpose: 'withdrawal', issuedAt: '2026-03-02T09:30:00Z', change: made => (made.refers_to = { record: nameOf(start), statement: 'Measured on another blade.' }),
  });
  const model = await shown({ 'one.json': sealed(start), 'two.json': sealed(taken) });
  assert.equal(attentionOf(model)[0].part, 'withdrawal');
  assert.match(attention(model), /Record 2 withdraws record 1: “Measured on another blade\.”/);
  assert.match(textOf(chainSection(model)), /Record 1.*withdrawn by record 2: “Measured on another blade\.”/s);
  assert.match(textOf(changesSection(model.records)), /Record 1 was withdrawn by record 2: “Measured on another blade\.”/);
  assert.match(textOf(decisionSection(model.subject.record, model.subject)), /Record 2 withdraws record 1/);
  assert.match(inJapanese(() => attention(model)), /記録 2 は記録 1 を撤回/);
  // Alone it names the record that is not here.
  const alone = await shown({ 'two.json': sealed(taken) });
  assert.match(attention(alone), new RegExp(`a record that is not here \\(${nameOf(start).slice(0, 8)} `));
  // A record that a later one at hand takes back, or follows, is to be confirmed whoever signed it.
  const judged = await judgeFile(sealed(start), reader({ fingerprints: [first.fingerprint] }), [{ path: 'two.json', bytes: sealed(taken) }], 'one.json');
  assert.match(attention(modelOf(judged, model.source, new Map())), /to be confirmed – one\.json: withdrawn or corrected.*Record 2 withdraws record 1/);
  const [before, after] = chain([{}, {}]);
  const followed = await judgeFile(sealed(before), reader({ fingerprints: [first.fingerprint] }), [{ path: 'two.json', bytes: sealed(after) }], 'one.json');
  assert.match(attention(modelOf(followed, model.source, new Map())), /to be confirmed – one\.json: followed by a later record/);
  const corrected = record({
    sequence: 2, previous: nameOf(start), purpose: 'correction', issuedAt: '2026-03-02T09:30:00Z', change: made => (made.refers_to = { record: nameOf(start), statement: 'The width was 29 mm.' }),
  });
  assert.match(textOf(chainSection(await shown({ 'one.json': sealed(start), 'two.json': sealed(corrected) }))), /corrected by record 2: “The width was 29 mm\.”/);
});

test('disclosed values are told of every record, and nothing is told that nobody can know', async () => {
  const [hidden, next] = chain([{ change: withExaminer }, {}]);
  const model = await shown(bag(dataOf([hidden, next], { 'data/disclosures/01.json': disclosuresFile([examinerName]) })));
  assert.match(textOf(withheldSection(model)), /Record 1.*examination › examiner › name.*Odile Varga/s);
  assert.doesNotMatch(textOf(withheldSection(model)), /Nothing was disclosed/);
  const unfit = await shown(bag(dataOf([one], { 'data/disclosures/01.json': disclosuresFile([examinerName]) })));
  assert.match(textOf(withheldSection(unfit)), /none that fits/);
  const altered = await shown({ 'a.json': utf8(new TextDecoder().decode(sealed(one)).replace('Dune', 'Dawn')) });
  assert.match(textOf(withheldSection(altered)), /cannot be told/);
  assert.doesNotMatch(textOf(withheldSection(altered)), /Nothing is withheld/);
});

test('files that only the list speaks for are named as such', async () => {
  const model = await shown(bag(dataOf([one], { 'data/tools/check_record.py': utf8('x'), 'data/HOW-TO-CHECK.txt': utf8('y'), 'data/strange.txt': utf8('z') })));
  const words = textOf(filesSection(model));
  assert.match(words, /Compared with the list only.*do not run programs that came with a package.*data\/HOW-TO-CHECK\.txt/s);
  assert.match(attention(model), /data\/tools\/check_record\.py: another one/);
  assert.doesNotMatch(words, /Every file/);
  // The list names it: nobody may say that no list does.
  assert.match(attention(model), /data\/strange\.txt: added.*the rules of packages know no such file/s);
});

test('a file written anew is not called the sealed bytes; date and who stand open', async () => {
  const anew = await shown({ 'a.json': utf8(`${new TextDecoder().decode(sealed(one))}\n`) });
  const words = textOf(answersSection(anew, () => {}, () => {}));
  assert.equal(anew.answers.bytes.state, 'same_content');
  assert.doesNotMatch(words, /One changed sign/);
  assert.match(words, /The file was written anew: its bytes are others/);
  const { result, ...model } = anew;
  model.answers = { ...model.answers, time: { state: 'not_later_than_unknown', time: '2026-03-02T08:00:00Z', who: 'Clock \u202eHouse', standing: 'unknown' } };
  const section = answersSection({ ...model, result }, () => {}, () => {});
  const [card] = all(section, node => node.attributes.id === 'answer-time');
  const open = card.children.filter(node => node.tagName === 'P' || node.tagName === 'H3');
  assert.match(textOf(open), /Stated: 2026-03-01 09:30:00 UTC.*Not later than 2026-03-02 08:00:00 UTC, says `Clock U\+202EHouse`/s);
});

test('that a key was revoked later is told whoever the reader knows', async () => {
  const history = historyFile([statement(first, '2026-02-01T00:00:00Z', null)]);
  const model = await shown(bag(dataOf([one], { [`data/keys/${first.fingerprint}.json`]: history })));
  for (const state of ['known', 'new', 'succeeded']) {
    const result = structuredClone({ ...model.result, files: [] });
    result.subject.signer = { ...result.subject.signer, state, standing: 'revoked_proved' };
    const told = modelOf(result, model.source, new Map());
    assert.equal(told.answers.signer.state, state);
    assert.match(attention(told), /to be known – Whose key sealed them\? revoked later, older by evidence/, state);
  }
});

test('faults of a chain are told in the language of the page', async () => {
  const gap = record({ sequence: 3, previous: nameOf(one), purpose: 'transfer', issuedAt: '2026-03-02T09:30:00Z' });
  const model = await shown(bag(dataOf([one, gap])));
  assert.equal(model.answers.completeness.state, 'broken');
  assert.match(textOf(chainSection(model)), /data\/records\/03-transfer\.json: a gap/);
  assert.match(inJapanese(() => textOf(chainSection(model))), /途中の記録がない/);
  assert.match(inJapanese(() => attention(model)), /途中の記録がない/);
});

test('signs that nobody sees are shown by number, in texts and in labels', () => {
  const made = el('p', { 'aria-label': 'a\u2066b', title: '\u200fx' }, 'Reed\u202egnik', '\u061c', 'line\nbreak', '辻');
  assert.equal(made.textContent, 'ReedU+202EgnikU+061Cline\nbreak辻');
  assert.deepEqual([made.attributes['aria-label'], made.attributes.title], ['aU+2066b', 'U+200Fx']);
  for (const sign of ['\u00ad', '\u200b', '\u200e', '\u2028', '\u2060', '\ufeff', '\u{e0041}', '\u001b', '\u0085', '\u3164']) assert.match(el('p', null, sign).textContent, /^U\+[0-9A-F]{4,6}$/, sign);
});

test('holes have their size, and flaws of the tang lie on the tang', () => {
  const made = read('samples/records/reed-02-after_work.json');
  const mm = value => ({ value, unit: 'mm', standard_uncertainty: '0.1' });
  const flaw = (id, at, more) => ({ id, kind: 'hagire', zone: 'tang', faces: ['omote'], standing: 'established', progress: 'at_rest', at: mm(at), length: mm('20.0'), ...more });
  made.flaws = [flaw('a', '50.0'), flaw('b', '-80.0'), flaw('c', '900.0')];
  const drawing = elements(mapSection(made), 'svg', 'blade-map')[0];
  const holes = elements(drawing, 'ellipse', 'hole');
  assert.equal(holes.length, 2 * made.tang.holes.length);
  for (const { attributes: { rx, ry } } of holes) assert.ok(rx > 2 && ry >= rx, `${rx} ${ry}`);
  const start = Number(/^M([\d.]+)/.exec(elements(drawing, 'path', 'tang-shape')[0].attributes.d)[1]);
  const spots = elements(drawing, 'rect', 'spot').map(({ attributes: { x, y } }) => [x + 3, y + 3]);
  assert.ok(spots[0][0] < start && spots[1][0] < spots[0][0] && spots[2][0] < spots[1][0] && spots[2][0] >= 14 - 1e-6, JSON.stringify(spots));
  // They lie between the lines of the tang, at the height of the holes.
  for (const [, y] of spots) assert.ok(Math.abs(y - holes[0].attributes.cy) < 30, `${y}`);
  const extent = elements(drawing, 'path', 'extent').map(({ attributes: { d } }) => [...d.matchAll(/[ML]([\d.]+) /g)].map(found => Number(found[1])));
  for (const places of extent) assert.ok(Math.max(...places) <= start + 0.06, JSON.stringify(places));
  assert.match(textOf(mapSection(made)), /on the tang, 80\.0 mm from the start of the blade/);
  assert.doesNotMatch(textOf(mapSection(made)), /outline is not measured/);
  for (const key of ['width_at_base', 'width_at_point', 'stations']) delete made.dimensions[key];
  assert.match(textOf(mapSection(made)), /The outline is not measured/);
});

test('few pictures are decoded at once, many as they come into sight', () => {
  const entries = count => ({ photos: Array.from({ length: count }, (_, at) => ({ file: `${at}.jpg`, state: 'unmatched', photo: null, records: [], url: 'blob:x' })), unpacked: [] });
  const modes = count => new Set(elements(photosSection(entries(count)), 'img').map(({ attributes: { decoding, loading } }) => `${decoding} ${loading}`));
  assert.deepEqual([...modes(40)], ['sync eager']);
  assert.deepEqual([...modes(41)], ['async lazy']);
});

test('numbers that nobody measured again are no second measurement', () => {
  const quantity = (value, texts = [`${value} mm`]) => ({ as_read: texts.map(text => ({ text, unit: 'mm' })), standard_uncertainty: '0.2', unit: 'mm', value });
  const reversed = of => Object.fromEntries(Object.entries(of).reverse());
  const row = (first, last) => ({ first, last });
  const same = ['698.2', '205.0', '31.2'].map(value => row(quantity(value), { ...reversed(quantity(value)), method: 'as record 1 has it' }));
  assert.equal(takenOver(same), true);
  assert.equal(takenOver(same.slice(1)), false, 'one or two can be read the same twice');
  assert.equal(takenOver([...same, row(quantity('6.9'), quantity('6.9', ['6.9 mm', '6.9 mm']))]), false, 'another reading is a measurement');
});
