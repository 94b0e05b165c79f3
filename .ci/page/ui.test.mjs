// Words and small parts of the verifier page: node --test .ci/page/ui.test.mjs
import assert from 'node:assert/strict';
import { readFileSync, readdirSync } from 'node:fs';
import { test } from 'node:test';
import { bundle } from './bundle.mjs';
import { changeOf, decimal, decimalText, difference, numberText, quantityText, withExpanded } from '../../crates/package/page/ui/decimals.js';
import { differingGroups, typedLetters } from '../../crates/package/page/ui/answers.js';
import { languageOf, placeWords, shortPath, stateWords, termParts } from '../../crates/package/page/ui/lang.js';
import { spread } from '../../crates/package/page/ui/map.js';
import { flawHeight, shapeOf } from '../../crates/package/page/ui/map_shape.js';
import { PAGE_WORDS } from '../../crates/package/page/words/page.js';
import { PLACE_WORDS, QUANTITY_WORDS } from '../../crates/package/page/words/places.js';
import { REASON_WORDS } from '../../crates/package/page/words/reasons.js';
import { RULE_WORDS } from '../../crates/package/page/words/rules.js';
import { STATE_WORDS } from '../../crates/package/page/words/states.js';
import { BLADE_TERMS } from '../../crates/package/page/words/terms_blade.js';
import { WORK_TERMS } from '../../crates/package/page/words/terms_work.js';

const root = new URL('../../', import.meta.url);
const read = path => readFileSync(new URL(path, root), 'utf8');
const uiFiles = readdirSync(new URL('crates/package/page/ui/', root)).map(name => read(`crates/package/page/ui/${name}`)).join('\n');
const isJapanese = text => /[\u3040-\u30ff\u4e00-\u9fff]/.test(text);

