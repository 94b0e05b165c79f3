// The verifier page in real browsers, without a network: node .ci/page/browser/run.mjs NPM_FOLDER [SCREENSHOT_FOLDER|- [TOUR_FOLDER|- [PARTS]]]
// TOUR_FOLDER: what `tangmark tour` wrote; every package in it is judged too, and a run of all parts needs it. PARTS, for example `card,everyState,firefox`, runs these alone and prints no count.
// Needs Debian's chromium and firefox-esr, and openssl. Prints `count page N`: how many checks held.
import { mkdirSync, mkdtempSync, readdirSync, rmSync, writeFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { basename, dirname, join, resolve } from 'node:path';
import { pathToFileURL } from 'node:url';
import { bundle } from '../bundle.mjs';
import { inChromium } from './chromium.mjs';
import { inFirefox } from './firefox.mjs';
import { makeEvidence } from './evidence.mjs';
import { fontEnvironment } from './fonts.mjs';
import { makeSamples } from './samples.mjs';

const [npm, shots, tour, parts] = process.argv.slice(2).map(word => (word === '-' ? undefined : word));
const only = parts ? parts.split(',') : [];
if (!npm) {
  console.error('error: no folder of npm packages was named\nhint: node .ci/page/browser/run.mjs target/ci/npm - TOUR_FOLDER');
  process.exit(4);
}
const require = createRequire(pathToFileURL(join(resolve(npm), 'package.json')));
const folder = mkdtempSync(join(tmpdir(), 'tangmark-page-'));
const counts = { held: 0, failed: [] };

/** Hand-over packages below a folder: folders with a bagit.txt, and zip files. */
function packagesIn(place) {
  if (!place) return [];
  return readdirSync(place, { recursive: true }).filter(path => basename(path) === 'bagit.txt' || path.endsWith('.zip')).sort()
    .map(path => join(place, path.endsWith('.zip') ? path : dirname(path)));
}

/** Counts one check; `found` is shown when it does not hold. */
function check(name, holds, found = '') {
  if (holds) counts.held += 1;
  else {
    counts.failed.push(name);
    console.log(`FAILED ${name}${found === '' ? '' : `: ${typeof found === 'string' ? found : JSON.stringify(found)}`}`);
  }
}

try {
  if (shots) mkdirSync(shots, { recursive: true });
  const made = bundle();
  const page = join(folder, 'verify.html');
  writeFileSync(page, made.page);
  const given = { check, only, tour: packagesIn(tour), digest: made.digest, url: pathToFileURL(page).href, samples: makeSamples(folder), evidence: await makeEvidence(join(folder, 'evidence')), shots, env: fontEnvironment(join(folder, 'fonts')), folder, require };
  await inChromium(given);
  if (only.length === 0 || only.includes('firefox')) await inFirefox(given);
} finally {
  rmSync(folder, { recursive: true, force: true });
}
if (counts.failed.length > 0) {
  console.log(`error: ${counts.failed.length} checks of the page failed`);
  process.exitCode = 1;
}
console.log(only.length === 0 ? `count page ${counts.held}` : `${counts.held} checks held`);
