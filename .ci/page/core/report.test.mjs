import assert from 'node:assert/strict';
import test from 'node:test';
import { deflateSync } from 'node:zlib';
import { judgeReport } from '../../../crates/package/page/core/report.js';
import { judgeFile, judgePackage } from '../../../crates/package/page/core/index.js';
import {
  bag, chain, dataOf, disclosure, disclosuresFile, entryDigest, examinerName, fileList, first, hex, historyFile, joined, later, nameOf, paper, reader, record, revocation, sample, sealed, second, sha, statement, utf8,
  withExaminer,
} from './made.mjs';
import { certificate, int, octet, oid, report, seq, set, tlv } from './pdf.mjs';

const made = record({ change: withExaminer });
const inner = sealed(made);
const basic = { by: first, at: made.issued_at };
const make = (how = {}, bytes = inner) => report(bytes, { ...basic, ...how });
const judge = async (bytes) => {
  const { state, rule } = await judgeReport(bytes, reader());
  return [state, rule ?? null];
};
const swap = (number, from, to) => (list) => {
  const value = list[number];
  const text = typeof value === 'string' ? value : value.dict;
  assert.ok(text.includes(from) || from === '', `${from} is in object ${number}`);
  const changed = from === '' ? `${text} ${to}` : text.replace(from, to);
  if (typeof value === 'string') list[number] = changed;
  else value.dict = changed;
};

test('a sound report', async () => {
  assert.deepEqual(await judge(make()), ['unaltered', null]);
  const own = sample('samples/renderers/1/report.pdf');
  const verdict = await judgeFile(own, reader(), [], 'report.pdf');
  assert.deepEqual([verdict.reports['report.pdf'].state, verdict.subject.bytes.state, verdict.exit], ['unaltered', 'intact', 2]);
  const fingerprint = verdict.subject.signer.fingerprint;
  assert.equal((await judgeFile(own, reader({ fingerprints: [fingerprint] }), [], 'report.pdf')).exit, 0);
});

const certified = (how) => make({ cms: (parts) => (parts.certificate = certificate(first, how)) });
const time = (text, tag = 0x17) => tlv(tag, utf8(text));
const extension = (id, ...parts) => seq(oid(id), ...parts);
const usageAgain = extension('2.5.29.15', octet(tlv(0x03, [7, 0x80])));
// Certificates that have not the fields of the page, and some that have.
const UNREAD = [
  { dates: [] }, { dates: [time('260101000000Z')] }, { dates: [time('260101000000Z'), time('490101000000Z'), time('490101000000Z')] }, { pair: [] }, { pair: [oid('2.5.4.3')] },
  { pair: [oid('2.5.4.3'), tlv(0x0c, utf8('Workshop')), int(1)] }, { pair: [oid('2.5.4.3'), tlv(0x0c, [0xff])] }, { pair: [oid('2.5.4.3'), tlv(0x13, utf8('Workshop'))] }, { pair: [oid('2.5.4.10'), tlv(0x0c, utf8('Workshop'))] },
  { serial: int(2n ** 168n - 1n) }, { serial: [] }, { serial: utf8('\u0002\u0000') }, { more: [int(1)] }, { more: [tlv(0x81, [0, 1])] }, { more: [tlv(0x82, [0, 1])] }, { more: [tlv(0xa4, int(1))] }, { others: [usageAgain] },
  { others: [extension('2.5.29.19', tlv(0x01, [0]), octet(seq()))] }, { usage: [0, 0x80, 0, 0] }, { others: [extension('2.5.29.19')] }, { others: [extension('2.5.29.19', int(1), octet(seq()), int(1))] }, { usage: [8, 0x80] }, { usage: [] },
];

