// Hostile input: whatever the bytes, there is a verdict, in bounded time, and never a fault of the program.

import assert from 'node:assert/strict';
import test, { after } from 'node:test';
import { fileKind, judgeFile, judgePackage } from '../../../crates/package/page/core/index.js';
import { judgeRecord } from '../../../crates/package/page/core/record.js';
import { judgeReport } from '../../../crates/package/page/core/report.js';
import { bag, chain, dataOf, disclosuresFile, entryDigest, examinerName, fileList, first, historyFile, later, paper, proved, reader, recordPath, revocation, sample, sealed, second, sha, statement, utf8, withExaminer, zipOf } from './made.mjs';
import { report } from './pdf.mjs';

const COUNT = Number(process.env.HOSTILE ?? 40);

// A check that breaks off tells so on the console, and its part is not taken; none may.
const faults = [];
console.error = (...words) => faults.push(words);
after(() => assert.deepEqual(faults.map(([, problem]) => problem?.stack), []));

// The same numbers in every run.
function random(seed) {
  let state = seed;
  return (below) => {
    state = (Math.imul(state, 1664525) + 1013904223) >>> 0;
    return Math.floor((state / 2 ** 32) * below);
  };
}

const VALUES = [null, true, 0, -1, 1e15, '', 'x', '0'.repeat(64), [], {}, [[]], { a: 1 }, 'did:key:z1', '/', '2026-01-01T00:00:00Z', '-0.0', '🗡', 'constructor', '__proto__'];

// One value somewhere in a tree is exchanged, taken out, or doubled.
function spoiled(value, next) {
  const copy = structuredClone(value);
  const places = [];
  const walk = (inner) => {
    for (const name of Object.keys(inner)) {
      places.push([inner, name]);
      if (inner[name] && typeof inner[name] === 'object') walk(inner[name]);
    }
  };
  walk(copy);
  const [holder, name] = places[next(places.length)];
  const how = next(4);
  if (how === 0 && !Array.isArray(holder)) delete holder[name];
  else if (how === 1 && Array.isArray(holder)) holder.splice(Number(name), 0, holder[name]);
  else if (how === 2) holder[`${name}${next(2) ? 'x' : ''}`] = structuredClone(places[next(places.length)][0]);
  else holder[name] = VALUES[next(VALUES.length)];
  return copy;
}

const text = (value) => utf8(JSON.stringify(value));
const safely = (make, fallback) => {
  try {
    return make();
  } catch {
    return fallback;
  }
};
const records = chain([{ change: withExaminer }, {}]);
const start = statement(first, '2026-01-01T00:00:00Z');
const turn = later('rotation', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), first);
const entries = [start, turn, revocation(second, '2026-07-01T00:00:00Z', entryDigest(turn), paper, '2026-08-01T00:00:00Z')];
const tsr = sample('crates/trust/tests/timestamps/p256.tsr');
const pdf = report(sealed(records[1]), { by: first, at: records[1].issued_at });
const histories = `data/keys/${first.fingerprint}.json`;
const basic = {
  ...dataOf(records), 'data/disclosures/01.json': disclosuresFile([examinerName]), [histories]: historyFile(entries), 'data/timestamps/01-a.tsr': tsr, 'data/reports/a.pdf': pdf,
  [`data/photos/${'0'.repeat(64)}.jpg`]: sample('samples/photos/reed-after.jpg'),
};
const EXITS = [0, 1, 2, 3];

async function judged(data, more) {
  const verdict = await judgePackage(fileList(bag(data, more)), reader());
  assert.ok(EXITS.includes(verdict.exit));
  return verdict;
}

test('records that are spoiled and signed again', async () => {
  const next = random(1);
  for (let at = 0; at < COUNT; at += 1) {
    const made = spoiled(records[0], next);
    const again = safely(() => proved(made, first, made.issued_at ?? 'x'), made);
    await judged({ ...basic, [recordPath(records[0])]: next(2) ? text(again) : safely(() => sealed(again), text(made)) });
    await judgeFile(text(again), reader(), [{ path: 'd.json', bytes: disclosuresFile([examinerName]) }, { path: 'k.json', bytes: historyFile(entries) }, { path: 'a.tsr', bytes: tsr }]);
  }
});

