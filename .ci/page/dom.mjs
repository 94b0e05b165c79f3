// As much of a document as the page's views need: elements that keep their attributes and children, and tell their text.

class Node {
  constructor(name, space = null) {
    Object.assign(this, { tagName: space ? name : name.toUpperCase(), namespaceURI: space, attributes: {}, children: [], listeners: {} });
  }

  setAttribute(name, value) {
    this.attributes[name] = value;
  }

  addEventListener(name, listener) {
    this.listeners[name] = listener;
  }

  append(...children) {
    this.children.push(...children);
  }

  replaceChildren(...children) {
    this.children = children;
  }

  get textContent() {
    return this.children.map(child => (typeof child === 'object' ? child.textContent : String(child))).join('');
  }

  set textContent(text) {
    this.children = text === '' ? [] : [text];
  }

  get clientWidth() {
    return 960;
  }
}

/** Puts the document in place; the views ask for it when they are called. */
export function withDocument() {
  globalThis.document = {
    documentElement: new Node('html'), createElement: name => new Node(name), createElementNS: (space, name) => new Node(name, space), getElementById: () => new Node('div'),
  };
  globalThis.ResizeObserver = class {
    observe() {}
  };
}

/** Every element below one, or below a list of them, for which `wanted` holds. */
export function all(node, wanted) {
  if (Array.isArray(node)) return node.flatMap(one => all(one, wanted));
  if (!(node instanceof Node)) return [];
  return [...(wanted(node) ? [node] : []), ...node.children.flatMap(child => all(child, wanted))];
}

/** Elements by name and, where it is given, by a class. */
export function elements(node, name, named = null) {
  return all(node, one => one.tagName.toLowerCase() === name && (named === null || (one.attributes.class ?? '').split(' ').includes(named)));
}

/** The text of what a view gives: a node, a list, or nothing; no-break spaces as spaces. */
export function textOf(node) {
  if (Array.isArray(node)) return node.map(textOf).join('\n');
  return (node?.textContent ?? '').replaceAll('\u00a0', ' ');
}
