// A checker for the keywords of JSON Schema (Draft 2020-12) that the record schema uses. A keyword it does not know
// is refused, so that no rule of a later schema is passed over.

import { refuse, textOf } from './text.js';
import { isObject } from './json.js';
import { sha256Hex } from './key.js';
import { pointerOf } from './pointer.js';

const WORDS_ONLY = ['$id', '$schema', '$defs', 'title', 'description'];
// Numbers of this format have a greatest value (record-format.md, "What makes a record invalid"); other formats are words alone.
const GREATEST = { uint32: 4294967295 };
const TYPES = {
  object: isObject,
  array: Array.isArray,
  string: (value) => typeof value === 'string',
  integer: (value) => Number.isInteger(value),
  number: (value) => typeof value === 'number',
  boolean: (value) => typeof value === 'boolean',
  null: (value) => value === null,
};

// Length in characters, as JSON Schema counts: pairs of surrogates are one.
function characters(text) {
  let count = text.length;
  for (let at = 0; at < text.length; at += 1) if ((text.charCodeAt(at) & 0xfc00) === 0xdc00) count -= 1;
  return count;
}

// Each check gives null or { message, path }; the path grows from the inside outwards.
function within(fault, key) {
  fault.path.push(key);
  return fault;
}

const KEYWORDS = {
  type: (type) => (value) => (TYPES[type](value) ? null : { message: `is no ${type}`, path: [] }),
  const: (wanted) => (value) => (value === wanted ? null : { message: `is not \`${wanted}\``, path: [] }),
  enum: (list) => (value) => (list.includes(value) ? null : { message: 'is none of the words of its list', path: [] }),
  pattern: (pattern) => {
    const form = new RegExp(pattern, 'u');
    return (value) => (typeof value !== 'string' || form.test(value) ? null : { message: 'has another form than demanded', path: [] });
  },
  minLength: (least) => (value) =>
    typeof value !== 'string' || characters(value) >= least ? null : { message: `has fewer than ${least} characters`, path: [] },
  maxLength: (most) => (value) =>
    typeof value !== 'string' || value.length <= most || characters(value) <= most ? null : { message: `has more than ${most} characters`, path: [] },
  minimum: (least) => (value) => (typeof value !== 'number' || value >= least ? null : { message: `is below ${least}`, path: [] }),
  maximum: (most) => (value) => (typeof value !== 'number' || value <= most ? null : { message: `is above ${most}`, path: [] }),
  format: (format) => (Object.hasOwn(GREATEST, format) ? KEYWORDS.maximum(GREATEST[format]) : () => null),
  minItems: (least) => (value) => (!Array.isArray(value) || value.length >= least ? null : { message: `has fewer than ${least} entries`, path: [] }),
  maxItems: (most) => (value) => (!Array.isArray(value) || value.length <= most ? null : { message: `has more than ${most} entries`, path: [] }),
  required: (names) => (value) => {
    if (!isObject(value)) return null;
    const missing = names.find((name) => !Object.hasOwn(value, name));
    return missing === undefined ? null : { message: `lacks \`${missing}\``, path: [] };
  },
  items: (schema, compile) => {
    const check = compile(schema);
    return (value) => {
      if (!Array.isArray(value)) return null;
      for (let at = 0; at < value.length; at += 1) {
        const fault = check(value[at]);
        if (fault) return within(fault, at);
      }
      return null;
    };
  },
  allOf: (schemas, compile) => {
    const checks = schemas.map(compile);
    return (value) => {
      for (const check of checks) {
        const fault = check(value);
        if (fault) return fault;
      }
      return null;
    };
  },
  anyOf: (schemas, compile) => {
    const checks = schemas.map(compile);
    return (value) => {
      const faults = checks.map((check) => check(value));
      return faults.includes(null) ? null : faults[0];
    };
  },
  oneOf: (schemas, compile) => {
    // A list of constants is looked up; it is the common case.
    if (schemas.every((schema) => Object.hasOwn(schema, 'const'))) {
      const words = new Set(schemas.map((schema) => schema.const));
      return (value) => (words.has(value) ? null : { message: 'is none of the words of its list', path: [] });
    }
    const checks = schemas.map(compile);
    return (value) =>
      checks.filter((check) => check(value) === null).length === 1 ? null : { message: 'fits not exactly one form', path: [] };
  },
  not: (schema, compile) => {
    const check = compile(schema);
    return (value) => (check(value) === null ? { message: 'has a form that is not allowed', path: [] } : null);
  },
};

function compileSchema(root) {
  const named = new Map();

  function reference(name) {
    if (!named.has(name)) {
      const target = /^#\/\$defs\/([A-Za-z0-9_]+)$/.exec(name);
      if (!target) refuse('schema_keyword', `a reference of a form that is not read: ${name}`);
      const holder = { check: null };
      named.set(name, holder);
      holder.check = compile(root.$defs[target[1]]);
    }
    const holder = named.get(name);
    return (value) => holder.check(value);
  }

  function members(schema) {
    const known = new Map(Object.entries(schema.properties ?? {}).map(([key, value]) => [key, compile(value)]));
    const closed = schema.additionalProperties === false;
    return (value) => {
      if (!isObject(value)) return null;
      for (const key of Object.keys(value)) {
        const check = known.get(key);
        if (check === undefined) {
          if (closed) return { message: 'is not known to this version', path: [key] };
          continue;
        }
        const fault = check(value[key]);
        if (fault) return within(fault, key);
      }
      return null;
    };
  }

  function compile(schema) {
    if (schema === true) return () => null;
    const checks = [];
    for (const [keyword, value] of Object.entries(schema)) {
      if (WORDS_ONLY.includes(keyword) || keyword === 'properties') continue;
      if (keyword === '$ref') checks.push(reference(value));
      else if (keyword === 'additionalProperties' && typeof value === 'boolean') continue;
      else if (Object.hasOwn(KEYWORDS, keyword)) checks.push(KEYWORDS[keyword](value, compile));
      else refuse('schema_keyword', `the schema has a keyword that is not read: ${keyword}`);
    }
    if (schema.properties || schema.additionalProperties === false) checks.push(members(schema));
    if (checks.length === 1) return checks[0];
    return (value) => {
      for (const check of checks) {
        const fault = check(value);
        if (fault) return fault;
      }
      return null;
    };
  }

  return compile(root);
}

const COMPILED = new WeakMap();
const SCHEMA_DIGESTS = new WeakMap();

// A function (value) => null or { message, place } for the bytes of a schema file; made once for the same bytes.
export function schemaCheck(bytes) {
  if (!COMPILED.has(bytes)) {
    const check = compileSchema(JSON.parse(textOf(bytes)));
    COMPILED.set(bytes, (value) => {
      const fault = check(value);
      return fault && { message: fault.message, place: pointerOf(fault.path.reverse()) };
    });
  }
  return COMPILED.get(bytes);
}

// The digest of the bytes of a schema file, taken once for the same bytes.
export async function digestOfSchema(bytes) {
  if (!SCHEMA_DIGESTS.has(bytes)) SCHEMA_DIGESTS.set(bytes, await sha256Hex(bytes));
  return SCHEMA_DIGESTS.get(bytes);
}
