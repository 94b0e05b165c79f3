// What a report may hold, so that its bytes show one thing only (report-format.md, "What it may hold").

import { refuse } from './text.js';
import { inflateZlib } from './inflate.js';
import { dictOf, nameOf, resolve } from './pdffile.js';

const CATALOGUE_KEYS = [
  'AF', 'AcroForm', 'Lang', 'MarkInfo', 'Metadata', 'Names', 'Outlines', 'OutputIntents', 'PageMode', 'Pages', 'Perms', 'StructTreeRoot', 'Type',
  'ViewerPreferences',
];
const FIELD_KEYS = ['AP', 'F', 'FT', 'P', 'Rect', 'StructParent', 'Subtype', 'T', 'TU', 'Type', 'V'];
const SIGNATURE_KEYS = ['ByteRange', 'Contents', 'Filter', 'M', 'Name', 'Reference', 'SubFilter', 'Type'];
const FORBIDDEN_KEYS = new Map(
  Object.entries({
    R3: ['OpenAction', 'AA', 'JavaScript', 'JS', 'URI', 'XFA', 'Trans', 'Dur', 'PresSteps'],
    R4: ['OCProperties', 'OC', 'OCGs'],
    R5: ['Alternates', 'OPI', 'Thumb', 'PieceInfo'],
  }).flatMap(([rule, keys]) => keys.map((key) => [key, rule])),
);
const ACTIONS = new Set([
  'GoTo3DView', 'GoToE', 'GoToR', 'Hide', 'ImportData', 'JavaScript', 'Launch', 'Movie', 'Named', 'Rendition', 'ResetForm', 'RichMediaExecute',
  'SetOCGState', 'Sound', 'SubmitForm', 'Thread', 'Trans', 'URI',
]);
const EMBEDDED = ['disclosures.json', 'key-history.json', 'record.json'];
const MOST_EMBEDDED = 16 * 1024 * 1024;

// Calls `visit(value)` for a value and all inside it.
function eachValue(value, visit) {
  visit(value);
  if (value.t === 'arr') for (const one of value.v) eachValue(one, visit);
  if (value.t === 'dict') for (const one of value.v.values()) eachValue(one, visit);
}

function keysAmong(dictionary, allowed, rule, what) {
  for (const key of dictionary.keys()) if (!allowed.includes(key)) refuse(rule, `${what} has ${key}`);
}

function checkReferences(file) {
  const reached = new Set();
  const open = [{ t: 'dict', v: file.trailer }];
  while (open.length > 0) {
    eachValue(open.pop(), (value) => {
      if (value.t !== 'ref' || reached.has(value.v)) return;
      const target = file.objects.get(value.v);
      if (target === undefined) refuse('R1', `the object ${value.v} is named and not there`);
      reached.add(value.v);
      open.push(target.value);
    });
  }
  if (reached.size !== file.objects.size) refuse('R1', 'an object is not reached from the trailer');
}

function checkDictionary(dictionary) {
  for (const key of dictionary.keys()) if (FORBIDDEN_KEYS.has(key)) refuse(FORBIDDEN_KEYS.get(key), `${key} stands in the file`);
  for (const [key, rule] of [['S', 'R3'], ['Type', 'R10'], ['Subtype', 'R10']]) if (dictionary.get(key)?.t === 'ref') refuse(rule, `${key} is a reference`);
  const action = nameOf(dictionary.get('S'));
  if (ACTIONS.has(action)) refuse('R3', `an action ${action}`);
  const type = nameOf(dictionary.get('Type'));
  if (type === 'OCG' || type === 'OCMD') refuse('R4', 'a layer');
  if (type === 'Filespec' && !dictionary.has('EF')) refuse('R5', 'a file outside is named');
  return type;
}

