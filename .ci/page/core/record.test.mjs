import assert from 'node:assert/strict';
import test from 'node:test';
import { readJson } from '../../../crates/package/page/core/json.js';
import { readReading, valueOf } from '../../../crates/package/page/core/quantity.js';
import { CUSTODY_TERMS, DATE_KEYS } from '../../../crates/package/page/core/rules.js';
import { isPartialDate, isUtcTime } from '../../../crates/package/page/core/times.js';
import { judgeRecord } from '../../../crates/package/page/core/record.js';
import { checkDisclosures, readDisclosures, revealed, stillWithheld } from '../../../crates/package/page/core/withhold.js';
import { checkRevealed } from '../../../crates/package/page/core/reveal.js';
import { askedOf, base64url, chain, decoy, disclosure, disclosuresFile, examinerName, record, sample, schema, sealed, sha, utf8, withExaminer } from './made.mjs';

const verdictOn = (change) => judgeRecord(sealed(record({ change })), schema);
const readings = (unit, ...texts) => valueOf(texts.map((text) => ({ text, unit: readReading(text, unit)?.unit ?? '?' })), unit);

test('values are computed again as the page shows', () => {
  // Source: schemas/record-format.md, "Quantities", the table.
  assert.equal(readings('mm', '2 shaku 3 sun 5 bu'), '712.1');
  assert.equal(readings('mm', '69.80 cm', '69.80 cm', '69.85 cm'), '698.17');
  assert.equal(readings('mm', '31.20 mm', '31.21 mm', '31.20 mm', '31.20 mm'), '31.202');
});

test('values of other units and steps', () => {
  // 1 in = 25.4 mm, 1 lb = 453.59237 g, 1 momme = 3.75 g (schemas/record-format.md); the rest by hand.
  assert.equal(readings('mm', '26 7/8 in'), '682.6'); // 682.625 mm, step 3.175 mm
  assert.equal(readings('mm', '31 3/16 in.'), '792.2'); // 792.1625 mm, step 1.5875 mm
  assert.equal(readings('g', '1 lb 7 oz', '1 lb, 7 ounces'), '652'); // 652.03… g, step 28.3 g
  assert.equal(readings('g', '171 momme'), '641.2'); // 641.25 g, a tie
  assert.equal(readings('min', '7 h 30 min'), '450.0');
  assert.equal(readings('Cel', '18 °C'), '18.0');
  assert.equal(readings('Cel', '-0 °C'), '0.0');
  assert.equal(readings('mm', '-1.5 mm'), '-1.50');
  assert.equal(readings('mm', '33 cm'), '330');
  assert.equal(readings('mm', '1/2 in'), '13'); // 12.7 mm, step 12.7 mm
  assert.deepEqual(['2 shaku 3 sun', '1 lb 7 oz', '7 h 30 min', '5 cm'].map((text, at) => readReading(text, ['mm', 'g', 'min', 'mm'][at]).unit), ['sun', '[oz_av]', 'min', 'cm']);
  assert.equal(readReading('3 sun 2 shaku', 'mm'), null);
  assert.equal(readings('mm', '5 furlong'), null);
  assert.equal(readings('g', '5 mm'), null);
  assert.equal(readReading('1/0 in', 'mm'), null);
  assert.equal(readReading('', 'mm'), null);
});

test('readings as people write them', () => {
  // tests/readings.json is read by the tests of every reader of the page.
  const { read, refused } = JSON.parse(new TextDecoder().decode(sample('tests/readings.json')));
  assert.ok(read.length > 120 && refused.length > 80);
  for (const { text, unit, written, value } of read) assert.equal(valueOf([{ text, unit: written }], unit), value, text);
  for (const { text, unit, why } of refused) assert.equal(readReading(text, unit), null, `${text}: ${why}`);
  // Worked out by hand from the grammar of the page.
  for (const [text, value] of [['千百十一 mm', '1111.0'], ['五百 mm', '500.0'], ['二百五 mm', '205.0'], ['零 mm', '0.0'], ['999999999999.9 mm', '999999999999.90']]) assert.equal(readings('mm', text), value, text);
  for (const text of ['', '-', '1 ft 3 in,', '1 ft , ', '1 m^2', "1'3''.", '百千 mm', '0二 mm', '999999999999.99999999 cm', '5 mm 5 mm', '1 in 1 ft', '1 ft 1/2', '1 ft 0.5', '1 ft 3 in 1/2 in', '5\u00b2 mm', '5 mm\ufe0f']) assert.equal(readReading(text, 'mm'), null, text);
  assert.equal(readReading('1 mm', 'um'), null);
});

