/** Create elements without markup in strings: text stays text. */

/** @typedef {Node | string | number | null | undefined | false} Kid */

/** @param {Element} element @param {Record<string, any>} props */
function dress(element, props) {
  for (const [key, value] of Object.entries(props)) {
    if (value === undefined || value === null) continue;
    if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (key === "value" && "value" in element && !(element instanceof SVGElement)) element.value = value;
    else if (key === "checked") /** @type {HTMLInputElement} */ (element).checked = value;
    else if (typeof value === "boolean" && !key.startsWith("aria-")) element.toggleAttribute(key, value);
    else element.setAttribute(key, String(value));
  }
}

/** @param {Kid[]} kids */
const nodes = (kids) =>
  kids.flatMap((kid) =>
    kid === null || kid === undefined || kid === false ? [] : [kid instanceof Node ? kid : String(kid)],
  );

/**
 * @template {keyof HTMLElementTagNameMap} K
 * @param {K} tag @param {Record<string, any>} [props] attributes; `on…` listens @param {...Kid} kids
 * @returns {HTMLElementTagNameMap[K]}
 */
export function h(tag, props = {}, ...kids) {
  const element = document.createElement(tag);
  element.append(...nodes(kids));
  dress(element, props);
  return element;
}

/**
 * @template {keyof SVGElementTagNameMap} K
 * @param {K} tag @param {Record<string, any>} [props] @param {...Kid} kids
 * @returns {SVGElementTagNameMap[K]}
 */
export function s(tag, props = {}, ...kids) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", tag);
  element.append(...nodes(kids));
  dress(element, props);
  return element;
}

/**
 * A picture as plain data becomes elements.
 * @typedef {{tag: string, attributes: Record<string, string | number>, children: (Plain | string)[]}} Plain
 * @param {Plain | string} one @returns {Node}
 */
export const build = (one) =>
  typeof one === "string"
    ? document.createTextNode(one)
    : s(/** @type {"g"} */ (one.tag), one.attributes, ...one.children.map(build));

/**
 * A picture as an element, with words for who does not see it.
 * @param {{width: number, height: number, node: Plain}} drawn @param {string} words @param {string} name of
 *   its class
 */
export const picture = ({ width, height, node }, words, name) =>
  s(
    "svg",
    { class: name, viewBox: `0 0 ${width} ${height}`, width, height, role: "img", "aria-label": words },
    build(node),
  );

/** Replace the content of an element. @param {Element} element @param {...Kid} kids */
export const fill = (element, ...kids) => element.replaceChildren(...nodes(kids));

/**
 * Set a text only if it differs, so that screen readers do not repeat it.
 * @param {Element} element @param {string} text
 */
export function say(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

let count = 0;
/** A unique id for an element. @param {string} [about] */
export const uid = (about = "id") => `${about}-${(count += 1)}`;

/**
 * A choice between a few options, as native radio buttons.
 * @param {string} legend @param {{value: string, label: string}[]} options @param {string} chosen
 * @param {(value: string) => void} on
 */
export function choice(legend, options, chosen, on) {
  const name = uid("choice");
  const inputs = options.map(({ value }) =>
    h("input", { type: "radio", name, value, checked: value === chosen, onchange: () => on(value) }),
  );
  const element = h(
    "div",
    { class: "choice", role: "radiogroup", "aria-label": legend },
    ...options.map(({ label }, k) => h("label", {}, inputs[k], h("span", {}, label))),
  );
  /** @param {string} value */
  const set = (value) =>
    inputs.forEach((input) => {
      input.checked = input.value === value;
    });
  return { element, set };
}