function checkStream(dictionary) {
  for (const key of ['F', 'FFilter', 'FDecodeParms', 'Ref']) if (dictionary.has(key)) refuse('R5', `a stream has ${key}`);
  if (['ObjStm', 'XRef'].includes(nameOf(dictionary.get('Type')))) refuse('R6', 'a stream of objects or of the table');
  const filter = dictionary.get('Filter');
  if (filter !== undefined && !(filter.t === 'name' && (filter.v === 'FlateDecode' || filter.v === 'DCTDecode'))) refuse('R6', 'a stream is packed in another way');
  if (dictionary.has('DecodeParms')) refuse('R6', 'a stream has DecodeParms');
}

// Everything that must stand nowhere, and how often signatures, annotations and embedded files stand in the file.
function checkAnywhere(file, fieldRef) {
  const counts = { signatures: 0, files: 0, annotations: [] };
  for (const { number, value, stream } of file.objects.values()) {
    if (stream) checkStream(value.v);
    eachValue(value, (one) => {
      if (one.t !== 'dict') return;
      const type = checkDictionary(one.v);
      if (type === 'Sig' || one.v.has('ByteRange')) counts.signatures += 1;
      if (one.v.has('EF')) counts.files += 1;
      const isAnnotation = type === 'Annot' || nameOf(one.v.get('Subtype')) === 'Widget';
      if (isAnnotation && number !== fieldRef) refuse('R10', 'another annotation than the signature field');
      if (one.v.has('Annots')) {
        const list = resolve(file, one.v.get('Annots'));
        if (list?.t !== 'arr') refuse('R10', 'annotations that are no list');
        counts.annotations.push(...list.v);
      }
    });
  }
  if (counts.signatures !== 1) refuse('R7', 'not exactly one signature');
  const [only, more] = counts.annotations;
  if (only?.t !== 'ref' || only.v !== fieldRef || more !== undefined) refuse('R10', 'other annotations than the signature field');
  return counts.files;
}

function checkField(file, { form, field }) {
  keysAmong(form, ['Fields', 'SigFlags'], 'R8', 'the form');
  const flags = form.get('SigFlags');
  if (flags?.t !== 'int' || flags.v !== 3) refuse('R8', 'SigFlags is not 3');
  if (form.get('Fields')?.t !== 'arr') refuse('R8', 'the list of fields stands in an object of its own');
  keysAmong(field, FIELD_KEYS, 'R9', 'the field');
  if (nameOf(field.get('FT')) !== 'Sig' || nameOf(field.get('Subtype')) !== 'Widget') refuse('R9', 'the field is of another kind');
  const shown = field.get('F');
  if (shown?.t !== 'int' || shown.v !== 132) refuse('R9', 'F of the field is not 132: paper and screen may differ');
  if (!field.has('AP')) return;
  const appearance = dictOf(file, field.get('AP'));
  if (appearance === null || [...appearance.keys()].join() !== 'N') refuse('R9', 'the appearance of the field has another form');
  const normal = appearance.get('N');
  if (normal.t !== 'ref' || !file.objects.get(normal.v)?.stream) refuse('R9', 'the appearance of the field is no stream');
}

function checkCertified(file, { catalogue, signature, valueRef }) {
  keysAmong(signature, SIGNATURE_KEYS, 'R11', 'the signature');
  for (const [key, wanted] of [['Type', 'Sig'], ['Filter', 'Adobe.PPKLite'], ['SubFilter', 'ETSI.CAdES.detached']]) {
    if (nameOf(signature.get(key)) !== wanted) refuse('R11', `${key} of the signature is not ${wanted}`);
  }
  const permissions = dictOf(file, catalogue.get('Perms'));
  const certified = permissions?.get('DocMDP');
  if (permissions?.size !== 1 || certified?.t !== 'ref' || certified.v !== valueRef) refuse('R12', 'the file is not certified by its signature');
  const references = signature.get('Reference');
  const reference = references?.t === 'arr' && references.v.length === 1 ? dictOf(file, references.v[0]) : null;
  const parameters = reference && dictOf(file, reference.get('TransformParams'));
  const allowed = parameters?.get('P');
  if (!parameters || nameOf(reference.get('TransformMethod')) !== 'DocMDP' || allowed?.t !== 'int' || allowed.v !== 1) {
    refuse('R12', 'changes are not forbidden');
  }
}

