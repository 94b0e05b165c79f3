// Packages and files for the page's tests, made from samples/ in a folder of their own.
import { createHash } from 'node:crypto';
import { mkdirSync, readFileSync, readdirSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { crc32 } from 'node:zlib';

const root = new URL('../../../', import.meta.url);
const read = path => readFileSync(new URL(path, root));
const sha = bytes => createHash('sha256').update(bytes).digest('hex');

/** Files of a package of one demo blade, tag files not yet made. */
export function payload(blade) {
  const files = new Map();
  for (const name of readdirSync(new URL('samples/records/', root)).filter(one => one.startsWith(`${blade}-`)).sort()) {
    const bytes = read(`samples/records/${name}`);
    const { sequence, purpose } = JSON.parse(bytes);
    files.set(`data/records/${String(sequence).padStart(2, '0')}-${purpose}.json`, bytes);
  }
  for (const name of readdirSync(new URL('samples/photos/', root)).filter(one => one.startsWith(`${blade}-`))) {
    const bytes = read(`samples/photos/${name}`);
    files.set(`data/photos/${sha(bytes)}.jpg`, bytes);
  }
  files.set('data/schema/tangmark-record-1.schema.json', read('schemas/tangmark-record-1.schema.json'));
  return files;
}

/** Adds the tag files of BagIt 1.0 (RFC 8493). */
export function bagged(files) {
  const all = new Map(files);
  const paths = [...files.keys()].sort();
  const octets = [...files.values()].reduce((sum, bytes) => sum + bytes.length, 0);
  all.set('bagit.txt', Buffer.from('BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n'));
  all.set('bag-info.txt', Buffer.from(`Payload-Oxum: ${octets}.${files.size}\n`));
  all.set('manifest-sha256.txt', Buffer.from(paths.map(path => `${sha(files.get(path))}  ${path}\n`).join('')));
  all.set('tagmanifest-sha256.txt', Buffer.from(['bag-info.txt', 'bagit.txt', 'manifest-sha256.txt'].map(path => `${sha(all.get(path))}  ${path}\n`).join('')));
  return all;
}

/** Writes files below a folder. */
export function write(folder, files) {
  for (const [path, bytes] of files) {
    mkdirSync(dirname(join(folder, path)), { recursive: true });
    writeFileSync(join(folder, path), bytes);
  }
  return folder;
}

/** A zip file of stored entries below one top folder (APPNOTE 6.3, from memory). */
export function zipped(top, files) {
  const parts = [];
  const directory = [];
  let at = 0;
  for (const path of [...files.keys()].sort()) {
    const name = Buffer.from(`${top}/${path}`);
    const bytes = files.get(path);
    const facts = Buffer.alloc(26);
    facts.writeUInt16LE(20, 0);
    facts.writeUInt16LE(0x0800, 2);
    facts.writeUInt16LE(0x21, 8);
    facts.writeUInt32LE(crc32(bytes), 10);
    facts.writeUInt32LE(bytes.length, 14);
    facts.writeUInt32LE(bytes.length, 18);
    facts.writeUInt16LE(name.length, 22);
    parts.push(Buffer.from('PK\u0003\u0004'), facts, name, bytes);
    const rest = Buffer.alloc(14);
    rest.writeUInt32LE(at, 10);
    directory.push(Buffer.from('PK\u0001\u0002\u0014\u0000'), facts, rest, name);
    at += 30 + name.length + bytes.length;
  }
  const listed = Buffer.concat(directory);
  const end = Buffer.alloc(18);
  end.writeUInt16LE(files.size, 4);
  end.writeUInt16LE(files.size, 6);
  end.writeUInt32LE(listed.length, 8);
  end.writeUInt32LE(at, 12);
  return Buffer.concat([...parts, listed, Buffer.from('PK\u0005\u0006'), end]);
}

/** A copy with one text replaced in one file; the text must be there. */
export function changed(files, path, from, to) {
  const text = files.get(path).toString();
  if (!text.includes(from)) throw new Error(`${path} has no ${from}`);
  return new Map(files).set(path, Buffer.from(text.replace(from, () => to)));
}

/** Makes everything that the tests drop; returns the paths by name. */
export function makeSamples(folder) {
  const reed = payload('reed');
  const photos = [...reed.keys()].filter(path => path.startsWith('data/photos/'));
  const bag = bagged(reed);
  const places = { reed: write(join(folder, 'reed-handover'), bag) };
  // A package in a folder with something beside it, and two packages in one folder.
  const below = (name, files) => [...files].map(([path, bytes]) => [`${name}/${path}`, bytes]);
  places.stick = write(join(folder, 'stick'), new Map([...below('reed-handover', bag), ['letter.txt', Buffer.from('to you')]]));
  places.two = write(join(folder, 'two'), new Map([...below('a', bag), ...below('b', bag)]));
  for (const blade of ['gorge', 'lantern', 'heron', 'dune']) places[blade] = write(join(folder, `${blade}-handover`), bagged(payload(blade)));
  const put = (name, bytes) => {
    writeFileSync(join(folder, name), bytes);
    places[name] = join(folder, name);
  };
  put('reed-handover.zip', zipped('reed-handover', bag));
  put('commented.zip', Buffer.concat([zipped('x', bag), Buffer.from('more')]));
  places.altered = write(join(folder, 'altered'), changed(bag, 'data/records/02-after_work.json', '"741.90"', '"748.90"'));
  const bytes = Buffer.from(reed.get(photos[0]));
  bytes[bytes.length >> 1] ^= 1;
  const mixed = new Map(bag).set(photos[0], bytes).set('data/extra.txt', Buffer.from('added')).set('data/proofs/later.bin', Buffer.from('later'));
  mixed.delete(photos[1]);
  mixed.delete('data/records/01-before_work.json');
  places.mixed = write(join(folder, 'mixed'), mixed);
  places.refused = write(join(folder, 'refused'), new Map(bag).set('data/con.txt', Buffer.from('x')));
  put('before.json', reed.get('data/records/01-before_work.json'));
  put('after.json', reed.get('data/records/02-after_work.json'));
  put('altered.json', changed(bag, 'data/records/02-after_work.json', '"741.90"', '"748.90"').get('data/records/02-after_work.json'));
  put('markup.json', changed(bag, 'data/records/02-after_work.json', 'Long sword “Reed”', '<img src=x onerror=document.title=1><b>bold</b>').get('data/records/02-after_work.json'));
  put('turned.json', changed(bag, 'data/records/02-after_work.json', 'Long sword “Reed”', 'Long \u202eswordo \u200b“Reed”').get('data/records/02-after_work.json'));
  put('hostile.json', Buffer.from('{"blade":"x","dimensions":{"blade_length":{"value":[]}},"findings":"abc","issuer":{"id":5,"name":["x"]},"photos":[1,null],"sequence":"x","tang":7}'));
  put('nothing.txt', Buffer.from('no record\n'));
  put('named.jpg', reed.get(photos[0]));
  put('other.jpg', bytes);
  put('report.pdf', read('samples/renderers/1/report.pdf'));
  const pdf = Buffer.from(read('samples/renderers/1/report.pdf'));
  pdf[pdf.length >> 1] ^= 1;
  put('altered.pdf', pdf);
  const many = new Map(reed);
  for (let number = 0; number < 40; number += 1) {
    const filler = Buffer.alloc(3_000_000, number);
    many.set(`data/photos/${sha(filler)}.jpg`, filler);
  }
  places.many = write(join(folder, 'many'), bagged(many));
  return places;
}
