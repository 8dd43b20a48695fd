/** Findings as sentences, each linked to its position or part. */

import { counted, shownFindings } from "../shared/words.js";
import { fill, h } from "../shared/dom.js";

/** @import {Session} from "../session/session.js" */
/** @import {Finding} from "../shared/types.js" */

/** @param {Session} session @param {(part: string) => void} showPart */
export function findingsView(session, showPart) {
  const { get, on } = session;
  const title = h("h2", {}),
    list = h("ul", {}),
    notes = h("ul", {}),
    more = h("details", {}, h("summary", {}), notes);
  /** @param {Finding} one */
  function goTo(one) {
    const part = one.lugs[0]?.split(".")[0];
    if (one.positions[0] && !one.positions.includes(session.slot().position))
      session.setPosition(one.positions[0]);
    if (part && get().check?.parts.some(({ name }) => name === part)) showPart(part);
    else document.querySelector(/** @type {"input"} */ (".stop input:checked"))?.focus();
  }
  function show() {
    const { check, problems } = get();
    more.hidden = true;
    if (check?.missing.length) {
      title.textContent = "Not finished";
      fill(
        list,
        ...check.missing.map((one) => h("li", { class: "warn" }, `Still missing: ${one}. Add it in Parts.`)),
      );
      return;
    }
    if (problems.length) {
      title.textContent = "The server cannot read this wiring";
      fill(
        list,
        ...problems.map(({ where, got, allowed, hint }) =>
          h(
            "li",
            { class: "bad" },
            [where, got && `got ${got}`, allowed && `allowed: ${allowed}`, hint].filter(Boolean).join(" · "),
          ),
        ),
      );
      return;
    }
    const found = shownFindings(check?.findings ?? []);
    const grave = found.filter(({ severity }) => severity === "error" || severity === "warning").length;
    title.textContent = check ? (grave ? counted(grave, "finding") : "No faults found") : "";
    const minor = found.filter(({ severity }) => severity === "note");
    more.hidden = minor.length === 0;
    more.firstElementChild?.replaceChildren(counted(minor.length, "note"));
    fill(notes, ...minor.map(sentence));
    fill(list, ...found.filter(({ severity }) => severity !== "note").map(sentence));
  }
  /** @param {Finding} one */
  function sentence(one) {
    return h(
      "li",
      {},
      h(
        "button",
        { type: "button", class: "quiet", onclick: () => goTo(one) },
        h(
          "span",
          { class: `tag ${{ error: "bad", warning: "warn" }[one.severity] ?? "soft"}` },
          one.severity,
        ),
        h("span", { class: "soft" }, one.text),
      ),
    );
  }
  on(["check", "problems"], show);
  show();
  return h("section", { class: "findings", "aria-label": "Findings" }, title, list, more);
}