test('histories that are spoiled, some signed again', async () => {
  const next = random(2);
  for (let at = 0; at < COUNT; at += 1) {
    const list = spoiled(entries, next);
    if (next(2)) list[0] = safely(() => proved(list[0], first, list[0].from), list[0]);
    await judged({ ...dataOf(records), [histories]: text(next(5) ? { format: 'tangmark key history 1', entries: list } : spoiled({ format: 'tangmark key history 1', entries }, next)) });
  }
});

test('disclosures that are spoiled', async () => {
  const next = random(3);
  const file = JSON.parse(new TextDecoder().decode(disclosuresFile([examinerName])));
  for (let at = 0; at < COUNT; at += 1) await judged({ ...dataOf(records), 'data/disclosures/01.json': text(spoiled(file, next)) });
});

test('bytes that are flipped, cut and doubled, in every kind of file and in the zip', async () => {
  const next = random(4);
  const spoil = (bytes) => {
    const how = next(4);
    if (how === 0) return bytes.slice(0, next(bytes.length));
    if (how === 1) return new Uint8Array([...bytes.slice(0, next(bytes.length)), ...bytes.slice(next(bytes.length))]);
    const bad = bytes.slice();
    for (let count = next(4); count >= 0; count -= 1) bad[next(bad.length)] = next(256);
    return bad;
  };
  const paths = Object.keys(basic);
  for (let at = 0; at < COUNT; at += 1) {
    const path = paths[next(paths.length)];
    const data = { ...basic, [path]: spoil(basic[path]) };
    await judged(data);
    await judgePackage(spoil(zipOf(bag(data))), reader());
    const bytes = spoil(basic[path]);
    if (fileKind(bytes, path) !== 'zip') await judgeFile(bytes, reader(), [], path);
  }
});

test('objects of a report that are spoiled and signed', async () => {
  const next = random(5);
  const words = ['1 0 R', '6 0 R', 'null', '[]', '<< >>', '(x)', '<00>', '/X', '7', '-1', '99 0 R', '[6 0 R 6 0 R]', '<< /Type /Sig >>', 'true', '4 0 R'];
  for (let at = 0; at < COUNT; at += 1) {
    const change = (list) => {
      const numbers = Object.keys(list);
      const number = numbers[next(numbers.length)];
      const parts = typeof list[number] === 'string' ? list[number].split(/(?<= )/) : null;
      if (parts === null) list[number].dict += ` /${['Type', 'Filter', 'F', 'EF', 'S', 'Subtype', 'Annots'][next(7)]} ${words[next(words.length)]}`;
      else {
        const place = next(parts.length);
        if (!parts[place].includes('0000')) parts[place] = `${words[next(words.length)]} `;
        list[number] = parts.join('');
      }
    };
    const bytes = safely(() => report(sealed(records[1]), { by: first, at: records[1].issued_at, change }), pdf);
    const verdict = await judgeFile(bytes, reader(), [], 'a.pdf');
    assert.ok(EXITS.includes(verdict.exit));
  }
});

test('a check that breaks off is a verdict on its part alone', async () => {
  const bytes = sealed(records[1]);
  const { state, rule, signed, reason } = await judgeRecord(bytes, null);
  assert.deepEqual([state, rule, signed], ['cannot_judge', 'fault', true], reason);
  const broken = await judgeReport(pdf, null);
  assert.deepEqual([broken.state, broken.rule], ['cannot_judge', 'fault']);
  const verdict = await judgePackage(fileList(bag(basic)), reader({ authorities: [] }));
  assert.equal(verdict.timestamps['data/timestamps/01-a.tsr'].rule, 'token_imprint');
  assert.equal(faults.splice(0).length, 2);
});

test('text without end, numbers without end, levels without end', async () => {
  for (const bytes of [utf8('['.repeat(5000000)), utf8(`"${'\\u0061'.repeat(1000000)}`), utf8('1'.repeat(5000000)), utf8(`{"a":"${'x'.repeat(5000000)}"}`), new Uint8Array(1000000), utf8('%PDF-1.7\n'.repeat(100000)), utf8(`%PDF-1.7\n1 0 obj\n${'<<'.repeat(100000)}`)]) {
    const begun = performance.now();
    for (const name of ['a.json', 'a.pdf', 'a.tsr']) await judgeFile(bytes, reader(), [], name);
    // Generous: other programs run beside.
    assert.ok(performance.now() - begun < 20000, `${bytes.length} bytes took too long`);
  }
  assert.equal(sha(utf8('')).length, 32);
});