test('a certificate is judged by its fields, not by its dates', async () => {
  const sid = (serial) => seq(seq(set(seq(oid('2.5.4.3'), tlv(0x0c, utf8('Workshop'))))), serial);
  const longest = int(2n ** 160n - 1n);
  const taken = [
    { dates: [time('260231000000Z'), time('490101000000Z')] }, { dates: [time('19690101000000Z', 0x18), time('19690102000000Z', 0x18)] }, { dates: [time('never'), int(1)] }, { dates: [seq(), seq()] },
    { serial: longest, sid: sid(longest) }, { others: [extension('1.2.3.4', tlv(0x01, [255]), octet(utf8('no DER')))] },
    { others: [extension('2.5.29.19', octet(seq())), extension('2.5.29.19', octet(seq()))] },
  ];
  for (const [at, how] of taken.entries()) {
    const bytes = make({ cms: (parts) => Object.assign(parts, { certificate: certificate(first, how), sid: how.sid ?? null }) });
    assert.deepEqual([at, ...(await judge(bytes))], [at, 'unaltered', null]);
  }
});

test('grounds for altered, each alone', async () => {
  const attribute = (id, value) => seq(oid(id), set(value));
  const table = {
    A2: [make({ range: ([a, b, c]) => [a - 1, b, c] }), make({ range: ([a, b, c]) => [a, b + 1, c - 1] })],
    A3: [joined(make(), utf8('x')), joined(make(), utf8('\n')), make({ range: ([a, b, c]) => [a, b, c - 1] }), joined(make(), make())],
    A5: [make({ digits: (text) => text.toUpperCase() })],
    A6: [make({ digits: (text) => `${text.slice(0, -1)}1` })],
    A7: [
      make({ cms: (parts) => (parts.version = 3) }),
      make({ cms: (parts) => (parts.extraAttribute = attribute('1.2.840.113549.1.9.5', octet([1]))) }),
      make({ cms: (parts) => (parts.content = seq(oid('1.2.840.113549.1.7.1'), joined([0xa0, 3], octet([1])))) }),
      make({ cms: (parts) => (parts.kind = seq(oid('1.2.840.10045.4.3.2'), new Uint8Array([5, 0]))) }),
      make({ cms: (parts) => (parts.certificate = joined(certificate(first), certificate(first))) }),
      make({ cms: (parts) => (parts.unsigned = joined([0xa1, 6], [0x30, 4, 0x06, 0, 0x31, 0])) }),
      make({ digits: () => '30820004'.padEnd(16384, '0') }),
    ],
    A8: [make({ cms: (parts) => (parts.digest = sha(utf8('other bytes'))) })],
    A9: [
      make({ cms: (parts) => (parts.certificate = certificate(first, { usage: null })) }),
      make({ cms: (parts) => (parts.certificate = certificate(first, { usage: [0x06, 0x40] })) }),
      make({ cms: (parts) => (parts.certificate = certificate(first, { subject: 'Other' })) }),
      make({ cms: (parts) => (parts.certificate = certificate(first, { signer: second })) }),
      make({ cms: (parts) => (parts.certificate = certificate(first, { version: null })) }),
      ...UNREAD.map(certified),
    ],
    A10: [
      make({ cms: (parts) => (parts.high = true) }),
      make({ cms: (parts) => (parts.by = second) }),
      make({ cms: (parts) => (parts.serial = 8) }),
      make({ cms: (parts) => (parts.named = utf8('another')) }),
      make({ cms: (parts) => (parts.order = (list) => list.reverse()) }),
    ],
  };
  for (const [ground, files] of Object.entries(table)) for (const [at, bytes] of files.entries()) assert.deepEqual([ground, at, ...(await judge(bytes))], [ground, at, 'altered', ground]);
});

test('case 14 and 52: any byte changed, any cut', async () => {
  const bytes = make();
  const open = Buffer.from(bytes).indexOf('/Contents <');
  for (let at = 0; at < bytes.length; at += at > open && at < open + 16000 ? 977 : 61) {
    const bad = bytes.slice();
    bad[at] ^= 1;
    assert.notEqual((await judge(bad))[0], 'unaltered', `byte ${at}`);
  }
  for (let length = 0; length < bytes.length; length += 401) assert.notEqual((await judge(bytes.slice(0, length)))[0], 'unaltered', `${length} bytes`);
  assert.equal((await judge(bytes.slice(0, bytes.length - 30)))[0], 'cannot_judge');
});

