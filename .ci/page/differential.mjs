// node .ci/page/differential.mjs TESTKIT NPM_FOLDER [--count N] [--seed S] [--from N] [--faults N] [--chromium K]
//
// Two readers of the format pages on the same packages: the library in Rust (`TESTKIT mutants` makes the packages and says
// what it finds) and the verifier page. Prints how many of each kind of change, the share of agreement, and every
// disagreement with its number; `TESTKIT mutants --seed S --from NUMBER --only FILE` writes that package.
//   --faults N    then slips are put into the page's source, one at a time (faults.json); N packages must show each of them
//   --chromium K  then the first K again in a browser, by the bundled page
import { spawn } from 'node:child_process';
import { createRequire } from 'node:module';
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { bundle } from './bundle.mjs';

const root = new URL('../../', import.meta.url);
const core = new URL('crates/package/page/core/', root);
const schema = new Uint8Array(readFileSync(new URL('schemas/tangmark-record-1.schema.json', root)));

function options(words) {
  const found = { testkit: words[0], npm: words[1], count: 1000, seed: 1, from: 0, faults: 0, chromium: 0 };
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

// What `testkit mutants` writes: a line of JSON with `length`, then so many bytes.
async function* mutants({ testkit, seed, from, count }) {
  const child = spawn(testkit, ['mutants', '--seed', seed, '--from', from, '--count', count].map(String), { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((resolve) => child.on('close', resolve));
  let held = Buffer.alloc(0);
  let line = null;
  for await (const part of child.stdout) {
    held = held.length === 0 ? part : Buffer.concat([held, part]);
    for (;;) {
      if (line === null) {
        const end = held.indexOf(10);
        if (end < 0) break;
        line = JSON.parse(held.toString('utf8', 0, end));
        held = held.subarray(end + 1);
      }
      if (held.length < line.length) break;
      yield { ...line, zip: new Uint8Array(held.subarray(0, line.length)) };
      held = held.subarray(line.length);
      line = null;
    }
  }
  const code = await ended;
  if (code !== 0) throw new Error(`testkit ended with ${code}`);
}

function readerOf({ reader }, released) {
  return { ...reader, schema, histories: [], releasedPages: released };
}

const sorted = (list) => [...(list ?? [])].sort();

function states(files, words) {
  const said = {};
  for (const file of Object.keys(files ?? {}).sort()) said[file] = words(files[file]);
  return said;
}

// Only a reader with a memory knows names; one with fingerprints meets a new signer.
const SIGNER = { other_key_for_name: 'new', other_name_for_key: 'new' };

// A verdict in the words that the format pages fix; reasons are each reader's own.
export function words(verdict) {
  if (verdict.refused) return { exit: verdict.exit, refused: true };
  const { bag, subject } = verdict;
  const stateOf = (part) => part.state ?? part;
  return {
    exit: verdict.exit,
    bag: {
      changed: sorted(bag.changed), missing: sorted(bag.missing), unlisted: sorted(bag.unlisted),
      not_looked_at: sorted(bag.not_looked_at), ignored_manifests: sorted(bag.ignored_manifests),
    },
    records: states(verdict.records, ({ state, standing, name }) => [state, ...(state === 'altered' ? [] : [name, standing ?? null])].join(' ')),
    chain: stateOf(verdict.chain),
    disclosures: states(verdict.disclosures, ({ state }) => state),
    photos: states(verdict.photos, ({ state, further, difference }) => `${state} ${further ?? difference ?? ''}`),
    reports: states(verdict.reports, ({ state }) => state),
    keys: states(verdict.keys, ({ state }) => state),
    // The library names the authority besides, and calls what it is to the reader its standing.
    timestamps: states(verdict.timestamps, ({ state, standing, authority, time }) => (state === 'fits' ? `${state} ${standing ?? authority} ${time}` : state)),
    schema: stateOf(verdict.schema ?? 'none'),
    page: stateOf(verdict.page ?? 'none'),
    subject: { file: subject.file, bytes: subject.bytes.state, signer: SIGNER[subject.signer.state] ?? subject.signer.state, time: [subject.time.state, subject.time.standing, subject.time.time].filter(Boolean).join(' ') },
    withdrawals: sorted(verdict.withdrawals),
    photos_not_packed: verdict.photos_not_packed ?? 0,
  };
}

// The parts in which two verdicts differ.
function differing(one, other, place = '') {
  if (typeof one !== 'object' || typeof other !== 'object' || one === null || other === null) {
    return one === other ? [] : [`${place || 'all'}: rust ${JSON.stringify(one)}, page ${JSON.stringify(other)}`];
  }
  return [...new Set([...Object.keys(one), ...Object.keys(other)])].flatMap((key) => differing(one[key], other[key], `${place}/${key}`));
}

async function asked(judge, mutant, released) {
  try {
    return words(await judge(mutant.zip, readerOf(mutant, released)));
  } catch (problem) {
    return { exit: `the page failed: ${problem.stack?.split('\n').slice(0, 3).join(' ') ?? problem}` };
  }
}

async function compareAll(order, released) {
  const { judgePackage } = await import(new URL('index.js', core).href);
  const kinds = new Map();
  const exits = new Map();
  const kept = [];
  const wrong = [];
  let time = 0;
  for await (const mutant of mutants(order)) {
    const rust = words(mutant.verdict);
    const start = performance.now();
    const page = await asked(judgePackage, mutant, released);
    time += performance.now() - start;
    const found = differing(rust, page);
    for (const kind of mutant.class.split('+')) kinds.set(kind, (kinds.get(kind) ?? 0) + 1);
    const exit = rust.refused ? 'refused' : `exit ${rust.exit}`;
    exits.set(exit, (exits.get(exit) ?? 0) + 1);
    if (found.length > 0) wrong.push({ number: mutant.number, kind: mutant.class, found });
    else if (kept.length < Math.max(order.faults, order.chromium)) kept.push({ ...mutant, zip: mutant.zip.slice(), rust });
  }
  return { kinds, exits, kept, wrong, time };
}

// A core with a slip in it, from a folder of its own.
async function patched(fault) {
  const folder = mkdtempSync(join(tmpdir(), 'slip-'));
  cpSync(core, folder, { recursive: true });
  writeFileSync(join(folder, 'package.json'), '{"type":"module"}\n');
  const file = join(folder, fault.file);
  const source = readFileSync(file, 'utf8');
  if (source.split(fault.find).length !== 2) {
    rmSync(folder, { recursive: true });
    throw new Error(`${fault.file} does not have \`${fault.find}\` once; mend faults.json`);
  }
  writeFileSync(file, source.replace(fault.find, () => fault.replace));
  const { judgePackage } = await import(pathToFileURL(join(folder, 'index.js')).href);
  rmSync(folder, { recursive: true });
  return judgePackage;
}

async function findFaults(kept, released) {
  const faults = JSON.parse(readFileSync(new URL('faults.json', import.meta.url), 'utf8'));
  let missed = 0;
  for (const fault of faults) {
    const judge = await patched(fault);
    let met = null;
    for (const mutant of kept) {
      if (differing(mutant.rust, await asked(judge, mutant, released)).length > 0) {
        met = mutant;
        break;
      }
    }
    missed += met ? 0 : 1;
    console.log(met ? `slip found: ${fault.what}: package ${met.number} (${met.class})` : `FAILED: slip not found: ${fault.what}, in ${kept.length} packages`);
  }
  return { tried: faults.length, missed };
}

// The same by the bundled page in Debian's Chromium.
async function inBrowser(npm, kept, count, released) {
  const require = createRequire(pathToFileURL(join(resolve(npm), 'package.json')));
  const { chromium } = (await import(pathToFileURL(require.resolve('playwright-core')).href)).default;
  const browser = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox'] });
  const page = await browser.newPage();
  await page.context().setOffline(true);
  const file = join(mkdtempSync(join(tmpdir(), 'page-')), 'verify.html');
  // The page keeps its functions to itself; one is handed out here.
  const handedOut = bundle().page.replace('})();\n</script>', () => 'globalThis.judgePackage = judgePackage;\n})();\n</script>');
  writeFileSync(file, handedOut);
  await page.goto(pathToFileURL(file).href);
  let differed = 0;
  for (const mutant of kept.slice(0, count)) {
    const reader = { ...mutant.reader, histories: [], releasedPages: released };
    const said = await page.evaluate(
      async ([zip, given, text]) => {
        const bytes = Uint8Array.from(atob(zip), (letter) => letter.charCodeAt(0));
        const verdict = await judgePackage(bytes, { ...given, schema: new TextEncoder().encode(text) });
        // Records hold objects without a prototype, which do not travel; the words do.
        return JSON.parse(JSON.stringify(verdict, (key, value) => (['record', 'revealed', 'record_verdict', 'serial'].includes(key) ? undefined : typeof value === 'bigint' ? value.toString() : value)));
      },
      [Buffer.from(mutant.zip).toString('base64'), reader, new TextDecoder().decode(schema)],
    );
    const found = differing(mutant.rust, words(said));
    if (found.length > 0) {
      differed += 1;
      console.log(`FAILED: in the browser, package ${mutant.number} (${mutant.class}): ${found.join('; ')}`);
    }
  }
  await browser.close();
  rmSync(file);
  return { tried: Math.min(count, kept.length), missed: differed };
}

const order = options(process.argv.slice(2));
const released = [bundle().digest];
const { kinds, exits, kept, wrong, time } = await compareAll(order, released);
for (const [kind, number] of [...kinds].sort((one, other) => other[1] - one[1])) console.log(`${String(number).padStart(7)}  ${kind}`);
console.log([...exits].sort().map(([exit, number]) => `${exit}: ${number}`).join(', '));
for (const { number, kind, found } of wrong) console.log(`FAILED: package ${number} (${kind}): ${found.join('; ')}`);
console.log(`${order.count - wrong.length} of ${order.count} agree; ${(time / order.count).toFixed(1)} ms a package`);
let failed = wrong.length;
let ran = order.count;
if (order.faults > 0) {
  const { tried, missed } = await findFaults(kept, released);
  failed += missed;
  ran += tried;
}
if (order.chromium > 0) {
  const { tried, missed } = await inBrowser(order.npm, kept, order.chromium, released);
  failed += missed;
  ran += tried;
  console.log(`${tried - missed} of ${tried} agree in Chromium`);
}
console.log(`count differential ${ran}`);
process.exit(failed === 0 ? 0 : 1);
