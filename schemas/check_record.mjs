#!/usr/bin/env node
// Check a sealed record by hand: Node.js 20 or later and nothing else.
//
// Usage:  node check_record.mjs RECORD.json [--disclosures FILE.json] [--previous EARLIER.json]
//
// It is written to be read. What each step means is told in record-format.md, in the section of the same name.
// Exit code 0 means that every step held. It says nothing about who owns the key: compare the fingerprint.
import { createHash, createPublicKey, verify } from 'node:crypto';
import { existsSync, readFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { fileURLToPath } from 'node:url';

class Refused extends Error {}

function demand(holds, why) {
  if (!holds) throw new Refused(why);
}

/// What files say is shown with control and invisible signs by number, so that no terminal obeys them.
function plain(text) {
  const byNumber = (sign) => `U+${sign.codePointAt(0).toString(16).toUpperCase().padStart(4, '0')}`;
  return text.replace(/[\p{Cc}\p{Cf}\p{Cs}\p{Zl}\p{Zp}]/gu, byNumber);
}

const say = (text) => console.log(plain(text));
const sha256 = (data) => createHash('sha256').update(data).digest();
const own = (object, key) => Object.prototype.hasOwnProperty.call(object, key);

// Strict JSON ---------------------------------------------------------------

const DEEPEST = 32;
const LONGEST = 16 * 1024 * 1024;
const MOST_VALUES = 200_000;

/// One JSON value: no key twice, whole numbers only, all text in form C. Node's own reader takes the last of two equal
/// keys without a word, so the text is read here, sign by sign.
function read(data) {
  demand(data.length <= LONGEST, `the file has ${data.length} bytes, at most ${LONGEST} are allowed`);
  // The decoder leaves a byte order mark where it is, and refuses what is not UTF-8.
  const text = new TextDecoder('utf-8', { fatal: true, ignoreBOM: true }).decode(data);
  let at = 0;
  let values = 0;

  const here = () => `at sign ${at + 1}`;
  function space() {
    while (text[at] === ' ' || text[at] === '\n' || text[at] === '\r' || text[at] === '\t') at += 1;
  }
  function take(word) {
    demand(text.startsWith(word, at), `\`${word}\` is missing ${here()}`);
    at += word.length;
  }
  function string() {
    const start = at;
    take('"');
    while (text[at] !== '"') {
      demand(at < text.length, 'a text has no end');
      at += text[at] === '\\' ? 2 : 1;
    }
    at += 1;
    // The text alone cannot hide a key: here Node's reader also refuses wrong escapes and control signs.
    const found = JSON.parse(text.slice(start, at));
    demand(found.isWellFormed ? found.isWellFormed() : !/\p{Surrogate}/u.test(found), `a lone surrogate before sign ${at}`);
    demand(!/[\0\p{Noncharacter_Code_Point}]/u.test(found), `U+0000 or a noncharacter before sign ${at}`);
    demand(found === found.normalize('NFC'), `a text outside Unicode form C before sign ${at}`);
    return found;
  }
  function number() {
    const digits = /-?[0-9.eE+-]*/y;
    digits.lastIndex = at;
    const [found] = digits.exec(text);
    demand(/^(0|-?[1-9][0-9]*)$/.test(found), `\`${found}\` is no whole number ${here()}`);
    demand(Number.isSafeInteger(Number(found)), `the number ${found} is beyond 2^53 - 1`);
    at += found.length;
    return Number(found);
  }
  function value(depth) {
    values += 1;
    demand(values <= MOST_VALUES, `more than ${MOST_VALUES} values`);
    space();
    demand(depth < DEEPEST || (text[at] !== '{' && text[at] !== '['), `more than ${DEEPEST} levels`);
    let found;
    if (text[at] === '{') {
      found = {};
      at += 1;
      space();
      for (let first = true; text[at] !== '}'; first = false) {
        if (!first) take(',');
        space();
        const key = string();
        demand(!own(found, key), `the key \`${key}\` stands twice`);
        space();
        take(':');
        // Not by `found[key] =`: the key `__proto__` would be lost.
        Object.defineProperty(found, key, { value: value(depth + 1), enumerable: true });
      }
      at += 1;
    } else if (text[at] === '[') {
      found = [];
      at += 1;
      space();
      while (text[at] !== ']') {
        if (found.length) take(',');
        found.push(value(depth + 1));
      }
      at += 1;
    } else if (text[at] === '"') {
      found = string();
    } else if (text[at] === 't' || text[at] === 'f' || text[at] === 'n') {
      const word = { t: 'true', f: 'false', n: 'null' }[text[at]];
      take(word);
      found = JSON.parse(word);
    } else {
      found = number();
    }
    space();
    return found;
  }

  const found = value(0);
  demand(at === text.length, `something follows the value ${here()}`);
  return found;
}

/// RFC 8785 for values without fractions: keys sorted by UTF-16, no spaces. JSON.stringify writes texts and whole numbers
/// as that standard asks.
function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(',')}]`;
  if (value && typeof value === 'object') {
    const members = Object.keys(value)
      .sort()
      .map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`);
    return `{${members.join(',')}}`;
  }
  return JSON.stringify(value);
}