test('never signed, no signature, and PDF of other programs', async () => {
  assert.deepEqual(await judge(make({ digits: () => '0'.repeat(16384), range: () => [0, 0, 0] })), ['cannot_judge', 'signature']);
  assert.deepEqual(await judge(utf8('%PDF-1.4\n1 0 obj\n<< >>\nendobj\n%%EOF\n')), ['cannot_judge', 'signature']);
  assert.deepEqual(await judge(utf8('')), ['cannot_judge', 'signature']);
  assert.deepEqual(await judge(new Uint8Array(64 * 1024 * 1024 + 1)), ['cannot_judge', 'length']);
  // Without the mark only a digest that contradicts the bytes is `altered`.
  const renamed = (bytes) => new Uint8Array(Buffer.from(Buffer.from(bytes).toString('latin1').replaceAll('record.json', 'recorb.json'), 'latin1'));
  assert.equal((await judge(make({ after: renamed })))[0], 'cannot_judge');
  assert.deepEqual(await judge(renamed(make())), ['altered', 'A8']);
  assert.equal((await judge(joined(make({ after: renamed }), utf8('x'))))[0], 'cannot_judge');
});

const replaced = (bytes, from, to) => {
  const text = Buffer.from(bytes).toString('latin1');
  assert.ok(text.includes(from), from);
  return new Uint8Array(Buffer.from(text.replace(from, () => to), 'latin1'));
};
// A change of one object as it is written, and one behind all objects.
const written = (number, from, to) => ({ wrap: (other, bytes) => (other === number ? replaced(bytes, from, to) : bytes) });
const lang = (to) => written(1, '/Lang (en)', to);
const tail = (from, to) => ({ after: (bytes) => replaced(bytes, from, to) });

// A value of a dictionary is taken out into an object of its own; the entry then is a reference.
const apart = (number, entry, value, instead = entry.split(' ')[0]) => (list) => {
  list[9] = value;
  const closing = instead.includes('<<') ? ' >>' : '';
  swap(number, entry, `${instead} 9 0 R${closing}`)(list);
};
const reference = (list) => {
  const [whole, inner] = /\/Reference (\[.*\]) \/ByteRange/.exec(list[7]);
  list[7] = list[7].replace(whole, '/Reference 9 0 R /ByteRange');
  list[9] = inner;
};

