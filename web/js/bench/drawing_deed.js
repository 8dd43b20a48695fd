/** What was just done on the drawing, in words, with a button that takes it back. */

import { changeWiring } from "../session/changes.js";
import { h, say } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {Change, Changed} from "../shared/types.js" */

/** @param {Session} session */
export function deedLine(session) {
  const words = h("span", { role: "status" });
  const undo = h("button", { type: "button", class: "quiet", hidden: true, onclick: session.undo }, "Undo");
  const element = h("p", { class: "board-deed small" }, words, undo);
  /** @param {string} text @param {string} [name] of what can be undone */
  function tell(text, name = "") {
    say(words, text);
    undo.hidden = !name;
    undo.setAttribute("aria-label", `Undo: ${name}`);
    element.classList.toggle("bad", text !== "" && !name);
  }
  session.on(["step"], ({ step }) => step && tell("")); // the page says what was undone
  return {
    element,
    /**
     * Do one thing to the wiring and say so; null if the server refuses, with its reason here.
     * @param {Change} change @returns {Promise<Changed | null>}
     */
    async act(change) {
      try {
        const done = await changeWiring(session, change);
        tell(`${[done.name, ...done.notes].join(". ")}.`, done.name);
        return done;
      } catch (error) {
        if (change.do === "rename") throw error; // its reason stands beside the name
        tell(error instanceof Error ? error.message : String(error));
        return null;
      }
    },
  };
}
