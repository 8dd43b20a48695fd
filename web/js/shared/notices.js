/** Messages of the page: toasts, with a button to undo, and a banner while the server is away. */

import { getAccess, onConnection } from "./http.js";
import { h } from "./dom.js";
import { icon } from "./icons.js";

const LONG_MS = 9000;
const toasts = h("div", { class: "toasts", role: "status", "aria-live": "polite" });

/**
 * @param {string} text @param {{label: string, act: () => void}} [way]
 * @returns {() => void}  Takes it away.
 */
export function toast(text, way) {
  const close = () => {
    clearTimeout(timer);
    box.remove();
  };
  const box = h(
    "div",
    { class: "toast" },
    h("span", {}, text),
    way &&
      h(
        "button",
        {
          type: "button",
          onclick: () => {
            close();
            way.act();
          },
        },
        way.label,
      ),
    h("button", { type: "button", class: "quiet", "aria-label": "Close", onclick: close }, icon("close")),
  );
  let timer = window.setTimeout(close, LONG_MS);
  // it stays while the pointer or the focus is on it
  for (const event of ["pointerenter", "focusin"]) box.addEventListener(event, () => clearTimeout(timer));
  for (const event of ["pointerleave", "focusout"])
    box.addEventListener(event, () => {
      clearTimeout(timer);
      timer = window.setTimeout(close, LONG_MS);
    });
  while (toasts.childElementCount > 2) toasts.firstElementChild?.remove();
  toasts.append(box);
  return close;
}

/** @param {unknown} error */
export const toastError = (error) => {
  toast(error instanceof Error ? error.message : String(error));
};

/** Add toasts and the banner to the page, and poll the server while it is away. @param {HTMLElement} place */
export function startNotices(place) {
  const text = h("span", {});
  const banner = h(
    "div",
    { class: "banner", role: "alert", hidden: true },
    h("span", { class: "dot", "aria-hidden": "true" }),
    text,
  );
  place.append(banner);
  document.body.append(toasts);
  let timer = 0;
  onConnection((state) => {
    const gone = state === "gone";
    banner.hidden = !gone;
    clearInterval(timer);
    if (gone) {
      text.textContent = "The server does not answer. Reconnecting… This page keeps your edits.";
      timer = window.setInterval(() => getAccess().catch(() => undefined), 1500);
    }
  });
}