test('rules of the file, each alone', async () => {
  const unclean = [
    { header: '%PDF-1.4\n' }, { header: '%PDF-1.7\n%abc\n' }, { header: '%PDF-1.7\nx\n' }, { header: ' %PDF-1.7\n' }, { trailer: '/Prev 7' }, { trailer: '/XRefStm 7' }, { trailer: '/Encrypt 2 0 R' },
    written(2, '2 0 obj', '2  0 obj'), written(2, '2 0 obj', '2 1 obj'), written(2, '2 0 obj', '2 0 objx'), written(2, '2 0 obj', '2 0 obj % x\n'), written(2, 'endobj', 'x endobj'), written(2, '\nendobj\n', '\nendobj\nx '),
    written(4, 'stream\n', 'stream\r'), written(4, 'stream\n', 'stream \n'), written(4, '\nendstream', '\n\nendstream'), written(4, '/Length 5', '/Length 4'), written(4, '/Length 5', '/Length 5 0 R'), written(4, '/Length 5', '/Length -5'),
    written(2, '/Count 1 >>', '/Count 1 >> >>'), written(2, '<< /Type', '/Type << /Type'),
    tail('%%EOF\n', '%%EOF\n\n'), tail('%%EOF\n', '%%EOF '), tail('0000000000 65535 f \n', '0000000000 65535 n \n'), tail('0000000000 65535 f \n', '0000000000 65535 f  '), tail('startxref\n', 'startxref \n'), tail('startxref\n', 'startxref\n1'),
    tail('\n0 1\n', '\n1 1\n'), tail('\n2 1\n', '\n2 0\n'), tail('/Size 22', '/Size 21'), tail('/Size 22', '/Size 4 0 R'), { trailer: '/Info << /Title (x) >>' }, { trailer: '/Info [4 0 R]' }, tail('/Root 1 0 R', '/Root << /Type /Catalog >>'), tail('trailer\n<<', 'trailer\n<</Other 1'), tail('\n2 1\n', '\n9 1\n'),
    ...['(en\\q)', '(en)/Lang (en)', '<656>', '<6 5>', '(en) % x\n', `${'['.repeat(41)}${']'.repeat(41)}`, '99999999999999999999', '8388608 0 R', '0 0 R', 'nul', 'nullx', '(\\400)', '(en', '+-1', '1e5', '.', '1 0 RR', '{}', '[1', '<< /A >>', '<< 1 2 >>'].map((text) => lang(`/Lang ${text}`)),
    lang('/Lang#2 (en)'), lang('/Lang#zz (en)'),
  ];
  for (const [at, how] of unclean.entries()) assert.deepEqual([at, ...(await judge(make(how)))], [at, 'cannot_judge', 'pdf_file']);
  // What may be written in more than one way.
  const clean = [
    {}, { header: '%PDF-1.7\r\n' }, { header: '%PDF-1.7\r%\u00e2\u00e3\r' }, { header: '%PDF-1.7\n%\n  \n' }, lang('/L#61ng (e(n)\\)\\101\\\n)'), lang('/Lang<656E>'), lang('/Lang[1 -2 +3.5 .5 4. true false null /A(b)<< >>]'),
    lang(`/Lang ${'['.repeat(39)}${']'.repeat(39)}`), lang('/Lang (\\n\\r\\t\\b\\f\\\\\\377)'), lang('/Lang 9223372036854775807'), written(2, '2 0 obj\n', '2 0 obj'), written(2, '\nendobj\n', ' endobj\u0000\f\t '),
    written(4, 'stream\n', 'stream\r\n'), written(4, '\nendstream', 'endstream'), tail('0000000000 65535 f \n', '0000000000 65535 f\r\n'), tail('0000000000 65535 f \n', '0000000000 65535 f \r'), tail('%%EOF\n', '%%EOF'), tail('%%EOF\n', '%%EOF\r\n'), tail('trailer\n', ' trailer'),
  ];
  for (const [at, how] of clean.entries()) assert.deepEqual([at, ...(await judge(make(how)))], [at, 'unaltered', null]);
});

