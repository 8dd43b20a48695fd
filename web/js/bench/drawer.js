/** The drawer: every value of the wiring, undo and redo, before and after, versions. */

import { counted } from "../shared/words.js";
import { choice, fill, h, say } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { toast, toastError } from "../shared/notices.js";
import { changeWiring } from "../session/changes.js";
import { trayView } from "./add_part.js";
import { jointsView } from "./joints_view.js";
import { lastingView } from "./lasting_view.js";
import { canChange, partView } from "./part_view.js";
import { hearingOf } from "../session/session.js";
import { versionsView } from "../session/versions.js";

/** @import {Session} from "../session/session.js" */
/** @import {Around, Change, Changed, Part} from "../shared/types.js" */

/**
 * A key for a section: a part and another section may share a name.
 * @param {{name: string, kind?: string}} part
 */
const keyOf = (part) => `${"kind" in part ? "part" : "around"} ${part.name}`;

/** @param {string[]} missing */
const missingText = (missing) => (missing.length ? `Not finished: ${missing.join(" and ")} to add.` : "");

/** @param {Session} session */
export function drawerView(session) {
  const { get, set, on } = session;
  const parts = h("div", {});
  const tray = h("div", {});
  const missing = h("p", { class: "warn small", role: "status" });
  const note = h("p", { class: "soft small", role: "status" });
  const sides = choice(
    "Hear the edits",
    [
      { value: "before", label: "before" },
      { value: "after", label: "after" },
    ],
    "after",
    (value) => set({ before: value === "before" }),
  );
  const drop = h(
    "button",
    { type: "button", class: "small", onclick: () => session.dropEdits() },
    "Drop all edits",
  );
  const edits = h("div", { class: "edits" }, sides.element, drop);
  const element = h(
    "aside",
    { class: "drawer", id: "parts", "aria-label": "Parts", tabindex: -1 },
    h(
      "div",
      { class: "drawer-head" },
      h("h2", { class: "spread" }, "Parts"),
      h(
        "button",
        {
          type: "button",
          class: "quiet",
          "aria-label": "Close parts",
          onclick: () => set({ drawer: false }),
        },
        icon("close"),
      ),
    ),
    missing,
    note,
    edits,
    tray,
    parts,
    versionsView(session),
  );
  /** The part to open and focus once it is there. */
  let coming = "",
    hush = () => {};
  /**
   * Do one thing to the wiring and say so.
   * @param {Change} change @returns {Promise<Changed>}
   */
  async function make(change) {
    const done = await changeWiring(session, change);
    coming = done.part;
    hush(); // an older "Undo" would take back this one
    hush = toast([done.name, ...done.notes].join(". "), { label: "Undo", act: session.undo });
    return done;
  }
  /** Do the same, and show the reason if the server refuses. @param {Change} change */
  const act = async (change) => {
    if (change.do === "rename") return make(change); // its reason stands beside the name
    try {
      return await make(change);
    } catch (error) {
      toastError(error);
      return null;
    }
  };
  /** @typedef {ReturnType<typeof lastingView<ReturnType<typeof partView>>>} Shown */
  /** @type {Map<string, Shown>} */
  let shown = new Map();
  let built = "";
  /** @param {string} key @param {Part | Around} part */
  function build(key, part) {
    const old = shown.get(key);
    if (old) old.fit(part);
    else
      shown.set(
        key,
        lastingView((now, focusNext) => partView(session, now, { focusNext, act }), part),
      );
  }
  function update() {
    const { check, checked, before } = get();
    say(missing, missingText(check?.missing ?? []));
    if (!check || (!check.ok && !check.missing.length)) return;
    const count = session.slot().edits.length;
    say(
      note,
      count
        ? `${counted(count, "edit")}, not saved as a version yet. This page keeps them.`
        : "Change a value and hear it at once. Arrow keys step through the preferred values.",
    );
    edits.hidden = count === 0;
    sides.set(before ? "before" : "after");
    // an answer to an earlier draft must not put earlier values back
    if (checked !== JSON.stringify(hearingOf(get()).draft)) return;
    const here = [...check.parts, ...check.around].filter(canChange);
    const keys = here.map(keyOf),
      order = keys.join();
    for (const [k, part] of here.entries()) build(keys[k], part);
    if (order !== built) {
      built = order;
      shown = new Map(keys.map((key) => [key, /** @type {Shown} */ (shown.get(key))]));
      const at = document.activeElement;
      fill(
        parts,
        ...[...shown].flatMap(([key, one]) => {
          const { element: section } = one.now();
          return key === "around joints" ? [joints.element, section] : [section];
        }),
      );
      if (at instanceof HTMLElement && parts.contains(at)) at.focus(); // it was moved with its part
    }
    joints.update(check);
    if (!before) for (const [k, part] of here.entries()) shown.get(keys[k])?.update(part);
    welcome();
  }
  /** Open and focus the part that has just been added, renamed or chosen. */
  function welcome() {
    if (coming && unfold(coming)) coming = "";
  }
  /** Unfold a part and go there. @param {string} name @returns {boolean} whether it is there */
  function unfold(name) {
    const part = shown.get(keyOf({ name, kind: "" }))?.now().element;
    if (!part) return false;
    part.open = true;
    part.scrollIntoView({ block: "nearest" });
    part.querySelector("summary")?.focus();
    return true;
  }
  const joints = jointsView(act);
  fill(tray, trayView(act).element);
  on(["check", "checked", "slots", "current", "before"], update);
  parts.addEventListener("focusout", () => queueMicrotask(update)); // what waited for a field in use
  on(["drawer"], ({ drawer }) => {
    element.hidden = !drawer;
  });
  element.hidden = !get().drawer;
  update();
  return {
    element,
    /** @param {string} name */
    show(name) {
      set({ drawer: true });
      unfold(name);
    },
  };
}
