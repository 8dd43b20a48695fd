/** The signed record, at the top of the page. */

import { day, inGroups } from "./words.js";
import { fill, h } from "../shared/dom.js";
import { same } from "../shared/store.js";

/** @import {Page} from "./page.js" */
/** @import {SignOff} from "./words.js" */

/**
 * A signature that the workshop does not have yet.
 * @param {SignOff} signoff @param {() => void} takeBack
 */
const inAnswer = ({ label, name, date }, takeBack) => [
  h("h2", {}, "Signed in your answer"),
  h("p", { class: "chosen-one" }, h("b", {}, label)),
  h("p", {}, `Signed by ${name} on ${day(date)}. The workshop has it once you send your answer, below.`),
  h("div", { class: "row" }, h("button", { type: "button", onclick: takeBack }, "Take the signature back")),
];

/** @param {Page} page */
export function recordView({ get, on, source, setOffer }) {
  const box = h("section", { class: "record", tabindex: -1, "aria-label": "Your sign-off" });
  const takeBack = () => {
    source.answer?.unsign();
    setOffer({ signoff: null });
  };
  /** @type {SignOff | null} */
  let shown = null;
  function show() {
    const { signoff } = get().offer;
    // other news must not shut what the reader has opened
    if (same(signoff, shown)) return;
    shown = signoff;
    box.hidden = signoff === null;
    if (!signoff) return;
    if (source.answer && !signoff.sha256) {
      fill(box, ...inAnswer(signoff, takeBack));
      return;
    }
    fill(
      box,
      h("h2", {}, "Signed off"),
      h(
        "p",
        { class: "chosen-one" },
        signoff.of === "sound" && h("span", { class: "number" }, signoff.number),
        h("b", {}, signoff.label),
      ),
      h("p", {}, `Signed by ${signoff.name} on ${day(signoff.date)}. The workshop has the record.`),
      h(
        "p",
        { class: "soft small" },
        "You can still listen and write notes. If you change your mind, talk to the workshop.",
      ),
      h(
        "details",
        {},
        h("summary", {}, "Keep a proof"),
        h(
          "p",
          { class: "small" },
          "This is the fingerprint of the record. If a single letter of the record changed, its fingerprint would change too. Keep the file or note the fingerprint.",
        ),
        h("p", { class: "print small" }, inGroups(signoff.sha256)),
        h(
          "div",
          { class: "row" },
          source.receipt &&
            h("a", { class: "button main", href: source.receipt, target: "_blank" }, "Receipt to print"),
          source.record &&
            h("a", { class: "button", href: source.record, download: "sign-off.json" }, "Save the record"),
        ),
      ),
    );
  }
  box.hidden = true;
  on(["offer"], show);
  show();
  return box;
}
