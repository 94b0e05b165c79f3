// The proof of a record or of an entry in a key history: W3C Data Integrity, ecdsa-jcs-2019, without `@context`
// (record-format.md, "Proof").

import { fromBase58, joined, refuse } from './text.js';
import { isObject } from './json.js';
import { canonicalBytes, without } from './canonical.js';
import { isLowS, isPrintedKey, pointOfDid, sha256, verifyP256 } from './key.js';

const PROOF_FIELDS = ['created', 'cryptosuite', 'proofPurpose', 'proofValue', 'type', 'verificationMethod'];
const PROOF_FIXED = { type: 'DataIntegrityProof', cryptosuite: 'ecdsa-jcs-2019', proofPurpose: 'assertionMethod' };

// Checks that `did` signed the document with this digest (SHA-256 of its canonical bytes without proof) at the time `created`.
// `lowS`: whether the higher s is refused. Says whether it has the lower s. Throws a Refusal.
export async function checkProof(digest, proof, did, created, lowS = false) {
  if (!isObject(proof)) refuse('proof_form', 'the proof is not exactly one object');
  if (Object.keys(proof).sort().join() !== PROOF_FIELDS.join()) refuse('proof_fields', 'the proof has other fields than the six');
  for (const name of PROOF_FIELDS) if (typeof proof[name] !== 'string') refuse('proof_form', `\`${name}\` of the proof is no text`);
  for (const [name, value] of Object.entries(PROOF_FIXED)) {
    if (proof[name] !== value) refuse('proof_form', `\`${name}\` of the proof is not \`${value}\``);
  }
  const point = pointOfDid(did);
  if (point === null) refuse('proof_key', 'the key is no did:key of a point on P-256');
  if (isPrintedKey(did)) refuse('proof_key', 'the private half of this key is printed in a specification: anybody can sign with it');
  if (proof.verificationMethod !== `${did}#${did.slice('did:key:'.length)}`) refuse('proof_key', 'the proof names another key');
  if (proof.created !== created) refuse('proof_created', 'the time in the proof is another than the time stated');
  const signature = proof.proofValue.startsWith('z') ? fromBase58(proof.proofValue.slice(1)) : null;
  if (signature === null || signature.length !== 64) refuse('proof_value', 'the signature is not 64 bytes in base58btc');
  if (lowS && !isLowS(signature)) refuse('proof_value', 'the signature has the higher s');
  const signed = joined(await sha256(canonicalBytes(without(proof, 'proofValue'))), digest);
  // The 64 bytes that are signed: the digest of the options first, then that of the document.
  if (!(await verifyP256(point, signature, signed))) refuse('proof_signature', 'the signature does not fit what stands here');
  return isLowS(signature);
}
