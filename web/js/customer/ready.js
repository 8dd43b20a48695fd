/** The progress of the sounds while they are rendered. In a file they all are. */

import { h, say } from "../shared/dom.js";

/** @import {Page} from "./page.js" */

/** @param {Page} page */
export function readyView({ get, on }) {
  const bar = h("progress", { max: 1, "aria-label": "Sounds prepared" }),
    text = h("p", { class: "small" });
  const box = h("section", { class: "ready", "aria-label": "Being prepared" }, text, bar);
  const show = () => {
    const { ready, failed, ways } = get().offer;
    box.hidden = ready >= 1 && failed === 0;
    bar.hidden = failed > 0;
    bar.value = ready;
    const time =
      ways.length > 1 ? `about ${ways.length} minutes, one for each way to hear them` : "about a minute";
    say(
      text,
      failed > 0
        ? "Some sounds could not be prepared. The workshop can see why; please let them know."
        : `Preparing the sounds. This takes ${time}; the page updates by itself.`,
    );
  };
  on(["offer"], show);
  show();
  return box;
}