test('dates and times of the calendar', () => {
  for (const good of ['2026', '2026-11', '2026-11-25', '2024-02-29', '2000-02-29']) assert.ok(isPartialDate(good), good);
  for (const bad of ['2026-13', '2026-00', '2026-02-30', '2026-02-29', '1900-02-29', '26', '2026-1-1']) assert.ok(!isPartialDate(bad), bad);
  assert.ok(isUtcTime('2026-11-25T09:30:00Z'));
  for (const bad of ['2026-11-25T24:00:00Z', '2026-11-25T09:60:00Z', '2026-11-25T09:30:60Z', '2026-11-31T09:30:00Z', '2026-11-25T09:30:00', '2026-11-25T09:30:00.0Z', '2026-11-25T09:30:00+00:00', '9999-12-30T22:00:01Z']) {
    assert.ok(!isUtcTime(bad), bad);
  }
});

test('signed records that break a rule are altered, each by its rule', async () => {
  const finding = (more) => ({ plugin: 'tangmark', rule: 'a.rule', level: 'info', message: 'words', source: 'a test', ...more });
  const table = [
    ['schema', (made) => (made.unknown = 1)],
    ['schema', (made) => delete made.blade.id],
    ['schema', (made) => (made.purpose = 'holiday')],
    ['schema', (made) => (made.blade.title = '')],
    ['schema', (made) => (made.sequence = 0)],
    ['schema', (made) => (made.blade.id = 'Upper Case')],
    ['schema', (made) => (made.dimensions.blade_length.value = 700)],
    ['schema', (made) => (made.dimensions.blade_length.unit = 'g')],
    ['schema', (made) => (made.examination = null)],
    ['quantity_value', (made) => (made.dimensions.blade_length.value = '1.0')],
    ['quantity_words', (made) => (made.dimensions.blade_length.as_read = [{ text: '3 spans', unit: 'span' }])],
    ['quantity_words', (made) => (made.dimensions.blade_length.as_read[0].unit = 'm')],
    ['key_twice', (made) => made.photos.push(made.photos[0])],
    ['instrument', (made) => (made.dimensions.blade_length.instrument = 'none')],
    ['quantity_uncertainty', (made) => (made.dimensions.blade_length.standard_uncertainty = '0.0')],
    ['finding_plugin', (made) => (made.findings = [finding({ plugin: 'nobody' })])],
    ['finding_price', (made) => (made.findings = [finding({ rule: 'price.high' })])],
    ['finding_evidence', (made) => (made.findings = [finding({ evidence: ['/blade/nothing'] })])],
    ['finding_plugin', (made) => (made.private_findings = [finding({ plugin: 'nobody' })])],
    ['finding_evidence', (made) => (made.findings = [finding({ evidence: ['blade'] })])],
    ['finding_evidence', (made) => (made.findings = [finding({ evidence: ['/photos/00'] })])],
    ['previous', (made) => (made.previous = '0'.repeat(64))],
    ['date', (made) => (made.examination.on = '2026-02-30')],
    ['withheld', (made) => delete made._sd_alg],
    ['withheld', (made) => made._sd.reverse()],
    ['withheld', (made) => (made.examination.by._sd = made._sd.concat(decoy('x')).sort())],
    ['schema', (made) => (made.examination.by._sd = [decoy('x')])],
    ['schema', (made) => (made.blade._sd = [decoy('x')])],
    // 4 294 967 295 is the greatest number of the format uint32.
    ['schema', (made) => Object.assign(made, { sequence: 4294967296, previous: '0'.repeat(64) })],
    ['schema', (made) => (made.passes = [{ ...pass, strokes: 4294967296 }])],
    ['key_twice', (made) => (made.flaws = [made.flaws[0], made.flaws[0]])],
    ['key_twice', (made) => (made.passes = [pass, pass])],
    ['key_twice', (made) => made.examination.instruments.push(made.examination.instruments[0])],
    ['custody_terms', (made) => (made.custody = [event({ kind: 'left_for_work', maps_to: ['crm:E8_Acquisition'] })])],
    ['custody_terms', (made) => (made.custody = [event({ maps_to: ['crm:E8_Acquisition', 'crm:E9_Move'] })])],
    ['held_pass', (made) => (made.worked_under_hold = [{ pass: 'nowhere', rule: 'triage/fatal.crack', message: 'a stop stood' }])],
    ['run_price', (made) => (made.runs[0].quantities = [number('price.low')])],
    ['run_price', (made) => (made.runs[0].artefacts = [tableOf('price.list', 'mass')])],
    ['run_price', (made) => (made.runs[0].artefacts = [tableOf('a table', 'price.low')])],
    ['run_input', (made) => (made.runs[0].input = '0'.repeat(64))],
    ['run_input', (made) => Object.assign(made, { sequence: 2, previous: '1'.repeat(64) }) && (made.runs[1].input = askedOf({ ...made, previous: null }))],
    ['time', (made) => (made.overrides = [{ ...override, at: '2026-02-30T00:00:00Z' }])],
    ['time', (made) => (made.overrides = [{ ...override, at: '9999-12-30T22:00:01Z' }])],
    ['time', (made) => (made.issued_at = '9999-12-31T00:00:00Z')],
  ];
  for (const [number, [rule, change]] of table.entries()) {
    const verdict = await verdictOn((made) => {
      made._sd ??= [decoy('a'), decoy('b')].sort();
      made._sd_alg ??= 'sha-256';
      change(made);
    });
    assert.deepEqual([number, verdict.state, verdict.rule], [number, 'altered', rule], verdict.reason);
  }
});

