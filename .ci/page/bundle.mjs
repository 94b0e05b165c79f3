// node .ci/page/bundle.mjs [--released]: writes the verifier page to the standard output, the same bytes as
// crates/package/src/page.rs; with --released the line for RELEASED there.
import { createHash } from 'node:crypto';
import { readFileSync } from 'node:fs';

const root = new URL('../../', import.meta.url);
const read = path => readFileSync(new URL(path, root), 'utf8');

/** Digests of the format pages and tools that were released, by their path; the list stands in the Rust code alone. */
export function releasedAids() {
  const rust = read('crates/package/src/aids.rs');
  const list = /^pub const AIDS:[^;]*= aids!\[(.*?)^\];/ms.exec(rust)[1];
  const found = [...list.matchAll(/"(\w+)":([^;]*);/g)].flatMap(([, folder, names]) => [...names.matchAll(/"([^"]+)"/g)].map(([, name]) => [`data/${folder}/${name}`, [createHash('sha256').update(read(`schemas/${name}`)).digest('hex')]]));
  const aids = Object.fromEntries(found);
  for (const [, path, digest] of /^pub const EARLIER:[^;]*;/ms.exec(rust)[0].matchAll(/\("([^"]+)",\s*"([0-9a-f]{64})"/g)) aids[path].push(digest);
  return Object.fromEntries(Object.entries(aids).sort(([one], [other]) => (one < other ? -1 : 1)));
}

/** The order of the modules and the released pages stand in the Rust code alone. */
export function bundle() {
  const order = [...read('crates/package/src/page/bundle.rs').matchAll(/^ {4}"([a-z_]+\/[a-z0-9_]+\.js)",$/gm)].map(found => found[1]);
  const rust = read('crates/package/src/page.rs');
  const version = Number(/^pub const VERSION: u32 = (\d+);$/m.exec(rust)[1]);
  const table = /^pub const RELEASED:[^;]*;/ms.exec(rust)[0];
  const released = [...table.matchAll(/(\d+),\s*"([0-9a-f]{64})"/g)].filter(found => Number(found[1]) < version).map(found => found[2]);
  const script = order.flatMap(path => read(`crates/package/page/${path}`).replace(/\n$/, '').split('\n'))
    .filter(line => !line.startsWith('import ') && !line.startsWith('export {')).map(line => `${line.replace(/^export /, '')}\n`).join('');
  const zeros = '0'.repeat(64);
  const parts = {
    style: read('crates/package/page/style.css'), script, schema: read('schemas/tangmark-record-1.schema.json'),
    version: String(version), released: JSON.stringify(released), aids: JSON.stringify(releasedAids()), digest: zeros,
  };
  const zeroed = read('crates/package/page/page.html').split('@@').map((part, index) => index % 2 ? parts[part] ?? '' : part).join('');
  const digest = createHash('sha256').update(zeroed).digest('hex');
  return { version, digest, page: zeroed.replace(`<code id="page-digest">${zeros}`, () => `<code id="page-digest">${digest}`) };
}

if (process.argv[1] && import.meta.url === new URL(`file://${process.argv[1]}`).href) {
  const made = bundle();
  if (process.argv[2] === '--released') console.log(`(${made.version}, "${made.digest}")`);
  else process.stdout.write(made.page);
}
