// What a record says must hold together beyond its schema (record-format.md).

import { refuse } from './text.js';
import { canonicalBytes, without } from './canonical.js';
import { sha256Hex } from './key.js';
import { atPointer, eachObject, pointerOf } from './pointer.js';
import { valueOf } from './quantity.js';
import { isPartialDate, isUtcTime } from './times.js';
import { withheldPlaces } from './withhold.js';

// What the schema calls PartialDate.
export const DATE_KEYS = new Set(['on', 'taken_on', 'tried_on', 'calibrated_on', 'return_by', 'valid_until', 'protected_as_of', 'made_not_before', 'made_not_after', 'earliest', 'latest']);

// Terms of CIDOC CRM by the kind of a custody event.
export const CUSTODY_TERMS = {
  made: 'crm:E12_Production', shortened: 'crm:E11_Modification', polished: 'crm:E11_Modification', altered: 'crm:E11_Modification', fitting_added: 'crm:E79_Part_Addition',
  fitting_removed: 'crm:E80_Part_Removal', examined: 'crm:E14_Condition_Assessment', measured: 'crm:E16_Measurement', attributed: 'crm:E13_Attribute_Assignment',
  left_for_work: 'crm:E10_Transfer_of_Custody', returned: 'crm:E10_Transfer_of_Custody', lent: 'crm:E10_Transfer_of_Custody', sold: 'crm:E8_Acquisition', given: 'crm:E8_Acquisition',
  inherited: 'crm:E8_Acquisition', bought: 'crm:E8_Acquisition', exported: 'crm:E9_Move', imported: 'crm:E9_Move', registered: 'crm:E13_Attribute_Assignment', lost: 'crm:E6_Destruction', found: 'crm:E5_Event',
};
// What a plugin is not asked about: members of the record itself.
const NOT_ASKED = [
  'schema', 'record_id', 'sequence', 'previous', 'issuer', 'purpose', 'issued_at', 'runs', 'findings', 'private_findings', 'decision', 'overrides', 'worked_under_hold', 'valuation', '_sd', '_sd_alg', 'proof',
];

function checkQuantity(quantity, instruments, place) {
  if (quantity.instrument !== undefined && !instruments.has(quantity.instrument)) {
    refuse('instrument', `the instrument ${quantity.instrument} is not among those of the examination`, `${place}/instrument`);
  }
  const value = valueOf(quantity.as_read, quantity.unit);
  if (value === null) refuse('quantity_words', 'a reading has words or units that are not known', `${place}/as_read`);
  if (value !== quantity.value) refuse('quantity_value', `the readings come to ${value} ${quantity.unit}, not ${quantity.value}`, `${place}/value`);
  if (!/[1-9]/.test(quantity.standard_uncertainty) || quantity.standard_uncertainty.startsWith('-')) {
    refuse('quantity_uncertainty', 'the uncertainty is not above zero', `${place}/standard_uncertainty`);
  }
}

// Keys of the entries of a list stand once each.
function checkKeys(list, place) {
  const seen = new Set();
  for (const { id } of list ?? []) {
    if (seen.has(id)) refuse('key_twice', `the key ${id} stands twice`, place);
    seen.add(id);
  }
  return seen;
}

function checkFindings(list, record, place, inPublic) {
  const plugins = new Set((record.runs ?? []).map(({ plugin }) => plugin).concat('tangmark'));
  for (const [number, finding] of (list ?? []).entries()) {
    const here = `${place}/${number}`;
    if (!plugins.has(finding.plugin)) refuse('finding_plugin', `the plugin ${finding.plugin} is not among the runs`, here);
    if (inPublic && finding.rule.startsWith('price.')) refuse('finding_price', 'a finding on prices stands in the open', here);
    for (const pointer of inPublic ? finding.evidence ?? [] : []) {
      if (atPointer(record, pointer) === undefined) refuse('finding_evidence', `the evidence ${pointer} points at nothing`, here);
    }
  }
}

function checkRuns(runs) {
  const isPrice = (name) => name.startsWith('price.');
  for (const [number, run] of (runs ?? []).entries()) {
    const open =
      (run.quantities ?? []).some(({ name }) => isPrice(name)) ||
      (run.artefacts ?? []).some(({ title, columns }) => isPrice(title) || columns.some(({ name }) => isPrice(name)));
    if (open) refuse('run_price', 'a run shows a number, table or series on prices', `/runs/${number}`);
  }
}

// The rules of a record that follows the schema, but for the digests that checkInputs computes; the list is closed. Throws a
// Refusal whose place is a JSON Pointer.
export function checkRules(record) {
  if ((record.sequence === 1) !== (record.previous === null)) {
    refuse('previous', '`previous` is null exactly in the first record', '/previous');
  }
  withheldPlaces(record);
  const { flaws, photos, fittings, passes, examination } = record;
  for (const [name, list] of Object.entries({ flaws, photos, fittings })) checkKeys(list, `/${name}`);
  const passKeys = checkKeys(passes, '/passes');
  const instruments = checkKeys(examination?.instruments, '/examination/instruments');
  eachObject(record, (object, path) => {
    if (Object.hasOwn(object, 'as_read')) checkQuantity(object, instruments, pointerOf(path));
    for (const key of Object.keys(object)) {
      if (DATE_KEYS.has(key) && typeof object[key] === 'string' && !isPartialDate(object[key])) {
        refuse('date', 'the calendar has no such date', `${pointerOf(path)}/${key}`);
      }
    }
  });
  for (const [at, time] of [['/issued_at', record.issued_at], ...(record.overrides ?? []).map(({ at }, number) => [`/overrides/${number}/at`, at])]) {
    if (!isUtcTime(time)) refuse('time', 'the calendar has no such time', at);
  }
  for (const [number, { kind, maps_to: terms }] of (record.custody ?? []).entries()) {
    if (terms.join() !== CUSTODY_TERMS[kind]) refuse('custody_terms', `the terms of an event of the kind ${kind} are others`, `/custody/${number}/maps_to`);
  }
  for (const [number, { pass }] of (record.worked_under_hold ?? []).entries()) {
    if (!passKeys.has(pass)) refuse('held_pass', `there is no pass ${pass}`, `/worked_under_hold/${number}/pass`);
  }
  checkFindings(record.findings, record, '/findings', true);
  checkFindings(record.private_findings, record, '/private_findings', false);
  checkRuns(record.runs);
}

// The digest of what each plugin was asked. Later records than the second name earlier ones that are not in them.
export async function checkInputs(record) {
  if (record.sequence > 2 || (record.runs ?? []).length === 0) return;
  const history = record.previous === null ? [] : [record.previous];
  const asked = await sha256Hex(canonicalBytes({ history, now: record.issued_at, sheet: without(record, ...NOT_ASKED) }));
  for (const [number, { input }] of record.runs.entries()) {
    if (input !== asked) refuse('run_input', 'the digest of what a plugin was asked is another', `/runs/${number}/input`);
  }
}