// The text of a string of a PDF: ASCII, or FE FF and UTF-16.
function fileName(found) {
  if (found === undefined || (found.t !== 'str' && found.t !== 'hex') || found.v === null) return null;
  if (!found.v.startsWith('\u00fe\u00ff')) return found.v;
  let text = '';
  for (let at = 2; at + 1 < found.v.length; at += 2) text += String.fromCharCode(found.v.charCodeAt(at) * 256 + found.v.charCodeAt(at + 1));
  return found.v.length % 2 === 0 ? text : null;
}

// R13: the embedded files by name, as they lie in the file.
function embeddedFiles(file, bytes, catalogue, countOfFiles) {
  const names = dictOf(file, catalogue.get('Names'));
  const tree = names && names.size === 1 ? dictOf(file, names.get('EmbeddedFiles')) : null;
  const list = tree && tree.size === 1 ? tree.get('Names') : null;
  if (list?.t !== 'arr' || list.v.length % 2 !== 0) refuse('R13', 'the names of the embedded files have another form');
  const found = new Map();
  const references = new Map();
  for (let at = 0; at < list.v.length; at += 2) {
    const name = fileName(list.v[at]);
    const specification = list.v[at + 1];
    if (!EMBEDDED.includes(name) || specification.t !== 'ref') refuse('R13', 'an embedded file of another name');
    if (found.has(name) || [...found.keys()].some((other) => other > name)) refuse('R13', 'the embedded files are not sorted by name');
    found.set(name, unpacked(file, bytes, specification, name));
    references.set(name, specification.v);
  }
  if (!found.has('record.json')) refuse('R13', 'there is no record.json');
  if (countOfFiles !== found.size) refuse('R13', 'other embedded files besides');
  const order = ['record.json', ...[...found.keys()].filter((name) => name !== 'record.json')];
  const associated = catalogue.get('AF');
  const same = associated?.t === 'arr' && associated.v.length === order.length && associated.v.every((one, at) => one.t === 'ref' && one.v === references.get(order[at]));
  if (!same) refuse('R13', 'AF names other files');
  return found;
}

function unpacked(file, bytes, reference, name) {
  const specification = dictOf(file, reference);
  if (specification === null || fileName(specification.get('F')) !== name || fileName(specification.get('UF')) !== name) {
    refuse('R13', `the specification of ${name} has another form`);
  }
  const held = dictOf(file, specification.get('EF'));
  const first = held?.get('F');
  if (first?.t !== 'ref' || [...held.values()].some((one) => one.t !== 'ref' || one.v !== first.v)) refuse('R13', `${name} has more than one stream`);
  const { value, stream } = file.objects.get(first.v) ?? {};
  if (!stream) refuse('R13', `${name} has no stream`);
  const raw = bytes.subarray(stream.from, stream.to);
  const filter = value.v.get('Filter');
  if (filter !== undefined && filter.v !== 'FlateDecode') refuse('R13', `${name} is packed in another way`);
  if (filter === undefined && raw.length > MOST_EMBEDDED) refuse('R13', `${name} is too long`);
  return filter === undefined ? raw : inflateZlib(raw, MOST_EMBEDDED);
}

// All rules R1 to R13; gives the embedded files, a Map from name to bytes. Throws a Refusal.
export function checkHoldings(file, bytes, reached) {
  checkReferences(file);
  if (reached === null) refuse('R7', 'no signature is reached from the catalogue');
  const files = checkAnywhere(file, reached.fieldRef);
  keysAmong(reached.catalogue, CATALOGUE_KEYS, 'R2', 'the catalogue');
  checkField(file, reached);
  checkCertified(file, reached);
  return embeddedFiles(file, bytes, reached.catalogue, files);
}
