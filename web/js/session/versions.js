/** Versions of a wiring: save edits as a new version, go back to any. */

import * as api from "./api.js";
import { ApiError } from "../shared/http.js";
import { newest, placeOf } from "./session.js";
import { usesNumbers, placeInWords } from "./compare.js";
import { showDifference } from "./difference.js";
import { namesIn } from "./names.js";
import { showDate } from "../shared/units.js";
import { counted } from "../shared/words.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";

/** @import {Session} from "./session.js" */

/** @param {Session} session */
export function versionsView(session) {
  const { get, on } = session;
  const list = h("ol", {}),
    save = h(
      "button",
      { type: "button", class: "main", onclick: () => saveDialog(session) },
      "Save as a new version",
    );
  function show() {
    const slot = session.slot(),
      place = placeOf(get().commission, slot.version);
    save.disabled = slot.edits.length === 0;
    fill(
      list,
      ...[...(place?.wiring.versions ?? [])]
        .sort((a, b) => b.number - a.number)
        .map(({ id, number, note, created }) =>
          h(
            "li",
            {},
            h(
              "p",
              {},
              `${number} `,
              h("span", { class: "soft small" }, [note, showDate(created)].filter(Boolean).join(" · ")),
              changes[id]?.length ? h("small", { class: "changes" }, changes[id].join(", ")) : null,
              changes[id]?.length
                ? h(
                    "button",
                    {
                      type: "button",
                      class: "quiet small",
                      "aria-label": `See what version ${number} changed`,
                      onclick: () => showDifference(id, number),
                    },
                    "See it drawn",
                  )
                : null,
            ),
            id === slot.version
              ? h("span", { class: "small heard" }, slot.edits.length ? "edited" : "heard")
              : h(
                  "button",
                  {
                    type: "button",
                    class: "small",
                    "aria-label": `Hear version ${number}`,
                    onclick: () => go(session, id),
                  },
                  "Hear",
                ),
          ),
        ),
    );
  }
  /** @type {Record<string, string[]>} */
  let changes = {};
  let compared = "";
  /** Ask what the versions changed, once for each list of them and only while it is in sight. */
  async function compare() {
    const place = placeOf(get().commission, session.slot().version),
      next = JSON.stringify(place?.wiring.versions.map(({ id }) => id));
    if (!place || next === compared || !get().drawer) return;
    compared = next;
    try {
      changes = place.wiring.versions.length > 1 ? await api.getChanges(place.wiring.id) : {};
      show();
    } catch {
      compared = ""; // the server is away: with the next change
    }
  }
  on(["slots", "current", "commission", "drawer"], () => {
    show();
    compare();
  });
  show();
  compare();
  return h(
    "section",
    { class: "versions", "aria-label": "Versions" },
    h("div", { class: "row" }, h("h3", { class: "spread" }, "Versions"), save),
    list,
    h(
      "button",
      { type: "button", class: "small", onclick: () => copyWiring(session).catch(toastError) },
      "Copy as another wiring",
    ),
  );
}

/**
 * Switch to a version and offer to restore the edits left behind.
 * @param {Session} session @param {string} version
 */
export function go(session, version) {
  const { version: left, edits } = session.slot();
  session.setVersion(version);
  if (edits.length)
    toast(`${counted(edits.length, "edit")} left behind.`, {
      label: "Go back to them",
      act: () => session.setVersion(left, edits),
    });
}

/** @param {Session} session */
export function saveDialog(session) {
  const { edits } = session.slot();
  if (edits.length === 0) {
    toast("No changes to save.");
    return;
  }
  const { version } = session.slot();
  /** The edits in words; those that go with others are left out, unless they are all. */
  const nameEdits = () => {
    const name = namesIn(session.get().names),
      all = edits.map((edit) => name(version, edit));
    return all.some(Boolean) ? all.filter(Boolean) : edits.map(({ path }) => placeInWords(path));
  };
  openDialog("Save as a new version", (close) => {
    const note = h("input", {
      type: "text",
      maxlength: 200,
      placeholder: "What changed, in your words",
      autofocus: true,
    });
    const problem = h("p", { class: "problem", role: "alert" });
    const onTop = h(
      "button",
      { type: "button", hidden: true, onclick: () => save(true) },
      "Save on top of the newest",
    );
    /** @param {boolean} rebase */
    async function save(rebase) {
      try {
        await saveEdits(session, note.value.trim(), rebase);
        close();
      } catch (error) {
        const conflict = error instanceof ApiError && error.status === 409;
        problem.textContent = conflict
          ? "Someone saved a newer version meanwhile. Your edits are safe: save them on top of it, or close this dialog and listen to it first." +
            (usesNumbers(edits)
              ? " Edits of strings, joints or couplings refer to places in a list: check these afterwards."
              : "")
          : error instanceof Error
            ? error.message
            : String(error);
        onTop.hidden = !conflict;
        if (conflict) refresh(session).catch(() => undefined);
      }
    }
    return h(
      "form",
      {
        onsubmit: (/** @type {Event} */ event) => {
          event.preventDefault();
          save(false);
        },
      },
      h("ul", { class: "small soft" }, ...nameEdits().map((name) => h("li", {}, name))),
      h("label", { class: "field" }, h("span", {}, "Note"), note),
      problem,
      h(
        "div",
        { class: "actions" },
        h("button", { type: "button", onclick: close }, "Cancel"),
        onTop,
        h("button", { class: "main" }, "Save"),
      ),
    );
  });
}

/** @param {Session} session */
async function refresh(session) {
  const { id } = session.get().commission;
  session.set({ commission: await api.getCommission(id) });
}

/** @param {Session} session @param {string} note @param {boolean} rebase */
async function saveEdits(session, note, rebase) {
  const { version, edits } = session.slot();
  if (rebase) await refresh(session);
  const place = placeOf(session.get().commission, version);
  if (!place) throw new Error("This wiring is no longer in the commission.");
  const base = rebase ? (newest(place.wiring.versions)?.id ?? version) : version;
  const saved = await api.saveVersion(place.wiring.id, { base, edits, ...(note ? { note } : {}) });
  await refresh(session);
  session.setVersion(saved.id);
  toast(`Saved as version ${saved.number}.`);
}

/** @param {Session} session */
async function copyWiring(session) {
  const { get, slot } = session,
    { version, edits } = slot();
  const place = placeOf(get().commission, version);
  const { text } = await api.getVersion(version);
  const made = await api.addWiring(get().commission.id, {
    name: `${place?.wiring.name ?? "Wiring"}, copy`,
    text,
  });
  await refresh(session);
  session.setVersion(made.version_id, edits);
  toast("The commission has a copy of this wiring, with your edits.");
}
