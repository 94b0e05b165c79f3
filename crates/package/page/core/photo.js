// What the header of a photo says: pixels and orientation. Nothing is decoded.
// Sources: ITU-T T.81 (JPEG), the PNG specification, TIFF 6.0, Exif 2.3 (tag 0x0112), all from memory.

const PNG_HEAD = [0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a];
const HEADER_BYTES = 1024 * 1024;
const WIDTH_TAG = 256;
const HEIGHT_TAG = 257;
const ORIENTATION_TAG = 274;

// { width, height, orientation } with null for what the file does not say; null where it is no photo that is read.
export function photoFacts(file) {
  const bytes = file.subarray(0, HEADER_BYTES);
  if (bytes.length < 12) return null;
  if (bytes[0] === 0xff && bytes[1] === 0xd8) return jpegFacts(bytes);
  if (PNG_HEAD.every((byte, at) => bytes[at] === byte)) return pngFacts(bytes);
  const tags = tiffTags(bytes);
  return tags && facts(tags[WIDTH_TAG], tags[HEIGHT_TAG], tags[ORIENTATION_TAG]);
}

function facts(width, height, orientation) {
  if (!(width > 0 && height > 0)) return null;
  return { width, height, orientation: orientation >= 1 && orientation <= 8 ? orientation : null };
}

function jpegFacts(bytes) {
  let orientation = null;
  let seen = false;
  let at = 2;
  while (at + 4 <= bytes.length) {
    if (bytes[at] !== 0xff) return null;
    const marker = bytes[at + 1];
    if (marker === 0xff) {
      at += 1;
      continue;
    }
    if (marker === 0x01 || (marker >= 0xd0 && marker <= 0xd7)) {
      at += 2;
      continue;
    }
    const length = (bytes[at + 2] << 8) | bytes[at + 3];
    const end = at + 2 + length;
    if (length < 2 || end > bytes.length) return null;
    const isFrame = marker >= 0xc0 && marker <= 0xcf && marker !== 0xc4 && marker !== 0xc8 && marker !== 0xcc;
    if (isFrame) {
      if (length < 8) return null;
      return facts((bytes[at + 7] << 8) | bytes[at + 8], (bytes[at + 5] << 8) | bytes[at + 6], orientation);
    }
    const isExif = marker === 0xe1 && length >= 8 && [0x45, 0x78, 0x69, 0x66, 0, 0].every((byte, number) => bytes[at + 4 + number] === byte);
    if (isExif && !seen) orientation = tiffTags(bytes.subarray(at + 10, end))?.[ORIENTATION_TAG] ?? null;
    seen ||= isExif;
    if (marker === 0xda || marker === 0xd9) return null;
    at = end;
  }
  return null;
}

function pngFacts(bytes) {
  const isHeader = bytes.length >= 24 && String.fromCharCode(...bytes.subarray(12, 16)) === 'IHDR';
  if (!isHeader) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  return facts(view.getUint32(16), view.getUint32(20), null);
}

// The value of each tag of the first directory, null where it is not one SHORT (3) or LONG (4); of a tag that stands there twice
// the first counts. Null where this is no TIFF.
function tiffTags(bytes) {
  if (bytes.length < 8) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const little = bytes[0] === 0x49 && bytes[1] === 0x49;
  if (!little && !(bytes[0] === 0x4d && bytes[1] === 0x4d)) return null;
  if (view.getUint16(2, little) !== 42) return null;
  const at = view.getUint32(4, little);
  if (at + 2 > bytes.length) return null;
  const tags = {};
  const count = view.getUint16(at, little);
  for (let number = 0; number < count; number += 1) {
    const entry = at + 2 + 12 * number;
    const room = bytes.length - entry;
    if (room < 8) break;
    const tag = view.getUint16(entry, little);
    if (Object.hasOwn(tags, tag)) continue;
    const [type, values] = [view.getUint16(entry + 2, little), view.getUint32(entry + 4, little)];
    tags[tag] = null;
    if (values === 1 && type === 3 && room >= 10) tags[tag] = view.getUint16(entry + 8, little);
    if (values === 1 && type === 4 && room >= 12) tags[tag] = view.getUint32(entry + 8, little);
  }
  return tags;
}

// How a file that is not the one named differs from the facts the record gives, or null where nothing can be said.
export function howOther(found, named) {
  if (found === null || named === null) return null;
  if (found.width !== named.width_px || found.height !== named.height_px) return 'other_size';
  // A file without the tag is shown as one with the value 1.
  return (found.orientation ?? 1) === (named.orientation ?? 1) ? 'same_size' : 'other_orientation';
}
