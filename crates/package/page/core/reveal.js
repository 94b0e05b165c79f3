// A record with its disclosed values is held to the same rules as the sealed one.

import { refuse } from './text.js';
import { schemaCheck } from './schema.js';
import { checkRules } from './rules.js';

export function checkRevealed(record, schema) {
  const fault = schemaCheck(schema)(record);
  if (fault) refuse('disclosed_schema', `with the disclosed values ${fault.place || 'the record'} ${fault.message}`, fault.place);
  checkRules(record);
}