const pass = { id: 'first-pass', on: '2026-02', operation: 'grind', zones: ['ground'], strokes: 4294967295 };
const event = (more) => ({ kind: 'sold', maps_to: ['crm:E8_Acquisition'], when: { earliest: '1990', latest: '1991' }, ...more });
const number = (name) => ({ name, value: '1', unit: '1' });
const tableOf = (title, name) => ({ kind: 'table', title, columns: [{ name, unit: '1', cells: ['1'] }] });
const override = { rule: 'budget/budget.spent', name: 'Odile Varga', reason: 'agreed', at: '2026-02-28T00:00:00Z' };

test('signed records that break no rule of the closed list are intact', async () => {
  const taken = [
    // Rules of sheets are not those of sealed records.
    (made) => (made.custody = [event({ when: { earliest: '1999', latest: '1990' } })]),
    (made) => (made.private_findings = [{ plugin: 'tangmark', rule: 'price.high', level: 'info', message: 'words', source: 'a test', evidence: ['/blade/nothing'] }]),
    (made) => (made.dimensions.blade_length = { as_read: [{ text: '-5 mm', unit: 'mm' }], value: '-5.0', unit: 'mm', standard_uncertainty: '0.29', uncertainty_from: 'resolution' }),
    (made) => (made.dimensions.blade_length = { as_read: [{ text: '二尺三寸五分', unit: 'bu' }, { text: '2 ft, 4 1/32 in', unit: '[in_i]' }], value: '712.06', unit: 'mm', standard_uncertainty: '0.5', uncertainty_from: 'stated' }),
    (made) => (made.passes = [pass]),
    (made) => Object.assign(made, { passes: [pass], worked_under_hold: [{ pass: 'first-pass', rule: 'triage/fatal.crack', message: 'a stop stood' }] }),
    (made) => (made.overrides = [{ ...override, at: '9999-12-30T22:00:00Z' }]),
    (made) => (made.issued_at = '9999-12-30T22:00:00Z'),
    (made) => Object.assign(made, { sequence: 4294967295, previous: '0'.repeat(64) }),
    // From the third record on the input names records that are not here.
    (made) => Object.assign(made, { sequence: 3, previous: '0'.repeat(64) }) && (made.runs[0].input = '0'.repeat(64)),
    (made) => Object.assign(made, { sequence: 2, previous: '1'.repeat(64) }),
    (made) => (made.runs[0].quantities = [number('pricey'), number('a.price.low')]),
  ];
  for (const [at, change] of taken.entries()) {
    const verdict = await verdictOn(change);
    assert.deepEqual([at, verdict.state], [at, 'intact'], `${verdict.reason} ${verdict.where}`);
  }
});

