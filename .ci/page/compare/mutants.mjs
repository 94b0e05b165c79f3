// What `testkit mutants` writes, and what the page says of it.
import { spawn } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { releasedAids } from '../bundle.mjs';
import { brokeOff, looseWords, packageWords } from './words.mjs';

const root = new URL('../../../', import.meta.url);
const aids = releasedAids();
export const schema = new Uint8Array(readFileSync(new URL('schemas/tangmark-record-1.schema.json', root)));

// A line of JSON with `length` and the lengths of the files, then their bytes. Gives each with `files`: [{ path, bytes }].
export async function* mutants({ testkit, seed, from, count }, ...more) {
  const child = spawn(testkit, ['mutants', '--seed', seed, '--from', from, '--count', count, ...more].map(String), { stdio: ['ignore', 'pipe', 'inherit'] });
  const ended = new Promise((resolve) => child.on('close', resolve));
  let held = Buffer.alloc(0);
  let line = null;
  let isWhole = false;
  try {
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
        yield withFiles(line, new Uint8Array(held.subarray(0, line.length)));
        held = held.subarray(line.length);
        line = null;
      }
    }
    isWhole = true;
  } finally {
    // Whoever stops early needs no more of them.
    if (!isWhole) child.kill();
  }
  const code = await ended;
  if (code !== 0) throw new Error(`testkit ended with ${code}`);
  if (held.length > 0 || line !== null) throw new Error('testkit stopped in the middle of a file');
}

function withFiles(line, all) {
  let at = 0;
  const files = line.files.map(({ path, length }) => {
    const bytes = all.slice(at, at + length);
    at += length;
    return { path, bytes };
  });
  return { ...line, files };
}

export function readerOf({ reader }, released) {
  const histories = reader.histories.map((text) => new Uint8Array(Buffer.from(text, 'base64')));
  return { ...reader, schema, histories, releasedPages: released, releasedAids: aids };
}

// What a core says of a mutant, whole.
export async function verdictOf({ judgePackage, judgeFile }, { form, files }, reader) {
  if (form === 'zip') return judgePackage(files[0].bytes, reader);
  if (form === 'folder') return judgePackage(files.map(({ path, bytes }) => ({ path, length: bytes.length, read: async () => bytes })), reader);
  const [main, ...beside] = files;
  return judgeFile(main.bytes, reader, beside, main.path);
}

export function wordsOf({ form, reader }, verdict, isPage) {
  return form === 'loose' ? looseWords(verdict, reader, isPage) : packageWords(verdict, reader, isPage);
}

// The same in words; `failed` where the page broke down.
export async function asked(core, mutant, released) {
  try {
    const verdict = await verdictOf(core, mutant, readerOf(mutant, released));
    if (brokeOff(verdict)) return { failed: 'a check of the page broke off' };
    return wordsOf(mutant, verdict, true);
  } catch (problem) {
    return { failed: `the page failed: ${problem.stack?.split('\n').slice(0, 3).join(' ') ?? problem}` };
  }
}
