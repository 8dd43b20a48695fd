/** The article of a build sheet as elements: the server writes it, for every place the same. */

/**
 * Read the article. The styles of its pictures stay behind: the page has its own.
 * @param {string} html @returns {HTMLElement}
 */
export function parseArticle(html) {
  const parsed = new DOMParser().parseFromString(html, "text/html");
  for (const one of parsed.querySelectorAll("style, script")) one.remove();
  const article = parsed.querySelector("article");
  if (!article) throw new Error("The server sent no sheet.");
  return document.importNode(article, true);
}

/** @param {HTMLElement} place @returns {HTMLInputElement[]} */
export const boxesOf = (place) => [
  .../** @type {NodeListOf<HTMLInputElement>} */ (place.querySelectorAll("input[data-step]")),
];

/**
 * Show on the drawing what is done, and the wire of one step alone.
 *
 * @param {HTMLElement} place @param {{key: string, done: Set<string>}} what  key: of a step; empty for none
 */
export function markPicture(place, { key, done }) {
  const steps = boxesOf(place).map(({ dataset }) => dataset.step ?? "");
  let found = false;
  for (const wire of /** @type {NodeListOf<SVGElement>} */ (place.querySelectorAll(".picture [data-wire]"))) {
    const mine = stepsOf(wire.dataset.wire ?? "", steps);
    const pointed = key !== "" && mine.includes(key);
    found ||= pointed;
    wire.classList.toggle("pointed", pointed);
    wire.classList.toggle("done", mine.length > 0 && mine.every((one) => done.has(one)));
  }
  place.querySelector(".picture")?.classList.toggle("pointing", found);
}

/**
 * The steps that solder a wire of the drawing. A stub to ground stands for all ground wires at its lug.
 * @param {string} wire its two ends @param {string[]} steps keys
 */
export function stepsOf(wire, steps) {
  if (steps.includes(wire)) return [wire];
  const [lug, other] = wire.split("~");
  return other ? [] : steps.filter((step) => step.includes("~") && step.split("~").includes(lug));
}