test('what rules are about is what the schema has', () => {
  const schemaText = new TextDecoder().decode(schema);
  const found = { dates: new Set(), numbers: new Set(), lists: new Set() };
  const walk = (node) => {
    for (const [name, inner] of Object.entries(node.properties ?? {})) {
      if (inner.$ref === '#/$defs/PartialDate') found.dates.add(name);
      if (inner.format === 'uint32') found.numbers.add(name);
    }
    for (const inner of Object.values(node)) if (inner && typeof inner === 'object') walk(inner);
  };
  walk(JSON.parse(schemaText));
  assert.deepEqual([...found.dates].sort(), [...DATE_KEYS].sort());
  // Source: schemas/record-format.md, "What makes a record invalid".
  assert.deepEqual([...found.numbers].sort(), ['count', 'height_px', 'number', 'peg_holes', 'sequence', 'strokes', 'version', 'width_px']);
  const page = new TextDecoder().decode(sample('schemas/record-format.md'));
  const rows = [...page.matchAll(/^\| `(\w+)` \| `\["([^`]*)"\]` \|$/gm)].map(([, kind, terms]) => [kind, terms.replaceAll('", "', ',')]);
  assert.deepEqual(Object.fromEntries(rows), CUSTODY_TERMS);
});

test('evidence that points at something is taken', async () => {
  const evidence = ['', '/blade', '/blade/id', '/dimensions/blade_length/as_read/0/text'];
  const verdict = await verdictOn((made) => (made.findings = [{ plugin: 'tangmark', rule: 'a.rule', level: 'info', message: 'words', source: 'a test', evidence }]));
  assert.equal(verdict.state, 'intact', verdict.reason);
});

test('the same content in other bytes is not the sealed bytes', async () => {
  const made = record();
  for (const text of [JSON.stringify(made, null, 2), JSON.stringify(Object.fromEntries(Object.entries(made).reverse())), `${new TextDecoder().decode(sealed(made))}\n`, new TextDecoder().decode(sealed(made)).replace('"blade"', '"\\u0062lade"')]) {
    const verdict = await judgeRecord(utf8(text), schema);
    assert.deepEqual([verdict.state, verdict.name], ['same_content', (await judgeRecord(sealed(made), schema)).name]);
  }
});

test('case 38: a schema that is not known cannot be judged, and a bad signature goes before it', async () => {
  const newer = record({ change: (made) => Object.assign(made.schema, { version: 2 }) });
  assert.equal((await judgeRecord(sealed(newer), schema)).state, 'cannot_judge');
  const other = record({ change: (made) => Object.assign(made.schema, { digest: 'ab'.repeat(32) }) });
  assert.equal((await judgeRecord(sealed(other), schema)).state, 'altered');
  newer.blade.title = 'Another';
  assert.equal((await judgeRecord(sealed(newer), schema)).state, 'altered');
  const none = record({ change: (made) => delete made.schema });
  assert.equal((await judgeRecord(sealed(none), schema)).state, 'cannot_judge');
});

async function disclose(made, list, change = (bytes) => bytes) {
  const sealedRecord = readJson(sealed(made));
  const entries = await readDisclosures(change(disclosuresFile(list)));
  checkDisclosures(sealedRecord, entries);
  checkRevealed(revealed(sealedRecord, entries), schema);
  return entries;
}

test('disclosures that belong to a record', async () => {
  const made = record({ change: withExaminer });
  const [entry] = await disclose(made, [examinerName]);
  assert.deepEqual([entry.path, entry.value], ['/examination/by/name', 'Odile Varga']);
  assert.deepEqual(await disclose(made, []), []);
  assert.ok(stillWithheld(readJson(sealed(made))).includes('/examination/by/name'));
  assert.ok(!stillWithheld(readJson(sealed(made)), [entry]).includes('/examination/by/name'));
  const [example, file] = [sample('schemas/example-record.json'), sample('schemas/example-disclosures.json')];
  const entries = await readDisclosures(file);
  checkDisclosures(readJson(example), entries);
  checkRevealed(revealed(readJson(example), entries), schema);
  assert.equal(entries.length, 13);
});

