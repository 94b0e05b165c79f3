import assert from 'node:assert/strict';
import test from 'node:test';
import { deflateRawSync, deflateSync } from 'node:zlib';
import { base32, base58, base64url, fromBase58, fromBase64, fromBase64url, fromHex, hexOf } from '../../../crates/package/page/core/text.js';
import { readJson } from '../../../crates/package/page/core/json.js';
import { canonicalText } from '../../../crates/package/page/core/canonical.js';
import { inflateRaw, inflateZlib } from '../../../crates/package/page/core/inflate.js';
import { sample, utf8 } from './made.mjs';

const rule = (name) => (problem) => problem.rule === name;
const json = (text) => readJson(utf8(text));

test('spellings of bytes', () => {
  // RFC 4648, section 10, without padding.
  for (const [text, six, five] of [['f', 'Zg', 'MY'], ['fo', 'Zm8', 'MZXQ'], ['foo', 'Zm9v', 'MZXW6'], ['foobar', 'Zm9vYmFy', 'MZXW6YTBOI']]) {
    assert.equal(base64url(utf8(text)), six);
    assert.equal(new TextDecoder().decode(fromBase64url(six)), text);
    assert.equal(base32(utf8(text), five.length), five);
  }
  for (const bad of ['Zh', 'Z', 'Zg==', 'Z g', 'Zm9_+', 'Zm9vY']) assert.equal(fromBase64url(bad), null, bad);
  assert.equal(hexOf(fromBase64('Zg==')), '66');
  assert.equal(fromHex('0g'), null);
  assert.equal(hexOf(fromHex('00fFa9')), '00ffa9');
  // draft-msporny-base58, section 5.
  assert.equal(base58(fromHex('0000287fb4cd')), '11233QC4');
  assert.equal(hexOf(fromBase58('11233QC4')), '0000287fb4cd');
  assert.equal(base58(utf8('Hello World!')), '2NEpo7TZRRrLZSi2U');
  for (const bad of ['0', 'O', 'I', 'l', ' ', 'z'.repeat(201)]) assert.equal(fromBase58(bad), null, bad);
});

