// Small hands for the document. Text goes in as text, never as markup.

/** @typedef {Record<string, string | number | boolean | null | ((event: Event) => void)>} Props */

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag
 * @param {Props} [props] attributes; a function is a listener, null and false leave out
 * @param {...(Node | string)} kids
 * @returns {HTMLElementTagNameMap[K]}
 */
export function el(tag, props = {}, ...kids) {
  const made = document.createElement(tag);
  dress(made, props);
  made.append(...kids);
  return made;
}

/**
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} tag
 * @param {Props} [props]
 * @param {...Node} kids
 * @returns {SVGElementTagNameMap[K]}
 */
export function svg(tag, props = {}, ...kids) {
  const made = document.createElementNS("http://www.w3.org/2000/svg", tag);
  dress(made, props);
  made.append(...kids);
  return made;
}

/** @param {Element} node @param {Props} props */
function dress(node, props) {
  for (const [name, value] of Object.entries(props)) {
    if (typeof value === "function") node.addEventListener(name, value);
    else if (value === true) node.setAttribute(name, "");
    else if (value !== false && value !== null) node.setAttribute(name, String(value));
  }
}

/** Change a text only when it changed, so that nothing is selected away or read twice. @param {Node} node @param {string} words */
export function say(node, words) {
  if (node.textContent !== words) node.textContent = words;
}

/** @param {Element} node @param {string} name @param {string | null} value */
export function mark(node, name, value) {
  if (value === null) node.removeAttribute(name);
  else if (node.getAttribute(name) !== value) node.setAttribute(name, value);
}

/** @param {string} id @returns {HTMLElement} */
export function at(id) {
  const found = document.getElementById(id);
  if (!found) throw new Error(`the page has no ${id}`);
  return found;
}

/**
 * Keep children one for one with items, by key, so that a button is never swapped under a thumb.
 * @template T
 * @template {{ node: HTMLElement, show: (item: T) => void }} P
 * @param {HTMLElement} parent
 * @param {Map<string, P>} kept
 * @param {readonly T[]} items
 * @param {(item: T) => string} key
 * @param {(item: T) => P} make
 */
export function keep(parent, kept, items, key, make) {
  const wanted = new Set(items.map(key));
  for (const [name, part] of kept) {
    if (!wanted.has(name)) {
      part.node.remove();
      kept.delete(name);
    }
  }
  items.forEach((item, i) => {
    let part = kept.get(key(item));
    if (!part) {
      part = make(item);
      kept.set(key(item), part);
    }
    if (parent.children[i] !== part.node) parent.insertBefore(part.node, parent.children[i] ?? null);
    part.show(item);
  });
}
