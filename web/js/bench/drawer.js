/** The drawer: every value of the wiring, undo and redo, before and after, versions. */

import { counted } from "../shared/words.js";
import { choice, fill, h, say } from "../shared/dom.js";
import { icon } from "../shared/icons.js";
import { toast, toastError } from "../shared/notices.js";
import { changeWiring } from "../session/changes.js";
import { trayView } from "./add_part.js";
import { jointsView } from "./joints_view.js";
import { canChange, partView, shapeOf } from "./part_view.js";
import { inputsIn, isInUse } from "../shared/typing.js";
import { hearingOf } from "../session/session.js";
import { versionsView } from "../session/versions.js";

/** @import {Session} from "../session/session.js" */
/** @import {Around, Change, Changed, Part} from "../shared/types.js" */

/**
 * A key for a section: a part and another section may share a name.
 * @param {{name: string, kind?: string}} part
 */
const keyOf = (part) => `${"kind" in part ? "part" : "around"} ${part.name}`;

/** Carry refused texts with their reasons over to a new view. @param {Element} old @param {Element} view */
function keepRefused(old, view) {
  const problemOf = (/** @type {Element} */ input) =>
    /** @type {Element} */ (input.closest(".value")?.querySelector(".problem"));
  const refused = inputsIn(old).filter((input) => input.getAttribute("aria-invalid") === "true");
  for (const input of refused) {
    const next = inputsIn(view).find(({ dataset }) => dataset.path === input.dataset.path);
    if (!next) continue;
    next.value = input.value;
    next.setAttribute("aria-invalid", "true");
    say(problemOf(next), problemOf(input).textContent ?? "");
  }
}

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
    { type: "button", class: "quiet", onclick: () => session.dropEdits() },
    "Drop all edits",
  );
  const edits = h("div", { class: "edits" }, sides.element, drop);
  const element = h(
    "aside",
    { class: "drawer sheet", id: "parts", "aria-label": "Parts", tabindex: -1 },
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
  /** @typedef {{shape: string, view: ReturnType<typeof partView>}} Shown */
  /** @type {Map<string, Shown>} */
  let shown = new Map();
  let built = "";
  /** The field to focus once it exists. */
  let wanted = "";
  /**
   * A part's view, rebuilt only if its fields have changed, and never while one of them is in use.
   * @param {string} key @param {Part | Around} part
   */
  function build(key, part) {
    const shape = JSON.stringify(shapeOf(part)),
      old = shown.get(key);
    if (old?.shape === shape || (old && inputsIn(old.view.element).some(isInUse))) return;
    const focused = document.activeElement;
    const at =
      wanted ||
      (focused instanceof HTMLElement && old?.view.element.contains(focused)
        ? (focused.dataset.path ?? "")
        : "");
    const view = partView(session, part, {
      focusNext: (path) => {
        wanted = path.join("/");
      },
      act,
    });
    shown.set(key, { shape, view });
    if (!old) return;
    view.element.open = old.view.element.open;
    old.view.element.replaceWith(view.element);
    view.update(part);
    keepRefused(old.view.element, view.element);
    /** @type {NodeListOf<HTMLElement>} */
    const places = view.element.querySelectorAll("[data-path]");
    const next = at && [...places].find(({ dataset }) => `${dataset.path}/`.startsWith(`${at}/`));
    if (next) {
      next.focus();
      wanted = "";
    }
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
        ...[...shown].flatMap(([key, { view }]) =>
          key === "around joints" ? [joints.element, view.element] : [view.element],
        ),
      );
      if (at instanceof HTMLElement && parts.contains(at)) at.focus(); // it was moved with its part
    }
    joints.update(check);
    // a view that waits for its rebuilding has other fields than the part
    if (!before)
      for (const [k, part] of here.entries()) {
        const one = shown.get(keys[k]);
        if (one?.shape === JSON.stringify(shapeOf(part))) one.view.update(part);
      }
    welcome();
  }
  /** Open and focus the part that has just been added, renamed or chosen. */
  function welcome() {
    const view = coming && shown.get(keyOf({ name: coming, kind: "" }))?.view;
    if (!view) return;
    coming = "";
    view.element.open = true;
    view.element.scrollIntoView({ block: "nearest" });
    view.element.querySelector("summary")?.focus();
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
      const part = shown.get(keyOf({ name, kind: "" }))?.view;
      if (!part) return;
      part.element.open = true;
      part.element.scrollIntoView({ block: "nearest" });
      part.element.querySelector("summary")?.focus();
    },
  };
}