test('canonical form of weird.json', () => {
  // Source: cyberphone/json-canonicalization, testdata/input/weird.json and output/weird.json.
  const value = JSON.parse(
    '{"\\u20ac":"Euro Sign","\\r":"Carriage Return","\\u000a":"Newline","1":"One","\\u0080":"Control\\u007f","\\ud83d\\ude02":"Smiley",' +
      '"\\u00f6":"Latin Small Letter O With Diaeresis","\\ufb33":"Hebrew Letter Dalet With Dagesh","</script>":"Browser Challenge"}',
  );
  const order = ['\n', '\r', '1', '</script>', '\u0080', '\u00f6', '\u20ac', '\u{1f602}', '\ufb33'];
  const wanted = `{${order.map((name) => `${JSON.stringify(name)}:${JSON.stringify(value[name])}`).join(',')}}`;
  assert.equal(canonicalText(value), wanted);
  assert.match(wanted, /^\{"\\n":"Newline","\\r":"Carriage Return","1":"One",/);
});

test('canonical form of values.json', () => {
  // Source: the same, testdata/input/values.json and output/values.json.
  const value = JSON.parse(
    '{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}',
  );
  assert.equal(canonicalText(value), '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}');
});

test('what strict JSON takes', () => {
  assert.equal(canonicalText(json(' { "b" : [ 1 , -2 , 0 ] , "a" : "\\u00e9\\n\\ud83d\\ude02" , "__proto__" : true, "constructor": null } ')), '{"__proto__":true,"a":"é\\n😂","b":[1,-2,0],"constructor":null}');
  assert.equal(json('9007199254740991'), 9007199254740991);
  assert.equal(json('-9007199254740991'), -9007199254740991);
  assert.equal(json('"\\"\\\\\\/\\b\\f\\n\\r\\t"'), '"\\/\b\f\n\r\t');
  json(`${'['.repeat(32)}${']'.repeat(32)}`);
});

test('what strict JSON refuses', () => {
  const table = {
    json_twice: ['{"a":1,"a":2}', '{"a":1,"\\u0061":2}', '{"x":{"é":1,"\\u00e9":1}}', '{"__proto__":1,"__proto__":2}'],
    json_number: ['-0', '-0.0', '1.0', '1e2', '1E400', '01', '9007199254740992', '9007199254740993', '-9007199254740992', '1'.repeat(30), '0.30000000000000001', '-', '1.', '--1', '1-'],
    json_text: ['"e\\u0301"', '"e\u0301"', '"\\ud800"', '"\\udc00\\ud800"', '"\\u0000"', '"\\uffff"', '"\\ufdd0"', '"\\ud83f\\udffe"', '"\ufb33"', '{"e\\u0301":1}'],
    json_bom: ['\ufeff{}'],
    json_trailing: ['{} {}', '1 2', '[] ,', '{}\u0000', 'true false', '1\u00a0'],
    json_syntax: ['', ' ', '{', '[', '"', '"\\x"', '"\\u12g4"', '{"a"}', '{"a":}', '{a:1}', '[1,]', '{"a":1,}', '[1 2]', 'nul', 'NaN', 'Infinity', '"\n"', '"\u001f"', '// x\n1', '/* */1', "'a'", '[,1]', '{,}', '"\\u123"', '\u00a01', 'undefined', '+1', '.5'],
    json_levels: [`${'['.repeat(33)}${']'.repeat(33)}`, '['.repeat(10000), '{"a":'.repeat(10000)],
    json_values: [`[${'1,'.repeat(200000)}1]`],
  };
  for (const [name, texts] of Object.entries(table)) for (const text of texts) assert.throws(() => json(text), rule(name), `${name}: ${text.slice(0, 40)}`);
  assert.throws(() => readJson(new Uint8Array([0x22, 0xff, 0x22])), rule('json_utf8'));
  assert.throws(() => readJson(new Uint8Array([0x22, 0xed, 0xa0, 0x80, 0x22])), rule('json_utf8'));
  assert.throws(() => readJson(new Uint8Array(16 * 1024 * 1024 + 1)), rule('json_bytes'));
  assert.throws(() => json('{\n  "a": 1,\n  "a": 2\n}'), (problem) => problem.where === 'line 3, column 3');
});

test('deflate is read as zlib writes it, and nothing else', () => {
  const text = sample('schemas/record-terms.md');
  for (let level = 0; level <= 9; level += 1) {
    for (const strategy of [0, 1, 2, 3, 4]) {
      assert.deepEqual(inflateRaw(new Uint8Array(deflateRawSync(text, { level, strategy })), text.length), text);
      assert.deepEqual(inflateZlib(new Uint8Array(deflateSync(text, { level, strategy })), text.length), text);
    }
  }
  const packed = new Uint8Array(deflateRawSync(text));
  assert.throws(() => inflateRaw(packed, text.length - 1), rule('inflated_length'));
  assert.throws(() => inflateRaw(new Uint8Array([...packed, 0]), text.length), rule('deflate'));
  for (let length = 0; length < packed.length; length += 97) assert.throws(() => inflateRaw(packed.subarray(0, length), text.length), rule('deflate'));
  const zlib = new Uint8Array(deflateSync(text));
  for (const at of [0, 1, zlib.length - 1]) {
    const bad = zlib.slice();
    bad[at] ^= 1;
    assert.throws(() => inflateZlib(bad, text.length), rule('deflate'));
  }
  // 1 GiB of zeros may not come out of a megabyte: the reader stops at the length it was told.
  const bomb = new Uint8Array(deflateRawSync(new Uint8Array(64 * 1024 * 1024)));
  assert.throws(() => inflateRaw(bomb, 1000), rule('inflated_length'));
  // Any flipped bit gives other bytes or a refusal, and never anything but that.
  const small = new Uint8Array(deflateRawSync(text.subarray(0, 3000)));
  for (let bit = 0; bit < small.length * 8; bit += 5) {
    const bad = small.slice();
    bad[bit >> 3] ^= 1 << (bit & 7);
    try {
      inflateRaw(bad, 3000);
    } catch (problem) {
      assert.ok(['deflate', 'inflated_length'].includes(problem.rule), problem.stack);
    }
  }
});
