// node .ci/page/differential.mjs TESTKIT NPM_FOLDER [--count N] [--seed S] [--from N] [--slips 1] [--chromium K]
//
// Two readers of the format pages on the same packages and files: the library in Rust (`TESTKIT mutants` makes them and says
// what it finds) and the verifier page. Prints how many of each kind of change, the share of agreement, and every
// disagreement with its number; `TESTKIT mutants --seed S --from NUMBER --only FILE` writes that package or file.
//   --slips 1     then slips are put into the page's source, one at a time (faults.json), and into the library's verdicts;
//                 each must be found
//   --chromium K  then the first K again in a browser, by the bundled page
import { createRequire } from 'node:module';
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { bundle } from './bundle.mjs';
import { asked, mutants, readerOf, schema, wordsOf } from './compare/mutants.mjs';
import { findSeeded, findSlips } from './compare/slips.mjs';
import { brokeOff, differing } from './compare/words.mjs';
import * as core from '../../crates/package/page/core/index.js';

function options(words) {
  const found = { testkit: words[0], npm: words[1], count: 1000, seed: 1, from: 0, slips: 0, chromium: 0 };
  for (let at = 2; at < words.length; at += 2) {
    const name = words[at].replace(/^--/, '');
    if (typeof found[name] !== 'number' || !/^[0-9]+$/.test(words[at + 1] ?? '')) {
      console.error(`error: \`${words[at]} ${words[at + 1] ?? ''}\` is no option with a number`);
      console.error('hint: node .ci/page/differential.mjs target/release/testkit target/ci/npm --count 1000 --seed 1');
      process.exit(4);
    }
    found[name] = Number(words[at + 1]);
  }
  if (!found.testkit || !found.npm) {
    console.error('error: the paths of testkit and of the npm folder are missing');
    console.error('hint: cargo build --release -p tangmark-testkit; bash .ci/install target/ci; node .ci/page/differential.mjs target/release/testkit target/ci/npm');
    process.exit(4);
  }
  return found;
}

// Most of them that are kept for slips and for the browser: each is some tens of kilobytes.
const MOST_KEPT = 3000;

async function compareAll(order, released) {
  const kinds = new Map();
  const exits = new Map();
  const kept = [];
  const wrong = [];
  let compared = 0;
  let time = 0;
  for await (const mutant of mutants(order)) {
    const library = wordsOf(mutant, mutant.verdict, false);
    const start = performance.now();
    const page = await asked(core, mutant, released);
    time += performance.now() - start;
    compared += 1;
    const found = page.failed ? [page.failed] : differing(library, page);
    for (const kind of mutant.class.split('+')) {
      const short = kind.replace(/^(case) .*/, '$1');
      kinds.set(short, (kinds.get(short) ?? 0) + 1);
    }
    const exit = library.refused ? 'refused' : `exit ${library.exit}`;
    exits.set(exit, (exits.get(exit) ?? 0) + 1);
    if (found.length > 0) wrong.push({ number: mutant.number, kind: mutant.class, found });
    else if ((order.slips > 0 || order.chromium > 0) && kept.length < Math.max(MOST_KEPT, order.chromium)) kept.push({ ...mutant, library });
  }
  return { kinds, exits, kept, wrong, compared, time };
}

// The same by the bundled page in Debian's Chromium.
async function inBrowser(npm, kept, released) {
  const require = createRequire(pathToFileURL(join(resolve(npm), 'package.json')));
  const { chromium } = (await import(pathToFileURL(require.resolve('playwright-core')).href)).default;
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
  const page = await browser.newPage();
  await page.context().setOffline(true);
  const folder = mkdtempSync(join(tmpdir(), 'page-'));
  const file = join(folder, 'verify.html');
  // The page keeps its functions to itself; two are handed out here.
  const handedOut = bundle().page.replace('})();\n</script>', () => 'Object.assign(globalThis, { judgePackage, judgeFile });\n})();\n</script>');
  writeFileSync(file, handedOut);
  await page.goto(pathToFileURL(file).href);
  let compared = 0;
  let differed = 0;
  for (const mutant of kept) {
    const said = await page.evaluate(askInBrowser, [
      mutant.form,
      mutant.files.map(({ path, bytes }) => [path, Buffer.from(bytes).toString('base64')]),
      { ...readerOf(mutant, released), schema: new TextDecoder().decode(schema), histories: mutant.reader.histories },
    ]);
    compared += 1;
    const found = brokeOff(said) ? ['a check of the page broke off'] : differing(mutant.library, wordsOf(mutant, said, true));
    if (found.length > 0) {
      differed += 1;
      console.log(`FAILED: in the browser, number ${mutant.number} (${mutant.class}): ${found.join('; ')}`);
    }
  }
  await browser.close();
  rmSync(folder, { recursive: true });
  return { compared, missed: differed };
}

// Runs in the browser, and gives back what can travel.
async function askInBrowser([form, files, given]) {
  const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  const reader = { ...given, schema: new TextEncoder().encode(given.schema), histories: given.histories.map(bytesOf) };
  const list = files.map(([path, text]) => ({ path, bytes: bytesOf(text) }));
  const verdict =
    form === 'zip' ? await globalThis.judgePackage(list[0].bytes, reader)
    : form === 'folder' ? await globalThis.judgePackage(list.map(({ path, bytes }) => ({ path, length: bytes.length, read: async () => bytes })), reader)
    : await globalThis.judgeFile(list[0].bytes, reader, list.slice(1), list[0].path);
  // The record itself is long, and its digest travels as its name.
  return JSON.parse(JSON.stringify(verdict, (key, value) => (['record', 'record_verdict', 'serial'].includes(key) && typeof value !== 'string' ? undefined : typeof value === 'bigint' ? value.toString() : value)));
}

const order = options(process.argv.slice(2));
const released = [bundle().digest];
const { kinds, exits, kept, wrong, compared, time } = await compareAll(order, released);
for (const [kind, number] of [...kinds].sort((one, other) => other[1] - one[1])) console.log(`${String(number).padStart(7)}  ${kind}`);
console.log([...exits].sort().map(([exit, number]) => `${exit}: ${number}`).join(', '));
for (const { number, kind, found } of wrong) console.log(`FAILED: number ${number} (${kind}): ${found.join('; ')}`);
console.log(`${compared - wrong.length} of ${compared} agree; ${(time / Math.max(1, compared)).toFixed(1)} ms each`);
let failed = wrong.length;
let ran = compared;
if (compared < order.count) {
  console.log(`FAILED: ${compared} were made, ${order.count} were asked for`);
  failed += 1;
}
if (order.slips > 0) {
  for (const { tried, missed } of [await findSlips(kept, released), await findSeeded(order, core, released, wordsOf)]) {
    failed += missed;
    ran += tried;
  }
}
if (order.chromium > 0) {
  // Spread over all of them, so that every kind comes.
  const step = Math.max(1, Math.floor(kept.length / order.chromium));
  const chosen = kept.filter((_, at) => at % step === 0).slice(0, order.chromium);
  const { compared: seen, missed } = await inBrowser(order.npm, chosen, released);
  if (seen < order.chromium) {
    console.log(`FAILED: ${seen} were compared in Chromium, ${order.chromium} were asked for`);
    failed += 1;
  }
  failed += missed;
  ran += seen;
  console.log(`${seen - missed} of ${seen} agree in Chromium`);
}
console.log(`count differential ${ran}`);
process.exit(failed === 0 ? 0 : 1);
