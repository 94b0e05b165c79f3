// Packages with key histories, disclosures and time evidence, made with throw-away keys for the page's tests.
import { execFileSync } from 'node:child_process';
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { fingerprintOf } from '../../../crates/package/page/core/key.js';
import { bag, chain, dataOf, disclosuresFile, entryDigest, examinerName, first, historyFile, later, nameOf, paper, record, revocation, sealed, second, statement, withExaminer } from '../core/made.mjs';
import { report } from '../core/pdf.mjs';
import { write } from './samples.mjs';

/** An authority of time of our own, by OpenSSL: its root certificate, and a response over a record's name. */
function stamped(folder, name) {
  mkdirSync(folder, { recursive: true });
  const run = (...words) => execFileSync('openssl', words, { cwd: folder, stdio: ['ignore', 'ignore', 'pipe'] });
  const put = (file, text) => writeFileSync(join(folder, file), text);
  put('ca.cnf', '[req]\ndistinguished_name = none\nprompt = no\nx509_extensions = root\n[none]\nCN = Example root\n[root]\nbasicConstraints = critical, CA:true\nkeyUsage = critical, keyCertSign\n');
  put('clock.cnf', '[req]\ndistinguished_name = none\nprompt = no\n[none]\nCN = Example clock\n');
  put('extensions', 'basicConstraints = critical, CA:false\nextendedKeyUsage = critical, timeStamping\n');
  put('ts.cnf', '[tsa]\ndefault_tsa = here\n[here]\nserial = serial\ndefault_policy = 1.2.3.4.1\ndigests = sha256\nsigner_digest = sha256\ness_cert_id_alg = sha256\n');
  put('serial', '01\n');
  const key = ['-newkey', 'ec', '-pkeyopt', 'ec_paramgen_curve:P-256', '-nodes'];
  run('req', '-x509', ...key, '-keyout', 'ca.key', '-out', 'ca.pem', '-days', '3650', '-config', 'ca.cnf');
  run('req', '-new', ...key, '-keyout', 'clock.key', '-out', 'clock.csr', '-config', 'clock.cnf');
  run('x509', '-req', '-in', 'clock.csr', '-CA', 'ca.pem', '-CAkey', 'ca.key', '-CAcreateserial', '-out', 'clock.pem', '-days', '3650', '-extfile', 'extensions');
  run('ts', '-query', '-digest', name, '-sha256', '-no_nonce', '-cert', '-out', 'query');
  run('ts', '-reply', '-config', 'ts.cnf', '-queryfile', 'query', '-signer', 'clock.pem', '-inkey', 'clock.key', '-out', 'response');
  return { root: join(folder, 'ca.pem'), response: new Uint8Array(readFileSync(join(folder, 'response'))) };
}

/** Makes the packages; returns their paths and the fingerprints by name. */
export async function makeEvidence(folder) {
  const fingerprint = await fingerprintOf(first.did);
  const put = (name, data) => write(join(folder, name), Object.entries(bag(data)));
  const start = statement(first, '2026-02-01T00:00:00Z', null);
  const records = chain([{}, { by: second }]);
  const rotation = later('rotation', statement(second, '2026-03-02T00:00:00Z', entryDigest(start)), first);
  const recovery = later('recovery', statement(second, '2026-03-02T00:00:00Z', entryDigest(start)), paper);
  const alone = chain([{}, {}]);
  const stolen = since => [start, revocation(first, since, entryDigest(start), paper, '2026-05-01T00:00:00Z')];
  const history = entries => ({ [`data/keys/${fingerprint}.json`]: historyFile(entries) });
  const [withdrawn] = chain([{}]);
  const takes = made => { made.refers_to = { record: nameOf(withdrawn), statement: 'Measured on another blade.' }; };
  const withdrawal = chain([{}, { purpose: 'withdrawal', change: takes }, {}]);
  const loose = (name, bytes) => {
    writeFileSync(join(folder, name), bytes);
    return join(folder, name);
  };
  const [, last] = alone;
  const laterKey = later('rotation', statement(second, '2026-06-01T00:00:00Z', entryDigest(start)), first);
  const gone = revocation(second, '2026-06-01T00:00:00Z', entryDigest(laterKey), paper, '2026-07-01T00:00:00Z');
  const pages = report(sealed(last), { by: second, at: last.issued_at, more: { 'key-history.json': historyFile([start, laterKey]) } });
  const shown = chain([{ change: withExaminer }]);
  const old = chain([{ issuedAt: '2020-03-01T09:30:00Z' }]);
  const { root, response } = stamped(join(folder, 'clock'), nameOf(old[0]));
  return {
    first: fingerprint,
    second: await fingerprintOf(second.did),
    rotated: put('rotated', dataOf(records, history([start, rotation]))),
    recovered: put('recovered', dataOf(records, history([start, recovery]))),
    revoked: put('revoked', dataOf(alone, history(stolen('2026-03-01T00:00:00Z')))),
    unproved: put('unproved', dataOf(alone, history(stolen('2026-04-01T00:00:00Z')))),
    disclosed: put('disclosed', dataOf(shown, { 'data/disclosures/01.json': disclosuresFile([examinerName]) })),
    withdrawn: put('withdrawn', dataOf(withdrawal)),
    withdrawnFiles: withdrawal.map((one, at) => loose(`withdrawn-${at + 1}.json`, sealed(one))),
    pagesRejected: put('pages', dataOf(alone, { ...history([start, laterKey, gone]), 'data/reports/a.pdf': pages })),
    besideFiles: [loose('beside-2.json', sealed(last)), loose('beside-1.json', sealed(record({ change: made => { made.blade.id = 'another'; } })))],
    stamped: put('stamped', dataOf(old, { 'data/timestamps/01-clock.tsr': response })),
    root,
  };
}