/** Every pair of the page with its name. */
function pairs() {
  const found = [];
  for (const [table, words] of Object.entries({ PAGE_WORDS, PLACE_WORDS, QUANTITY_WORDS, REASON_WORDS, RULE_WORDS })) for (const [key, pair] of Object.entries(words)) found.push([`${table}.${key}`, pair]);
  for (const [part, states] of Object.entries(STATE_WORDS)) for (const [state, [, ...words]] of Object.entries(states)) words.forEach((pair, place) => found.push([`${part}.${state}.${place}`, pair]));
  for (const [, en, ja] of uiFiles.matchAll(/half\(\['((?:[^'\\]|\\.)*)', '((?:[^'\\]|\\.)*)'\]/g)) found.push([`in place: ${en}`, [en, ja]]);
  return found;
}

test('every word is a pair of English and Japanese', () => {
  const all = pairs();
  assert.ok(all.length > 300, `${all.length}`);
  for (const [name, pair] of all) {
    assert.equal(pair.length, 2, name);
    const [en, ja] = pair;
    assert.ok(!isJapanese(en), `${name}: Japanese in the English half`);
    // Signs alone (`: ` and `：`) are the same in meaning; words must be Japanese.
    if (/[a-z]{3}/i.test(en)) assert.ok(isJapanese(ja), `${name}: no Japanese`);
    const filled = text => [...text.matchAll(/\{(\w+)\}/g)].map(found => found[1]).sort().join();
    assert.equal(filled(ja), filled(en), `${name}: other values filled in`);
  }
});

test('no sentence promises too much', () => {
  for (const [name, [en, ja]] of pairs()) {
    assert.doesNotMatch(en, /\b(authentic|genuine|safe|legal|valid|trustworthy|guarantee)/i, name);
    assert.doesNotMatch(ja, /本物|真正|安全|合法|正規|保証/, name);
  }
});

test('every word is used, and every word used is there', () => {
  const used = new Set([...uiFiles.matchAll(/\bsay\('(\w+)'/g)].map(found => found[1]));
  for (const key of used) assert.ok(Object.hasOwn(PAGE_WORDS, key), key);
  const built = [/^(q|weight|authority)_/, /^(changes|limit|photo)_/, /_next$/, /^problem_/];
  for (const key of Object.keys(PAGE_WORDS)) {
    const named = uiFiles.includes(`'${key}'`) || built.some(form => form.test(key));
    assert.ok(named, `${key} is not used`);
  }
});

test('every problem has a next step', () => {
  const keys = Object.keys(PAGE_WORDS).filter(key => key.startsWith('problem_') && !key.endsWith('_next') && key !== 'problem_title');
  for (const key of keys) assert.ok(Object.hasOwn(PAGE_WORDS, `${key}_next`), key);
});

test('terms are those of the page in schemas/', () => {
  const lists = new Map();
  for (const part of read('schemas/record-terms.md').split(/^## /m).slice(1)) {
    const rows = [...part.matchAll(/^\| `(\w+)` \| (.*?) \| (.*?) \|$/gm)].map(([, key, writing, gloss]) => [key, [writing.trim(), gloss]]);
    lists.set(part.split('\n')[0].trim(), new Map(rows));
  }
  let compared = 0;
  for (const [list, terms] of Object.entries({ ...BLADE_TERMS, ...WORK_TERMS })) {
    const known = lists.get(list);
    assert.deepEqual(Object.keys(terms), [...known.keys()], list);
    for (const [key, [writing, gloss, japanese]] of Object.entries(terms)) {
      assert.deepEqual([writing, gloss], known.get(key), `${list}.${key}`);
      assert.ok(isJapanese(japanese ?? writing), `${list}.${key}: no Japanese`);
      compared += 1;
    }
  }
  assert.ok(compared > 350, `${compared}`);
});

test('states of the format page have words', () => {
  const page = read('schemas/package-format.md');
  const table = page.slice(page.indexOf('| part | state |'), page.indexOf('A photo that is'));
  const parts = { file: 'file', record: 'record', chain: 'completeness', disclosures: 'disclosures', photo: 'photo', report: 'report', 'key history': 'key_history', timestamp: 'timestamp', schema: 'schema', page: 'page' };
  let states = 0;
  for (const [, part, column] of table.matchAll(/^\| ([a-z ]+) \| ([^|]+) \|/gm)) {
    if (!Object.hasOwn(parts, part)) continue;
    for (const [, state] of column.matchAll(/`(\w+)`/g)) {
      assert.ok(Object.hasOwn(STATE_WORDS[parts[part]], state), `${part}: ${state}`);
      states += 1;
    }
  }
  assert.ok(states > 30, `${states}`);
  for (const state of ['other_size', 'other_orientation', 'same_size']) assert.ok(STATE_WORDS.photo[state]);
});

test('states of the four answers have words', () => {
  // Typed from the head of core/verdict.js; `not_in_force` is told as too early or too late, bytes that do not hold by whether their
  // signature does and by what the file is, evidence of time by the standing of the authority.
  const states = {
    bytes: ['intact', 'same_content', 'altered', 'altered_signed', 'altered_report', 'cannot_judge', 'cannot_judge_signed', 'cannot_judge_report'],
    signer: ['known', 'succeeded', 'recovered', 'new', 'too_early', 'too_late', 'revoked', 'revoked_unproved', 'revoked_proved', 'two_histories', 'cannot_judge'],
    time: ['own_word', 'future', 'not_later_than', 'not_later_than_unknown', 'not_later_than_workshop', 'stated_later', 'stated_later_unknown', 'stated_later_workshop', 'cannot_judge'],
    completeness: ['whole', 'incomplete', 'broken', 'cannot_judge'],
  };
  for (const [part, names] of Object.entries(states)) assert.deepEqual(Object.keys(STATE_WORDS[part]).sort(), [...names].sort(), part);
  const head = read('crates/package/page/core/verdict.js').split('\nimport')[0];
  for (const word of ['not_in_force', ...states.time.filter(state => !/_(unknown|workshop)$/.test(state))]) assert.ok(head.includes(word), word);
});

test('rules by which the core refuses have words', () => {
  const files = ['bag', 'paths', 'zip', 'source'].map(name => read(`crates/package/page/core/${name}.js`)).join('\n');
  const rules = new Set([...files.matchAll(/refuse\('(\w+)'/g)].map(found => found[1]));
  assert.ok(rules.size > 20);
  for (const rule of rules) assert.ok(Object.hasOwn(RULE_WORDS, rule), rule);
});

test('rules by which the core judges have words', () => {
  const names = readdirSync(new URL('crates/package/page/core/', root)).filter(name => !/^(bag|paths|zip|source)\.js$/.test(name));
  const core = names.map(name => read(`crates/package/page/core/${name}`)).join('\n');
  const rules = new Set([...core.matchAll(/\b(?:(?:refuse|fail)\(|fault\(link, )'(\w+)'/g)].map(found => found[1]));
  assert.ok(rules.has('chain_gap'));
  assert.ok(rules.size > 50, `${rules.size}`);
  for (const rule of rules) assert.ok(Object.hasOwn(REASON_WORDS, rule) || /^[A-Z]\d+$/.test(rule), rule);
});

test('decimals are exact', () => {
  assert.deepEqual(decimal('-1.50'), { units: -150n, digits: 2 });
  for (const bad of ['', '1.', '.5', '1e3', '+1', ' 1', 'NaN', null, undefined, 7]) assert.equal(decimal(bad), null, String(bad));
  assert.equal(decimalText(difference(decimal('748.30'), decimal('741.9'))), '−6.40');
  // 0.1 + 0.2 in binary is not 0.3.
  assert.equal(decimalText(difference(decimal('-0.1'), decimal('0.2')), true), '+0.3');
  assert.equal(decimalText(decimal('0.05')), '0.05');
});

test('value and uncertainty end at the same place, as in the reports', () => {
  const rows = [
    // The second digit of the uncertainty decides: the example of JCGM 100:2008, 7.2.6 with its 27 mΩ as U.
    ['10.05762', '0.0135', '10.058 ± 0.027'], ['-0.12345', '0.0065', '−0.123 ± 0.013'],
    // The value ends earlier.
    ['694.0', '0.31', '694.0 ± 0.6'], ['703.50', '0.029', '703.50 ± 0.06'],
    // No digit of the uncertainty would be left: never ± 0 for something that is not certain.
    ['120', '0.029', '120.00 ± 0.06'], ['120.0', '0.0048', '120.000 ± 0.010'],
    ['1234', '61', '1230 ± 120'], ['12345', '4990', '12000 ± 10000'], ['0.0', '0.06', '0.0 ± 0.1'],
    // Rounding up to one digit more; a tie goes to the even digit.
    ['1.000000000', '0.0498', '1.00 ± 0.10'], ['0.125', '0.06', '0.12 ± 0.12'], ['0.135', '0.06', '0.14 ± 0.12'],
  ];
  for (const [value, u, wanted] of rows) assert.equal(withExpanded(decimal(value), 2 * Number(u)).replaceAll('\u00a0', ' '), wanted, `${value} ${u}`);
  assert.equal(quantityText({ value: '462.12', unit: 'mm', standard_uncertainty: '0.14' }), '462.12\u00a0±\u00a00.28\u00a0mm');
  assert.equal(quantityText({ value: [] }), '');
  assert.equal(quantityText(undefined), '');
  // Of a finding u stands as it was sealed: doubled it would be another number than the finding says.
  assert.equal(numberText({ value: '4.20', unit: 'g', standard_uncertainty: '0.16' }), '4.20\u00a0g, u\u00a00.16\u00a0g');
  assert.equal(numberText({ value: '0.377', unit: '1' }), '0.377');
});

test('a change is beyond its uncertainty only when it is larger', () => {
  const mm = (value, u) => ({ value, unit: 'mm', standard_uncertainty: u });
  // 2·√(0.3² + 0.4²) = 1.0, worked by hand.
  assert.equal(changeOf(mm('10.0', '0.30'), mm('11.0', '0.40')).beyond, false);
  assert.equal(changeOf(mm('10.0', '0.30'), mm('11.1', '0.40')).beyond, true);
  assert.equal(changeOf(mm('10.0', '0.30'), mm('8.9', '0.40')).text, '−1.1\u00a0±\u00a01.0\u00a0mm');
  assert.equal(changeOf(mm('10.0', '0.3'), { ...mm('9.0', '0.3'), unit: 'g' }), null);
  assert.equal(changeOf(undefined, mm('1', '0.1')), null);
});

test('a typed fingerprint is read as people write it', () => {
  assert.equal(typedLetters(' y5nev–lxhwz lr56p.fal2p '), 'Y5NEVLXHWZLR56PFAL2P');
  // Letters of full width, as Japanese keyboards give them.
  assert.equal(typedLetters('Ｙ５ＮＥＶ'), 'Y5NEV');
  assert.deepEqual(differingGroups('Y5NEVLXHWZLR56PFAL2Q', 'Y5NEV-LXHWZ-LR56P-FAL2P'), [4]);
  assert.deepEqual(differingGroups('X5NEVLXHWZLR56QFAL2P', 'Y5NEV-LXHWZ-LR56P-FAL2P'), [1, 3]);
  assert.deepEqual(differingGroups('Y5NEVLXHWZLR56PFAL2P', 'Y5NEV-LXHWZ-LR56P-FAL2P'), []);
});

test('language, places, terms and states', () => {
  assert.equal(languageOf(['de-AT', 'ja-JP', 'en']), 'ja');
  assert.equal(languageOf(['fr']), 'en');
  assert.equal(placeWords('/custody/1/from/name'), 'custody event 2 › from whom › name');
  assert.equal(placeWords('/valuation'), 'opinion of value');
  assert.deepEqual(termParts('FlawKind', 'hagire').map(part => part.text).join(''), 'hagire 刃切れ, crack through the hardened edge, square to it');
  assert.deepEqual(termParts('FlawKind', '__proto__'), [{ text: '__proto__', ja: false }]);
  assert.equal(stateWords('bytes', 'toString').weight, 'unknown');
  assert.equal(shortPath(`data/photos/${'0123abcd'.repeat(8)}.jpg`), 'data/photos/0123abcd…abcd.jpg');
});

test('numbers on the map do not cover each other', () => {
  const placed = spread([100, 101, 102, 300], 24, 10, 310);
  const sorted = [...placed].sort((a, b) => a - b);
  sorted.slice(1).forEach((x, index) => assert.ok(x - sorted[index] >= 24 - 1e-9));
  assert.ok(sorted[0] >= 10 && sorted.at(-1) <= 310);
  assert.deepEqual(spread([], 24, 0, 100), []);
});

test('the shape of a blade follows its record', () => {
  const record = JSON.parse(read('samples/records/reed-02-after_work.json'));
  const shape = shapeOf(record);
  assert.equal(shape.length, 698.17);
  assert.equal(shape.tang, 208);
  assert.ok(Math.abs(shape.back(330) - 16.5) < 1e-9 && Math.abs(shape.back(0)) < 1e-9 && Math.abs(shape.back(698.17)) < 1e-9);
  assert.ok(Math.abs(shape.back(0) - shape.edge(0) - 30.74) < 1e-9, 'width at the base');
  assert.ok(Math.abs(shape.back(698.17) - shape.edge(698.17)) < 1e-6, 'the edge meets the back at the tip');
  const height = flawHeight(shape, record.flaws[0], 402);
  assert.ok(Math.abs(height - shape.edge(402) - 19) < 1e-9);
  assert.equal(shapeOf({}), null);
  assert.equal(shapeOf({ dimensions: { blade_length: { value: '0' } } }), null);
});

test('the page is one script that can be read, with its digest', () => {
  const { page, digest } = bundle();
  assert.ok(page.includes(`<code id="page-digest">${digest}</code>`));
  const script = page.split("'use strict';\n")[1].split('</script>')[0];
  assert.doesNotThrow(() => new Function(script));
});
