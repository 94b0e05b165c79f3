import assert from 'node:assert/strict';
import test from 'node:test';
import { readdirSync, readFileSync } from 'node:fs';
import vm from 'node:vm';
import { judgePackage } from '../../../crates/package/page/core/index.js';
import { bag, chain, dataOf, first, reader, root, zipOf } from './made.mjs';

const folder = new URL('crates/package/page/core/', root);
const modules = Object.fromEntries(readdirSync(folder).map((name) => [name, readFileSync(new URL(name, folder), 'utf8')]));
const importsOf = (text) => [...text.matchAll(/^import \{ [^}]+ \} from '\.\/([a-z0-9]+\.js)';$/gm)].map(([, name]) => name);

function ordered() {
  const order = [];
  const visit = (name, above) => {
    assert.ok(!above.includes(name), `${name} imports itself by ${above.join(', ')}`);
    for (const other of importsOf(modules[name])) visit(other, [...above, name]);
    if (!order.includes(name)) order.push(name);
  };
  visit('index.js', []);
  return order;
}

test('modules have only the forms that can be put together by lines', () => {
  const owners = new Map();
  assert.deepEqual(ordered().sort(), Object.keys(modules).sort());
  for (const [name, text] of Object.entries(modules)) {
    assert.ok(text.split('\n').length <= 401, `${name} is too long`);
    for (const line of text.split('\n')) {
      if (line.startsWith('import')) assert.match(line, /^import \{ [^}]+ \} from '\.\/[a-z0-9]+\.js';$/, name);
      if (line.startsWith('export')) assert.match(line, /^export (async function|function|const|class|\{)/, name);
      assert.doesNotMatch(line, /\beval\b|new Function|\bfetch\(|XMLHttpRequest|WebSocket|importScripts|\bimport\(|node:/, name);
      const found = /^(?:export )?(?:async )?(?:function|const|let|class) ([A-Za-z_$][\w$]*)/.exec(line);
      if (!found) continue;
      assert.equal(owners.get(found[1]), undefined, `${found[1]} stands in ${name} and in ${owners.get(found[1])}`);
      owners.set(found[1], name);
    }
  }
});

test('the modules put together judge as they do apart', async () => {
  const lines = ordered().flatMap((name) => modules[name].split('\n'));
  const script = lines.filter((line) => !line.startsWith('import ') && !line.startsWith('export {')).map((line) => line.replace(/^export /, '')).join('\n');
  // Nothing but what every browser has; no network, no modules.
  const { TextDecoder, TextEncoder, Blob, DOMException } = globalThis;
  const context = vm.createContext({ TextDecoder, TextEncoder, Blob, DOMException, crypto, Uint8Array, Uint16Array, Uint32Array, DataView });
  const judge = vm.runInContext(`(() => { 'use strict';\n${script}\nreturn judgePackage; })()`, context);
  const source = zipOf(bag(dataOf(chain([{}, {}]))));
  const ask = reader({ fingerprints: [first.fingerprint] });
  const plain = (verdict) => JSON.parse(JSON.stringify(verdict));
  assert.deepEqual(plain(await judge(source, ask)), plain(await judgePackage(source, ask)));
  assert.equal((await judge(source, ask)).exit, 0);
});

test('every rule that refuses a package is named at the head of index.js', () => {
  const named = modules['index.js'].split('import {')[0];
  for (const name of ['bag.js', 'paths.js', 'source.js', 'zip.js', 'inflate.js']) {
    for (const [, rule] of modules[name].matchAll(/refuse\('([a-z0-9_]+)'/g)) assert.match(named, new RegExp(`\\b${rule}\\b`), rule);
  }
});