/// The object without some of its members.
function without(object, ...names) {
  return Object.fromEntries(Object.entries(object).filter(([name]) => !names.includes(name)));
}

const nameOf = (record) => sha256(canonical(without(record, 'proof'))).toString('hex');

// The key -------------------------------------------------------------------

const BASE58 = '123456789ABCDEFGHJKLMNPQRSTUVWXYZabcdefghijkmnopqrstuvwxyz';
const BASE32 = 'ABCDEFGHIJKLMNOPQRSTUVWXYZ234567';
const ORDER = 0xffffffff00000000ffffffffffffffffbce6faada7179e84f3b9cac2fc632551n; // of P-256; source: SEC 2
// SubjectPublicKeyInfo of a compressed P-256 point, up to the point; source: RFC 5480
const SPKI = Buffer.from('3039301306072a8648ce3d020106082a8648ce3d030107032200', 'hex');

function base58(text) {
  let number = 0n;
  for (const letter of text) {
    demand(BASE58.includes(letter), `\`${letter}\` is no letter of base58btc`);
    number = number * 58n + BigInt(BASE58.indexOf(letter));
  }
  const zeros = text.length - text.replace(/^1+/, '').length;
  const digits = number === 0n ? '' : number.toString(16);
  const body = Buffer.from(digits.length % 2 ? `0${digits}` : digits, 'hex');
  return Buffer.concat([Buffer.alloc(zeros), body]);
}

/// The 33 bytes of the compressed point in did:key:z… (multicodec p256-pub, 80 24).
function pointOf(did) {
  demand(typeof did === 'string' && did.startsWith('did:key:z'), `${did} is no did:key`);
  const raw = base58(did.slice('did:key:z'.length));
  demand(raw.length === 35 && raw[0] === 0x80 && raw[1] === 0x24, `${did} is no P-256 key`);
  return raw.subarray(2);
}

function fingerprint(point) {
  const bits = [...sha256(point).subarray(0, 13)].map((byte) => byte.toString(2).padStart(8, '0')).join('');
  let text = '';
  for (let at = 0; at < 20; at += 1) text += BASE32[parseInt(bits.slice(5 * at, 5 * at + 5), 2)];
  return text.match(/.{5}/g).join('-');
}

// Keys whose private halves are printed in specifications: everybody can sign with them.
const PRINTED = [
  'zDnaepBuvsQ8cpsWrVKw8fbpGpvPeNSjVPTWoq6cRqaYzBKVP',
  'zDnaerDaTF5BXEavCrfRZEk316dpbLsfPDZ3WJ5hRTPFU2169',
  'zDnaerx9CtbPJ1q36T5Ln5wYt3MQYeGRG5ehnPAmxcf5mDZpv',
];

// The proof -----------------------------------------------------------------

const MEMBERS = ['created', 'cryptosuite', 'proofPurpose', 'proofValue', 'type', 'verificationMethod'];

