// A verdict of the library, and one of the page, in the words that the format pages fix; reasons are each reader's own.

const sorted = (list) => [...(list ?? [])].sort();

function states(files, words) {
  const said = {};
  for (const file of Object.keys(files ?? {}).sort()) said[file] = words(files[file], file);
  return said;
}

const stateOf = (part) => part?.state ?? part;

// A reader with fingerprints alone meets a new signer where one with a memory of names sees another key or name.
function signerOf({ state, reason }, { fingerprints }, isPage) {
  if (!isPage && fingerprints.length > 0 && ['new', 'other_key_for_name', 'other_name_for_key'].includes(state)) return 'new, and not the one given';
  return state === 'new' && isPage && reason ? 'new, and not the one given' : state;
}

const timeOf = ({ state, standing, time }) => [state, standing, time].filter(Boolean).join(' ');

// The library counts what is not there, the page lists it.
function completenessOf(said, isPage) {
  if (!isPage) {
    if (said.broken) return { state: 'broken' };
    if (said.sequence === null) return { state: 'cannot_judge' };
    return { state: said.not_supplied === 0 ? 'whole' : 'incomplete', missing: Math.min(said.not_supplied, 100) };
  }
  return said.state === 'broken' || said.state === 'cannot_judge' ? { state: said.state } : { state: said.state, missing: said.missing.length };
}

function subjectOf(subject, reader, isPage) {
  if (!subject) return null;
  const { bytes, signer, time, completeness, file } = subject;
  return {
    file, bytes: bytes.state, name: bytes.state === 'altered' || bytes.state === 'cannot_judge' ? null : (isPage ? bytes.name : subject.record),
    signer: signerOf(signer, reader, isPage), time: timeOf(time), completeness: completenessOf(completeness, isPage),
  };
}

// The values that disclosures open, by file and place.
function revealedOf(verdict) {
  const found = {};
  for (const [file, { state, record }] of Object.entries(verdict.disclosures ?? {})) {
    if (state === 'fit') found[file] = Object.fromEntries((verdict.records[record]?.revealed ?? []).map(({ path, value }) => [path, value]));
  }
  return found;
}

const forkIn = (reason) => /two different records|two histories/.test(reason ?? '');

// A fork beside other faults may be told second.
function chainOf({ state, reason, faults, forks }, isPage) {
  if (!isPage) return { state, fork: forkIn(reason) };
  return { state, fork: forks.length === 0 ? false : faults.every(({ rule }) => rule === 'chain_fork') || 'perhaps' };
}

// The verdict of either on a package.
export function packageWords(verdict, reader, isPage) {
  if (verdict.refused) return { exit: verdict.exit, refused: true };
  const { bag } = verdict;
  const recordIn = (report) => (isPage ? verdict.files.find(({ kind, digest }) => kind === 'record' && digest === report.record_digest)?.path ?? null : report.record);
  const keyUnder = (report, file) => (isPage ? report.key ?? null : verdict.pages_keys[file] ?? null);
  const isJudged = ({ state }) => state !== 'altered' && state !== 'cannot_judge';
  const withheld = isPage ? verdict.withheld : (verdict.withheld ?? []).flatMap(({ path, properties }) => properties.map((name) => `${path}/${name}`));
  return {
    exit: verdict.exit,
    bag: {
      changed: sorted(bag.changed), missing: sorted(bag.missing), unlisted: sorted(bag.unlisted),
      not_looked_at: sorted(bag.not_looked_at), ignored_manifests: sorted(bag.ignored_manifests),
    },
    records: states(verdict.records, ({ state, standing, name, sequence, purpose }) => {
      const own = ['intact', 'same_content', 'misnamed'].includes(state) ? [sequence, purpose] : [];
      return [state, ...(state === 'altered' ? [] : [name, standing ?? null]), ...own].join(' ');
    }),
    chain: chainOf(verdict.chain, isPage),
    disclosures: states(verdict.disclosures, ({ state, places }) => [state, ...sorted(places)].join(' ')),
    revealed: isPage ? revealedOf(verdict) : verdict.revealed,
    withheld: sorted(withheld),
    photos: states(verdict.photos, ({ state, further, difference }) => `${state} ${further ?? difference ?? ''}`),
    reports: states(verdict.reports, (report, file) => [report.state, ...(isJudged(report) ? [recordIn(report), keyUnder(report, file)] : [])].join(' ')),
    keys: states(verdict.keys, ({ state, first, fingerprint }) => (state === 'refused' ? state : `${state} ${first ?? fingerprint}`)),
    // The library names the authority besides, and calls what it is to the reader its standing.
    timestamps: states(verdict.timestamps, ({ state, standing, authority, time }) => (state === 'fits' ? `${state} ${standing ?? authority} ${time}` : state)),
    schema: stateOf(verdict.schema ?? 'none'),
    page: stateOf(verdict.page ?? 'none'),
    aids: states(verdict.aids ?? {}, ({ state }) => state),
    subject: subjectOf(verdict.subject, reader, isPage),
    withdrawals: sorted(verdict.withdrawals),
    photos_not_packed: verdict.photos_not_packed ?? 0,
  };
}

