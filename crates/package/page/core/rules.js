// What a record says must hold together beyond its schema (record-format.md).

import { refuse } from './text.js';
import { atPointer, eachObject, pointerOf } from './pointer.js';
import { valueOf } from './quantity.js';
import { isPartialDate, isUtcTime } from './times.js';
import { withheldPlaces } from './withhold.js';

const DATE_KEYS = new Set(['on', 'taken_on', 'calibrated_on', 'return_by', 'valid_until', 'protected_as_of', 'made_not_before', 'made_not_after', 'earliest', 'latest']);

function checkQuantity(quantity, place) {
  const value = valueOf(quantity.as_read, quantity.unit);
  if (value === null) refuse('quantity_words', 'a reading has words or units that are not known', `${place}/as_read`);
  if (value !== quantity.value) refuse('quantity_value', `the readings come to ${value} ${quantity.unit}, not ${quantity.value}`, `${place}/value`);
  if (!/[1-9]/.test(quantity.standard_uncertainty) || quantity.standard_uncertainty.startsWith('-')) {
    refuse('quantity_uncertainty', 'the uncertainty is not above zero', `${place}/standard_uncertainty`);
  }
}

// Keys of the entries of a list stand once each; instruments that quantities name are there.
function checkKeys(object, instruments, path) {
  for (const key of Object.keys(object)) {
    const list = object[key];
    if (!Array.isArray(list) || typeof list[0]?.id !== 'string') continue;
    const seen = new Set();
    for (const { id } of list) {
      if (seen.has(id)) refuse('key_twice', `the key ${id} stands twice`, `${pointerOf(path)}/${key}`);
      seen.add(id);
    }
  }
  if (Object.hasOwn(object, 'as_read') && object.instrument !== undefined && !instruments.has(object.instrument)) {
    refuse('instrument', `the instrument ${object.instrument} is not among those of the examination`, pointerOf(path));
  }
}

function checkFindings(list, record, place, inPublic) {
  const plugins = new Set((record.runs ?? []).map(({ plugin }) => plugin).concat('tangmark'));
  for (const [number, finding] of (list ?? []).entries()) {
    const here = `${place}/${number}`;
    if (!plugins.has(finding.plugin)) refuse('finding_plugin', `the plugin ${finding.plugin} is not among the runs`, here);
    if (inPublic && finding.rule.startsWith('price.')) refuse('finding_price', 'a finding on prices stands in the open', here);
    for (const pointer of finding.evidence ?? []) {
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

// The rules of a record that follows the schema. Throws a Refusal whose place is a JSON Pointer.
export function checkRules(record) {
  if ((record.sequence === 1) !== (record.previous === null)) {
    refuse('previous', '`previous` is null exactly in the first record', '/previous');
  }
  withheldPlaces(record);
  const instruments = new Set((record.examination?.instruments ?? []).map(({ id }) => id));
  eachObject(record, (object, path) => {
    checkKeys(object, instruments, path);
    if (Object.hasOwn(object, 'as_read')) checkQuantity(object, pointerOf(path));
    for (const key of Object.keys(object)) {
      if (DATE_KEYS.has(key) && typeof object[key] === 'string' && !isPartialDate(object[key])) {
        refuse('date', 'the calendar has no such date', `${pointerOf(path)}/${key}`);
      }
    }
    if (Object.hasOwn(object, 'earliest') && object.earliest > object.latest && !object.earliest.startsWith(object.latest)) {
      refuse('date', '`latest` is before `earliest`', pointerOf(path));
    }
  });
  for (const [at, time] of [['/issued_at', record.issued_at], ...(record.overrides ?? []).map(({ at }, number) => [`/overrides/${number}/at`, at])]) {
    if (!isUtcTime(time)) refuse('time', 'the calendar has no such time', at);
  }
  checkFindings(record.findings, record, '/findings', true);
  checkFindings(record.private_findings, record, '/private_findings', false);
  checkRuns(record.runs);
}