test('what a report may hold, each rule alone', async () => {
  const table = {
    R1: [(list) => (list[9] = '<< >>'), swap(3, '/MediaBox', '/Rotate 99 0 R /MediaBox')],
    R2: [swap(1, '/Lang', '/Dests << >> /Lang'), swap(1, '/Lang', '/PageLabels << >> /Lang')],
    R3: [apart(3, '/MediaBox [0 0 100 100]', '/Launch', '/X << /S'), apart(3, '/MediaBox [0 0 100 100]', '/GoTo', '/X << /S'), swap(1, '/Lang', '/OpenAction [3 0 R] /Lang'), swap(3, '/MediaBox', '/AA << >> /MediaBox'), swap(3, '/MediaBox', '/X << /S /Launch >> /MediaBox'), swap(5, '/SigFlags', '/XFA () /SigFlags'), swap(3, '/MediaBox', '/Trans << >> /MediaBox'), swap(3, '/MediaBox', '/X [<< /URI (x) >>] /MediaBox')],
    R4: [swap(1, '/Lang', '/OCProperties << >> /Lang'), swap(4, '', '/OC 2 0 R'), swap(3, '/MediaBox', '/X << /Type /OCG >> /MediaBox')],
    R5: [swap(3, '/MediaBox', '/PieceInfo << >> /MediaBox'), swap(3, '/MediaBox', '/X << /Type /Filespec /F (a) >> /MediaBox'), swap(4, '', '/F (outside)'), swap(4, '', '/Alternates []')],
    R6: [swap(4, '', '/Type /ObjStm'), swap(4, '', '/Filter /LZWDecode'), swap(4, '', '/Filter [/FlateDecode]'), swap(4, '', '/DecodeParms << >>')],
    R7: [swap(3, '/MediaBox', '/X << /Type /Sig >> /MediaBox'), swap(3, '/MediaBox', '/X << /ByteRange [] >> /MediaBox')],
    R8: [apart(5, '/SigFlags 3', '3'), apart(5, '/Fields [6 0 R]', '[6 0 R]'), swap(5, '/SigFlags 3', '/SigFlags 1'), swap(5, '/SigFlags', '/DA () /SigFlags'), swap(5, '/SigFlags', '/NeedAppearances true /SigFlags')],
    R9: [
      swap(6, '/F 132', '/F 0'), swap(6, '/F 132', '/F 4'), swap(6, '/F 132', '/F 132.0'), swap(6, '/F 132 ', ''), apart(6, '/F 132', '132'), apart(6, '/FT /Sig', '/Sig'),
      swap(6, '/FT /Sig', '/FT /Tx'), swap(6, '/Rect', '/Parent 5 0 R /Rect'), swap(6, '/Rect', '/AP << /N << >> >> /Rect'), swap(6, '/Rect', '/AP << /N 4 0 R /D 4 0 R >> /Rect'),
    ],
    R10: [
      apart(3, '/Type /Page', '/Page'), apart(6, '/Subtype /Widget', '/Widget'), apart(7, '/Type /Sig', '/Sig'), swap(3, '/MediaBox', '/X << /Subtype 4 0 R >> /MediaBox'),
      swap(3, '[6 0 R]', '[6 0 R 6 0 R]'), swap(3, '[6 0 R]', '[]'), swap(3, '/MediaBox', '/X << /Type /Annot >> /MediaBox'), swap(2, '/Kids', '/Annots [6 0 R] /Kids'), swap(3, '/Annots [6 0 R]', '/X 6 0 R'),
    ],
    R11: [apart(7, '/Filter /Adobe.PPKLite', '/Adobe.PPKLite'), swap(7, '/Adobe.PPKLite', '/Other'), swap(7, '/ETSI.CAdES.detached', '/adbe.pkcs7.detached'), swap(7, '/Filter', '/Location (x) /Filter'), swap(7, '/Type /Sig ', '/Type /DocTimeStamp ')],
    R12: [apart(7, '/P 1', '1'), apart(7, '/TransformMethod /DocMDP', '/DocMDP'), reference, swap(7, '/P 1', '/P 2'), swap(7, '/TransformMethod /DocMDP', '/TransformMethod /FieldMDP'), swap(1, '/Perms << /DocMDP 7 0 R >>', '/Perms << /DocMDP 6 0 R >>'), swap(1, '/Perms << /DocMDP 7 0 R >>', '/Perms << /DocMDP 7 0 R /UR3 7 0 R >>'), swap(1, '/Perms << /DocMDP 7 0 R >>', '')],
    R13: [
      apart(1, '/AF [20 0 R]', '[20 0 R]'), apart(20, '/F (record.json)', '(record.json)'), apart(20, '/UF (record.json)', '(record.json)'), apart(1, '/Names [(record.json) 20 0 R]', '[(record.json) 20 0 R]'),
      swap(20, '/F (record.json)', '/F (other.json)'), swap(20, '/UF (record.json)', ''), swap(1, '/AF [20 0 R]', '/AF []'), swap(1, '/AF [20 0 R]', '/AF [20 0 R 20 0 R]'), swap(1, '/EmbeddedFiles', '/Dests << >> /EmbeddedFiles'),
      swap(1, '(record.json) 20 0 R', '(record.json) 20 0 R (record.json) 20 0 R'), swap(3, '/MediaBox', '/X << /EF << >> >> /MediaBox'), swap(20, '/EF << /F 21 0 R >>', '/EF << /F 21 0 R /UF 4 0 R >>'),
      swap(1, '(record.json)', '(notes.json)'), swap(21, '/FlateDecode', '/DCTDecode'),
    ],
    deflate: [(list) => (list[21].stream = joined(list[21].stream, [0])), (list) => (list[21].stream = list[21].stream.slice(0, -5))],
  };
  for (const [rule, changes] of Object.entries(table)) {
    for (const [at, change] of changes.entries()) {
      const [state, broken] = await judge(make({ change }));
      assert.deepEqual([rule, at, state], [rule, at, 'cannot_judge'], broken);
      if (!['R7', 'R10', 'R5'].includes(rule)) assert.deepEqual([at, broken], [at, rule]);
    }
  }
  const bomb = { change: (list) => (list[21].stream = new Uint8Array(deflateSync(new Uint8Array(16 * 1024 * 1024 + 1)))) };
  assert.deepEqual(await judge(make(bomb)), ['cannot_judge', 'inflated_length']);
  const utf16 = `(\\376\\377${[...'record.json'].map((letter) => `\\000${letter}`).join('')})`;
  assert.deepEqual(await judge(make({ change: swap(20, '/UF (record.json)', `/UF ${utf16}`) })), ['unaltered', null]);
  assert.deepEqual(await judge(make({ change: swap(20, '/UF (record.json)', `/UF <${hex(utf8('record.json'))}>`) })), ['unaltered', null]);
  assert.deepEqual(await judge(make({ change: apart(20, '/EF << /F 21 0 R >>', '<< /F 21 0 R >>') })), ['unaltered', null]);
  assert.deepEqual(await judge(make({ change: apart(3, '/Annots [6 0 R]', '[6 0 R]') })), ['unaltered', null]);
});