// What lies beside a file has a weight of its own on the page, and none in the library, which is handed what reads.
const WEIGHS = { keys: ['refused', 'fork', 'no_issuer'], timestamps: ['refused', 'no_record'], disclosures: ['refused', 'no_record'] };

// The verdict of either on one file with others beside it; `exit` is null where it is not to be compared.
export function looseWords(verdict, reader, isPage) {
  const weighs = isPage && Object.entries(WEIGHS).some(([part, list]) => Object.values(verdict[part] ?? {}).some(({ state }) => list.includes(state)));
  const subject = isPage ? verdict.subject : { file: 'file', ...verdict };
  const report = isPage ? verdict.reports.file ?? null : verdict.kind === 'pdf' ? { state: verdict.bytes.state } : null;
  const isJudged = report !== null && report.state !== 'altered' && report.state !== 'cannot_judge';
  const withdraws = isPage ? verdict.withdrawals.length > 0 : verdict.notices.some((notice) => /withdraw/i.test(notice));
  const said = subjectOf(subject, reader, isPage);
  // A report whose pages are as they were signed is called unaltered by the page.
  if (isPage && ['unaltered', 'key_rejected', 'key_open'].includes(said.bytes)) said.bytes = 'intact';
  if (isPage && isJudged) said.name = verdict.reports.file.record_name;
  return {
    exit: weighs ? null : verdict.exit,
    subject: said,
    withdraws,
    // Those that read. What a file that does not read was meant to be the page asks its content, the library whoever gives it.
    histories: (isPage ? Object.entries(verdict.keys).filter(([, { state }]) => state !== 'refused') : Object.entries(verdict.histories).filter(([, reads]) => reads)).map(([file]) => file).sort(),
    pages_key: isJudged ? (isPage ? report.key : verdict.pages_key) : null,
  };
}

// Whether a check of the page broke off anywhere: that is a fault of the page, or a slip that does more than it was made for.
export function brokeOff(value) {
  if (typeof value !== 'object' || value === null) return false;
  return value.rule === 'fault' || Object.entries(value).some(([name, inner]) => name !== 'record' && name !== 'revealed' && brokeOff(inner));
}

// The parts in which two verdicts differ.
export function differing(one, other, place = '') {
  if (one === 'perhaps' || other === 'perhaps') return [];
  if (typeof one !== 'object' || typeof other !== 'object' || one === null || other === null) {
    return one === other ? [] : [`${place || 'all'}: library ${JSON.stringify(one)}, page ${JSON.stringify(other)}`];
  }
  return [...new Set([...Object.keys(one), ...Object.keys(other)])].flatMap((key) => (key === 'exit' && other.exit === null ? [] : differing(one[key], other[key], `${place}/${key}`)));
}
