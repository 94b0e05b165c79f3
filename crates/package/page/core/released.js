// Whether a verifier page, a format page or a tool is one that was released (package-format.md, "The verifier page").

import { latinOf, sameBytes } from './text.js';
import { sha256Hex } from './key.js';

// `released`: digests of released pages, each over the file with the digits of the digest in it as zeros.
export async function pageState(bytes, released) {
  const text = latinOf(bytes);
  for (const digest of released) {
    if (!text.includes(digest)) continue;
    const blank = text.replaceAll(digest, '0'.repeat(64));
    const raw = Uint8Array.from(blank, (letter) => letter.charCodeAt(0));
    if ((await sha256Hex(raw)) === digest && !sameBytes(raw, bytes)) return 'released';
  }
  return 'other';
}

// Format pages and tools. `released`: digests of those that were released, by their path.
export function aidStates(bag, released) {
  const found = [...bag.values()].filter(({ kind }) => kind === 'format' || kind === 'tool');
  return Object.fromEntries(found.map(({ path, digest }) => [path, { state: Object.hasOwn(released, path) && released[path].includes(digest) ? 'released' : 'other' }]));
}