test('the record and the key', async () => {
  const changed = sealed({ ...made, purpose: 'intake' });
  assert.deepEqual(await judge(make({}, changed)), ['altered', 'K1']);
  assert.deepEqual(await judge(make({}, utf8(JSON.stringify(made, null, 1)))), ['altered', 'K1']);
  assert.deepEqual(await judge(make({}, utf8('{}'))), ['cannot_judge', 'K1']);
  assert.deepEqual(await judge(make({}, utf8('{"tangmark-record":'))), ['altered', 'K1']);
  const newer = sealed(record({ change: (one) => (one.schema.version = 2) }));
  assert.deepEqual(await judge(make({}, newer)), ['cannot_judge', 'K1']);
  assert.deepEqual(await judge(make({ by: second }, newer)), ['altered', 'K2']);
  assert.deepEqual(await judge(make({ by: second, cms: (parts) => (parts.certificate = certificate(second)) })), ['altered', 'K2']);
  assert.deepEqual(await judge(make({ at: '2026-03-01T09:30:01Z' })), ['altered', 'K4']);
  // The proof holds and the record is not as it was sealed: key and time come first, and there is a verdict on the file.
  const spaced = utf8(JSON.stringify(made, null, 1));
  assert.deepEqual(await judge(make({ by: second }, spaced)), ['altered', 'K2']);
  assert.deepEqual(await judge(make({ at: '2026-03-01T09:30:01Z' }, spaced)), ['altered', 'K4']);
  const broken = sealed(record({ change: (one) => (one.purpose = 'holiday') }));
  for (const [bytes, signer] of [[make({ by: second }, broken), 'cannot_judge'], [make({}, broken), 'new'], [make({}, changed), 'cannot_judge'], [make({}, spaced), 'new'], [make({}, newer), 'new']]) {
    const { subject } = await judgeFile(bytes, reader(), [], 'report.pdf');
    assert.equal(subject.signer.state, signer);
  }
  assert.deepEqual(await judge(make({ change: swap(7, '/M (', '/Name (') })), ['altered', 'K4']);
  // A string of either spelling, in the dictionary itself.
  const stated = `D:${made.issued_at.replace(/[-:T]/g, '')}`;
  assert.deepEqual(await judge(make({ change: swap(7, `(${stated})`, `<${hex(utf8(stated))}>`) })), ['unaltered', null]);
  assert.deepEqual(await judge(make({ change: apart(7, `/M (${stated})`, `(${stated})`) })), ['altered', 'K4']);
  assert.deepEqual(await judge(make({ change: swap(7, `(${stated})`, `/${stated}`) })), ['altered', 'K4']);
});

