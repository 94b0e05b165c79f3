// The verifier of Tangmark records, reports and hand-over packages, written from the pages in schemas/ alone.
//
// reader = {
//   schema: Uint8Array        bytes of tangmark-record-1.schema.json
//   now: 'YYYY-MM-DDTHH:MM:SSZ'
//   fingerprints: [text]      as typed from cards; may be empty
//   authorities: [PEM text]   time authorities the reader trusts
//   histories: [Uint8Array]   key histories the reader has
//   releasedPages: [hex]      digests of released verifier pages
//   releasedAids: { path: [hex] }  digests of released format pages and tools
// }
// judgePackage(source, reader, watch): source = zip as Uint8Array or Blob, or [{ path, length, read() }];
//   watch = { progress({ path, done, total }), signal }. Gives
//   { exit, refused: { rule, path, reason } or null, bag: { changed, missing, unlisted, not_looked_at, ignored_manifests },
//     records: { file: { state, … } }, chain, disclosures, photos, reports, keys, timestamps, schema, page, subject, withheld }.
// judgeFile(bytes, reader, beside, path): the same for one record or report; beside = [{ path, bytes }].

// `refused.rule` is one of: paths: path_absolute, path_character, path_device, path_empty, path_folder, path_long, path_part, path_text,
// path_twice, path_utf8, paths, link, no_file; lengths: file_length, all_length; bag: bag_fetch, bag_records, bag_tag_file, bag_version,
// manifest; zip: zip_64, zip_comment, zip_crc, zip_descriptor, zip_directory, zip_disks, zip_encrypted, zip_end, zip_extra, zip_folder,
// zip_gap, zip_local, zip_method, zip_name, zip_overlap, zip_size, zip_top, zip_twice, deflate, inflated_length.

import { readJson } from './json.js';
import { fingerprintOf, sha256Hex } from './key.js';
import { openBag } from './bag.js';
import { judgePackage } from './package.js';
import { fileKind, judgeFile } from './file.js';
import { revealed } from './withhold.js';

export { readJson, fingerprintOf, sha256Hex, openBag, judgePackage, fileKind, judgeFile, revealed };