function checkProof(record) {
  const { proof } = record;
  demand(proof && typeof proof === 'object' && !Array.isArray(proof), '`proof` is not exactly one object');
  const names = Object.keys(proof).sort();
  demand(names.join() === MEMBERS.join(), `the proof has the fields ${names}`);
  demand(proof.type === 'DataIntegrityProof', 'another type of proof');
  demand(proof.cryptosuite === 'ecdsa-jcs-2019', 'another cryptosuite');
  demand(proof.proofPurpose === 'assertionMethod', 'another purpose of proof');
  demand(proof.created === record.issued_at, '`created` differs from `issued_at`');
  const did = record.issuer.id;
  const point = pointOf(did);
  demand(proof.verificationMethod === `${did}#${did.slice('did:key:'.length)}`, 'the proof names another key than the issuer');
  demand(!PRINTED.includes(did.slice('did:key:'.length)), "the private half of the issuer's key is printed in a specification");

  const options = sha256(canonical(without(proof, 'proofValue')));
  const document = sha256(canonical(without(record, 'proof')));
  const signed = Buffer.concat([options, document]);
  demand(typeof proof.proofValue === 'string' && proof.proofValue.startsWith('z'), 'the signature is not multibase base58btc');
  const signature = base58(proof.proofValue.slice(1));
  demand(signature.length === 64, `the signature has ${signature.length} bytes instead of 64`);
  const [r, s] = [signature.subarray(0, 32), signature.subarray(32)].map((half) => BigInt(`0x${half.toString('hex')}`));
  demand(r > 0n && r < ORDER && s > 0n && s < ORDER, 'r or s is out of range');
  demand(s <= ORDER / 2n, 'the same content, not the sealed bytes: signers write the lower s');
  const key = createPublicKey({ key: Buffer.concat([SPKI, point]), format: 'der', type: 'spki' });
  // r and s as they are, one after the other.
  const holds = verify('sha256', signed, { key, dsaEncoding: 'ieee-p1363' }, signature);
  demand(holds, 'the signature does not match: the record was altered');
}

// What plugins were asked, and what was withheld ----------------------------

const BESIDE_THE_SHEET = [
  'schema', 'record_id', 'sequence', 'previous', 'issuer', 'purpose', 'issued_at', 'runs', 'findings',
  'private_findings', 'decision', 'overrides', 'worked_under_hold', 'valuation', '_sd', '_sd_alg', 'proof',
];

/// The digest of what the plugins saw; of a third or later record it needs the names of all before it.
function checkInput(record) {
  if (record.sequence > 2) {
    say('input:        not recomputed: it needs the names of all earlier records');
    return;
  }
  const history = record.previous === null ? [] : [record.previous];
  const asked = { history, now: record.issued_at, sheet: without(record, ...BESIDE_THE_SHEET) };
  const digest = sha256(canonical(asked)).toString('hex');
  const runs = record.runs ?? [];
  for (const run of runs) demand(run.input === digest, `the plugin ${run.plugin} was asked about something else`);
  say(`input:        ${digest}, the same for ${runs.length} runs`);
}

/// The parts of a JSON Pointer (RFC 6901).
function partsOf(pointer) {
  demand(typeof pointer === 'string' && pointer.startsWith('/'), `\`${pointer}\` is no path in a record`);
  return pointer.split('/').slice(1).map((part) => part.replaceAll('~1', '/').replaceAll('~0', '~'));
}

function valueAt(value, parts) {
  for (const part of parts) {
    demand(!Array.isArray(value) || /^(0|[1-9][0-9]*)$/.test(part), `\`${part}\` is no place in a list`);
    demand(value && typeof value === 'object' && own(value, part), `there is nothing at \`${part}\``);
    value = value[part];
  }
  return value;
}

/// Without padding and without letters that do not belong to it, which Node would pass over.
function base64url(text) {
  const raw = Buffer.from(text, 'base64url');
  demand(raw.toString('base64url') === text, 'a text that is no base64url');
  return raw;
}

const fieldsOf = (object) => (object && typeof object === 'object' ? Object.keys(object).sort().join() : typeof object);