test('a later key of the history may sign', async () => {
  const start = statement(first, '2026-01-01T00:00:00Z');
  const turn = later('rotation', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), first);
  const by = (key, ...entries) => judge(make({ by: key, more: { 'key-history.json': historyFile(entries) } }));
  assert.deepEqual(await by(second, start, turn), ['unaltered', null]);
  assert.deepEqual(await by(second, start), ['altered', 'K3']);
  assert.deepEqual(await by(first, start, turn), ['altered', 'K3']);
  assert.deepEqual(await by(paper, start, turn), ['altered', 'K3']);
  assert.deepEqual(await by(second, start, later('recovery', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), paper)), ['unaltered', null]);
  assert.deepEqual(await by(second, start, turn, revocation(second, '2026-07-01T00:00:00Z', entryDigest(turn), paper, '2026-08-01T00:00:00Z')), ['altered', 'K3']);
  assert.deepEqual(await by(second, start, turn, revocation(first, '2026-05-01T00:00:00Z', entryDigest(turn), second, '2026-08-01T00:00:00Z')), ['unaltered', null]);
  assert.deepEqual(await by(second, start, turn, revocation(first, '2026-02-01T00:00:00Z', entryDigest(turn), second, '2026-08-01T00:00:00Z')), ['altered', 'K3']);
  const late = statement(first, '2026-04-01T00:00:00Z');
  assert.deepEqual(await by(second, late, later('rotation', statement(second, '2026-06-01T00:00:00Z', entryDigest(late)), first)), ['altered', 'K3']);
  assert.equal((await by(second, { ...start, reason: 'x' }, turn))[0], 'altered');
});

test('disclosures in a report', async () => {
  const with_ = (bytes) => judgeReport(make({ more: { 'disclosures.json': bytes } }), reader());
  const shown = await with_(disclosuresFile([examinerName]));
  assert.deepEqual([shown.state, shown.revealed], ['unaltered', [{ path: '/examination/by/name', value: 'Odile Varga' }]]);
  for (const bytes of [disclosuresFile([]), disclosuresFile([disclosure('/examination/by/name', 'Somebody')]), utf8('{}')]) assert.equal((await with_(bytes)).state, 'altered');
});

test('reports in packages', async () => {
  const [one, two] = chain([{}, {}]);
  const stranger = record({ change: (list) => (list.blade.title = 'Another') });
  const of = async (source, records = [one, two]) => {
    const bytes = report(sealed(source), { by: first, at: source.issued_at });
    const verdict = await judgePackage(fileList(bag({ ...dataOf(records), 'data/reports/a.pdf': bytes })), reader({ fingerprints: [first.fingerprint] }));
    return [verdict.exit, verdict.reports['data/reports/a.pdf'].state];
  };
  assert.deepEqual(await of(two), [0, 'unaltered']);
  assert.deepEqual(await of(one), [2, 'older']);
  assert.deepEqual(await of(stranger), [1, 'other_record']);
  // A record with the higher s is not in its sealed bytes.
  assert.deepEqual(await of(record({ how: { high: true } }), [record()]), [1, 'altered']);
  assert.equal(nameOf(one).length, 64);
});