test('the digest of RFC 9901 is made', async () => {
  // Source: RFC 9901, the disclosure of `family_name` and its digest (from memory; the sum itself is made here).
  const text = 'WyJlbHVWNU9nM2dTTklJOEVZbnN4QV9BIiwgImZhbWlseV9uYW1lIiwgIkRvZSJd';
  assert.equal(base64url(sha(utf8(text))), 'TGf4oLbgwd5JQaHyKVQZU9UdGE0w5rtDsrZzfUaomLo');
  await assert.rejects(readDisclosures(utf8(JSON.stringify({ format: 'tangmark disclosures 1', disclosures: [{ path: '/x', disclosure: text }] }))), (problem) => problem.rule === 'disclosure_name');
});

test('case 41 to 44: disclosures that are refused', async () => {
  const made = record({ change: withExaminer });
  const forged = (path, parts) => {
    const disclosureText = base64url(utf8(JSON.stringify(parts)));
    return { path, disclosure: disclosureText, digest: base64url(sha(utf8(disclosureText))) };
  };
  const salt = base64url(sha(utf8('salt')).slice(0, 16));
  const holding = (one) => record({ change: (made) => (made.examination.by._sd = [one.digest, decoy('one'), decoy('two')].sort()) });
  const table = {
    'not in the record': [made, [disclosure('/examination/by/name', 'Somebody else')], 'disclosure_digest'],
    'of another place': [made, [{ ...examinerName, path: '/agreement/owner/name' }], 'disclosure_place'],
    'twice': [made, [examinerName, examinerName], 'disclosure_twice'],
    'a salt for two values': [made, [examinerName, disclosure('/examination/by/contact', 'x', sha(utf8('/examination/by/name')).slice(0, 16))], 'disclosure_salt'],
    'another name in the path': [made, [{ ...examinerName, path: '/examination/by/contact' }], 'disclosure_name'],
  };
  for (const [name, rule] of [['_sd', 'disclosure_name'], ['...', 'disclosure_name'], ['_sd_alg', 'disclosure_name'], ['role', 'disclosure_name'], ['note', 'disclosure_name']]) {
    const one = forged(`/examination/by/${name}`, [salt, name, 'polisher']);
    table[`the name ${name}`] = [holding(one), [one], rule];
  }
  for (const [what, parts] of Object.entries({ 'no salt': ['name', 'x'], 'a short salt': [salt.slice(0, 20), 'name', 'x'], 'four parts': [salt, 'name', 'x', 1] })) {
    const one = forged('/examination/by/name', parts);
    table[what] = [holding(one), [one], parts.length === 3 ? 'disclosure_salt' : 'disclosure'];
  }
  const wrong = forged('/examination/by/name', [salt, 'name', 12]);
  table['a value of another kind'] = [holding(wrong), [wrong], 'disclosed_schema'];
  const twice = forged('/examination/by/name', [salt, 'name', { a: 1 }]);
  table['an object for a text'] = [holding(twice), [twice], 'disclosed_schema'];
  for (const [what, [one, list, rule]] of Object.entries(table)) await assert.rejects(disclose(one, list), (problem) => problem.rule === rule, what);
  for (const bad of ['{}', '[]', '{"format":"tangmark disclosures 2","disclosures":[]}', '{"format":"tangmark disclosures 1","disclosures":[],"more":1}', '{"format":"tangmark disclosures 1","disclosures":[{"path":"/a"}]}']) {
    await assert.rejects(disclose(made, [], () => utf8(bad)), (problem) => problem.rule === 'disclosures_form', bad);
  }
});

test('case 47: a record that withholds all still holds, and says what is withheld', async () => {
  const [made] = chain([{ change: withExaminer }]);
  const verdict = await judgeRecord(sealed(made), schema);
  assert.equal(verdict.state, 'intact');
  assert.deepEqual(stillWithheld(verdict.record).filter((path) => path.startsWith('/examination')), ['/examination/by/address', '/examination/by/contact', '/examination/by/name']);
});
