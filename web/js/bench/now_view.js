/** What sounds now, in words: the position, its name and the facts that its key has no room for. */

import { DIRECT } from "../player/path.js";
import { stopsOf } from "../session/stops.js";
import { humView } from "./hum_view.js";
import { h, say } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */

/** @param {Session} session @param {() => void} toggle  plays or pauses */
export function nowView(session, toggle) {
  const { get, on } = session;
  const number = h("span", { class: "number", "aria-hidden": "true" }),
    name = h("h2", {}),
    about = h("p", { class: "soft small" }),
    details = h("p", { class: "soft small", role: "status" });
  function show() {
    const { facts, check, way } = get(),
      { position } = session.slot();
    const stop = stopsOf(facts, way !== DIRECT.way).find((one) => one.position === position);
    const label = check?.positions.find((one) => one.position === position)?.label;
    say(number, position);
    say(name, label || (position ? `Position ${position}` : ""));
    say(about, stop ? [stop.how, stop.words].filter(Boolean).join(" · ") : "");
    say(details, stop?.details ?? "");
  }
  on(["check", "facts", "slots", "current", "way"], show);
  show();
  return {
    element: h("div", { class: "now" }, number, h("div", {}, name, about, humView(session, toggle))),
    /** Below the response, which some of them read. */
    details,
  };
}
