// Slips put into the page's source, one at a time, and disagreements seeded on the library's side: each must be found.
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { pathToFileURL } from 'node:url';
import { asked, mutants } from './mutants.mjs';
import { differing } from './words.mjs';

const core = new URL('../../../crates/package/page/core/', import.meta.url);
// Slips of `testkit mutants`.
const SEEDED = ['photo', 'late-key', 'misnamed'];

// A core with a slip in it, from a folder of its own.
async function patched(fault) {
  const folder = mkdtempSync(join(tmpdir(), 'slip-'));
  try {
    cpSync(core, folder, { recursive: true });
    writeFileSync(join(folder, 'package.json'), '{"type":"module"}\n');
    const file = join(folder, fault.file);
    const source = readFileSync(file, 'utf8');
    if (source.split(fault.find).length !== 2) throw new Error(`${fault.file} does not have \`${fault.find}\` once; mend faults.json`);
    writeFileSync(file, source.replace(fault.find, () => fault.replace));
    return await import(pathToFileURL(join(folder, 'index.js')).href);
  } finally {
    rmSync(folder, { recursive: true });
  }
}

// The mutants of the kinds that a slip is likely to show in, and then all others.
function inOrder(kept, kinds) {
  const isLikely = ({ class: name }) => kinds.some((kind) => name === kind || name.split('+').includes(kind) || name.startsWith(`${kind} `));
  return [...kept.filter(isLikely), ...kept.filter((one) => !isLikely(one))];
}

// `kept`: mutants on which both agree, with the words of the library. What breaks a check is no disagreement.
export async function findSlips(kept, released) {
  const faults = JSON.parse(readFileSync(new URL('../faults.json', import.meta.url), 'utf8'));
  let missed = 0;
  for (const fault of faults) {
    const changed = await patched(fault);
    let met = null;
    let tried = 0;
    for (const mutant of inOrder(kept, fault.kinds ?? [])) {
      tried += 1;
      const said = await asked(changed, mutant, released);
      if (said.failed === undefined && differing(mutant.library, said).length > 0) {
        met = mutant;
        break;
      }
    }
    missed += met ? 0 : 1;
    console.log(met ? `slip found: ${fault.what}: at the ${tried}. try, number ${met.number} (${met.class})` : `FAILED: slip not found: ${fault.what}, in ${kept.length} files and packages`);
  }
  return { tried: faults.length, missed };
}

// Verdicts of the library turned round by testkit: the true page must differ from each.
export async function findSeeded(order, judging, released, wordsOf) {
  let missed = 0;
  for (const slip of SEEDED) {
    let met = null;
    let tried = 0;
    for await (const mutant of mutants(order, '--slip', slip)) {
      tried += 1;
      const said = await asked(judging, mutant, released);
      if (said.failed === undefined && differing(wordsOf(mutant, mutant.verdict, false), said).length > 0) {
        met = mutant;
        break;
      }
    }
    missed += met ? 0 : 1;
    console.log(met ? `slip of the library found: ${slip}: at the ${tried}. try, number ${met.number} (${met.class})` : `FAILED: slip of the library not found: ${slip}, in ${tried} files and packages`);
  }
  return { tried: SEEDED.length, missed };
}
