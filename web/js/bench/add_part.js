/** The tray: everything that can be added to a wiring, as pictures with words. */

import * as api from "./api.js";
import { fill, h, s } from "../shared/dom.js";
import { toastError } from "../shared/notices.js";

/** @import {Addition, Change} from "../shared/types.js" */

const GAP = 6,
  AIR = 2;

/** @param {(change: Change) => void} act */
export function trayView(act) {
  const tray = h("div", { class: "tray" });
  const element = h(
    "details",
    { class: "part adding" },
    h("summary", {}, h("span", {}, "Add a part")),
    h(
      "div",
      {},
      tray,
      h("p", { class: "soft small" }, "A new part starts with usual values and is soldered to nothing yet."),
    ),
  );
  let asked = false;
  element.addEventListener("toggle", async () => {
    if (!element.open || asked) return;
    asked = true;
    try {
      const all = await api.listAdditions();
      fill(tray, ...all.map(button));
    } catch (error) {
      asked = false;
      toastError(error);
    }
  });
  /** @param {Addition} one */
  const button = (one) =>
    h(
      "button",
      { type: "button", title: one.about, onclick: () => act({ do: "add", what: one.name }) },
      picture(one),
      h("span", {}, one.title),
    );
  return { element };
}

/** The symbols of an addition, side by side. @param {Addition} one */
function picture({ strokes, size: [width, height], count }) {
  const step = width + GAP,
    box = [count * step - GAP + 2 * AIR, height + 2 * AIR];
  return s(
    "svg",
    {
      class: "symbol",
      viewBox: `${-AIR} ${-AIR} ${box.join(" ")}`,
      width: box[0],
      height: box[1],
      "aria-hidden": "true",
    },
    ...Array.from({ length: count }, (_, k) =>
      s("path", { d: strokes, transform: `translate(${k * step} 0)` }),
    ),
  );
}
