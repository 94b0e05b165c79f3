// JSON Pointers (RFC 6901).

// The value a pointer names, or undefined where it points at nothing.
export function atPointer(value, pointer) {
  if (pointer === '') return value;
  if (!pointer.startsWith('/') || /~(?![01])/.test(pointer)) return undefined;
  let here = value;
  for (const raw of pointer.slice(1).split('/')) {
    const part = raw.replace(/~1/g, '/').replace(/~0/g, '~');
    if (Array.isArray(here)) {
      if (!/^(0|[1-9][0-9]{0,6})$/.test(part)) return undefined;
      here = here[Number(part)];
    } else if (typeof here === 'object' && here !== null && Object.hasOwn(here, part)) here = here[part];
    else return undefined;
    if (here === undefined) return undefined;
  }
  return here;
}

// Calls `visit(object, pointer)` for the value and every object inside it.
export function eachObject(value, visit, pointer = '') {
  if (Array.isArray(value)) {
    for (let at = 0; at < value.length; at += 1) {
      if (typeof value[at] === 'object' && value[at] !== null) eachObject(value[at], visit, `${pointer}/${at}`);
    }
  } else if (typeof value === 'object' && value !== null) {
    visit(value, pointer);
    for (const key of Object.keys(value)) {
      if (typeof value[key] === 'object' && value[key] !== null) eachObject(value[key], visit, `${pointer}/${key}`);
    }
  }
}
