// Whether a verifier page is one that was released (package-format.md, "The verifier page").

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
