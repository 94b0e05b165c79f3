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

// Keys and numbers on the way to a value, as a pointer.
export function pointerOf(path) {
  return path.map((part) => `/${String(part).replace(/~/g, '~0').replace(/\//g, '~1')}`).join('');
}

// Calls `visit(object, path)` for the value and every object inside it. `path` changes after the call.
export function eachObject(value, visit, path = []) {
  if (Array.isArray(value)) {
    for (let at = 0; at < value.length; at += 1) step(value[at], at, visit, path);
  } else {
    visit(value, path);
    for (const key of Object.keys(value)) step(value[key], key, visit, path);
  }
}

function step(value, key, visit, path) {
  if (typeof value !== 'object' || value === null) return;
  path.push(key);
  eachObject(value, visit, path);
  path.pop();
}