function checkDisclosures(record, path) {
  const listed = read(readFileSync(path));
  demand(fieldsOf(listed) === 'disclosures,format', 'no file of disclosures');
  demand(listed.format === 'tangmark disclosures 1', 'no file of disclosures');
  const seen = new Set();
  const salts = new Set();
  for (const entry of listed.disclosures) {
    demand(fieldsOf(entry) === 'disclosure,path', `a disclosure has the fields ${fieldsOf(entry)}`);
    const { path: place, disclosure } = entry;
    const digest = sha256(Buffer.from(disclosure, 'ascii')).toString('base64url');
    const array = read(base64url(disclosure));
    demand(Array.isArray(array) && array.length === 3, `the disclosure of ${place} is no salt, name and value`);
    const [salt, name, value] = array;
    const parts = partsOf(place);
    demand(name === parts.pop(), `the disclosure of ${place} is one of \`${name}\``);
    demand(base64url(salt).length === 16, `the salt of ${place} has not 16 bytes`);
    const holder = valueAt(record, parts);
    demand(!seen.has(digest), `a disclosure of \`${name}\` stands twice`);
    demand(!salts.has(salt), `the salt of ${place} is that of another disclosure`);
    demand((holder._sd ?? []).includes(digest), `the disclosure of ${place} belongs to another record`);
    demand(!own(holder, name) && !['_sd', '_sd_alg', '...'].includes(name), `\`${name}\` may not be disclosed here`);
    seen.add(digest);
    salts.add(salt);
    say(`disclosed:    ${place}: ${JSON.stringify(value)}`);
  }
}

// The chain -----------------------------------------------------------------

function checkPrevious(record, path) {
  const earlier = read(readFileSync(path));
  demand(nameOf(earlier) === record.previous, 'the earlier file is not the predecessor');
  demand(earlier.sequence + 1 === record.sequence, `record ${record.sequence} after record ${earlier.sequence}`);
  demand(earlier.blade.id === record.blade.id, 'the earlier record is about another blade');
  demand(earlier.issued_at <= record.issued_at, 'the earlier record has a later time');
  say('previous:     the file named is the predecessor');
}

const OPTIONS = { '--disclosures': checkDisclosures, '--previous': checkPrevious };
const USAGE = 'Usage:  node check_record.mjs RECORD.json [--disclosures FILE.json] [--previous EARLIER.json]';

/// The record's file, and each option with its file. Nothing is passed over: what is not understood was not checked.
function orders([file, ...rest]) {
  demand(file && !file.startsWith('--'), `no record named; ${USAGE}`);
  const asked = [];
  for (let at = 0; at < rest.length; at += 2) {
    const [option, path] = rest.slice(at, at + 2);
    demand(own(OPTIONS, option), `\`${option}\` is no option; ${Object.keys(OPTIONS).join(' and ')} are, each with a file`);
    demand(!asked.some(([known]) => known === option), `${option} stands twice`);
    demand(path && !path.startsWith('--'), `${option} needs a file`);
    asked.push([option, path]);
  }
  return { file, asked };
}

function main(words) {
  const { file, asked } = orders(words);
  const data = readFileSync(file);
  const record = read(data);
  demand(record && typeof record === 'object' && !Array.isArray(record), 'the value is no object');
  demand(data.equals(Buffer.from(canonical(record))), 'the file is not the sealed bytes (RFC 8785)');
  say('bytes:        RFC 8785, no key twice, text in form C');
  say(`name:         ${nameOf(record)}`);
  checkProof(record);
  say("signature:    matches the issuer's key");
  say(`fingerprint:  ${fingerprint(pointOf(record.issuer.id))}  (compare with the workshop's card)`);
  // Beside this file, or where a hand-over package has it.
  const folder = dirname(fileURLToPath(import.meta.url));
  const name = 'tangmark-record-1.schema.json';
  const schema = [join(folder, name), join(folder, '../schema', name)].find(existsSync);
  if (schema) {
    const same = sha256(readFileSync(schema)).toString('hex') === record.schema.digest;
    demand(same, 'the signature holds, but the record names ANOTHER schema file than the one here: what it says cannot be read by it');
    say(`schema:       ${record.schema.id} ${record.schema.version}, the file here`);
  }
  checkInput(record);
  for (const [option, path] of asked) OPTIONS[option](record, path);
}

try {
  main(process.argv.slice(2));
} catch (why) {
  const words = why instanceof Refused ? why.message : `not a sealed record: ${why.name}: ${why.message}`;
  console.error(plain(`refused:      ${words}`));
  process.exitCode = 1;
}
