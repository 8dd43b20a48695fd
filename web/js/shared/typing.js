/**
 * Text that a person types into a field which the page also fills. The page notes what it put there itself;
 * any other text is the person's. It stays until it is applied, taken back, or overtaken by an undo.
 */

/** @typedef {HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement} Input */

/** Put a text into a field, as the page's own. @param {Input} input @param {string} text */
export function put(input, text) {
  if (input.value !== text) input.value = text;
  input.dataset.committed = text;
}

/** Whether a field holds a person's text. @param {Input} input */
export const isTyped = (input) => input.value !== (input.dataset.committed ?? "");

/** Whether a field must stay: a person types in it, or its text is being checked. @param {Input} input */
export const isInUse = (input) =>
  input.getAttribute("aria-busy") === "true" || (document.activeElement === input && isTyped(input));

/** The fields within an element. @param {Element} element @returns {Input[]} */
export const inputsIn = (element) => [
  .../** @type {NodeListOf<Input>} */ (element.querySelectorAll("[data-committed]")),
];
