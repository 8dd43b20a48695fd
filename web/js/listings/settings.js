/** The knob settings and sweeps of a listing's clips. */

import { plainName } from "../shared/words.js";
import { fill, h } from "../shared/dom.js";
import { icon } from "../shared/icons.js";

/** @import {Form, Move, Setting} from "./words.js" */
/** @typedef {{knobs: string[], switches: Record<string, string[]>}} Controls  of the chosen instruments */

const MOST = 32;

/** @param {Form} form changed in place @param {() => void} changed
 * @returns {{element: HTMLElement, show: (has: Controls) => void}} */
export function settingsView(form, changed) {
  /** @type {Controls} */
  let has = { knobs: [], switches: {} };
  const list = h("div", { class: "settings" });
  const add = h(
    "button",
    {
      type: "button",
      onclick: () => {
        form.settings.push({ label: "", moves: [{ what: "", kind: "at", at: "", to: "" }] });
        draw();
        /** @type {HTMLElement | null} */ (list.lastElementChild?.querySelector("input"))?.focus();
        changed();
      },
    },
    icon("plus"),
    "Add a setting",
  );
  let late = false;
  const controls = () => /** @type {HTMLElement[]} */ ([...list.querySelectorAll("input, select, button")]);
  /** Redraw, and keep the focus on the control in the same place. */
  function draw() {
    const at = controls().indexOf(/** @type {HTMLElement} */ (document.activeElement));
    fill(list, ...form.settings.map((setting, place) => settingView(setting, place)));
    add.disabled = form.settings.length >= MOST;
    late = false;
    if (at >= 0) controls()[at]?.focus();
  }
  list.addEventListener("focusout", ({ relatedTarget }) => {
    if (late && !(relatedTarget instanceof Node && list.contains(relatedTarget))) queueMicrotask(draw);
  });
  /** @param {Setting} setting @param {number} place */
  function settingView(setting, place) {
    const name = () => setting.label || `Setting ${place + 1}`;
    const label = h("input", {
      type: "text",
      maxlength: 60,
      value: setting.label,
      placeholder: "Name to show",
      "aria-label": `Name of setting ${place + 1}`,
      oninput: () => {
        setting.label = label.value;
        changed();
      },
    });
    return h(
      "div",
      { class: "setting", role: "group", "aria-label": `Setting ${place + 1}` },
      h(
        "div",
        { class: "row" },
        h("div", { class: "spread" }, label),
        form.settings.length > 1 &&
          h(
            "button",
            {
              type: "button",
              class: "quiet",
              "aria-label": `Remove ${name()}`,
              onclick: () => {
                form.settings.splice(place, 1);
                draw();
                add.focus();
                changed();
              },
            },
            icon("close"),
          ),
      ),
      ...setting.moves.map((move, k) => moveView(setting, move, k)),
      setting.moves.length === 0 &&
        h("p", { class: "soft small" }, "Every knob at 10, every switch in its first position."),
      h(
        "button",
        {
          type: "button",
          class: "small add",
          "aria-label": `Add a knob or switch to ${name()}`,
          onclick: () => {
            setting.moves.push({ what: "", kind: "at", at: "", to: "" });
            draw();
            changed();
          },
        },
        icon("plus"),
        "Knob or switch",
      ),
    );
  }
  /** @param {Setting} setting @param {Move} move @param {number} k */
  function moveView(setting, move, k) {
    const redraw = () => {
      draw();
      changed();
    };
    const options = [
      ...new Set([...has.knobs, ...Object.keys(has.switches), ...(move.what ? [move.what] : [])]),
    ];
    const what = h(
      "select",
      {
        "aria-label": "Knob or switch",
        onchange: () => {
          move.what = what.value;
          const stands = has.switches[move.what];
          move.kind = stands ? "switch" : move.kind === "switch" ? "at" : move.kind;
          if (stands) move.at = stands[0] ?? "";
          redraw();
        },
      },
      h("option", { value: "" }, options.length ? "Choose…" : "Choose an instrument first"),
      ...options.map((one) => h("option", { value: one }, plainName(one))),
    );
    what.value = move.what;
    const gone = h(
      "button",
      {
        type: "button",
        class: "quiet",
        "aria-label": `Remove ${move.what ? plainName(move.what) : "this line"}`,
        onclick: () => {
          setting.moves.splice(k, 1);
          redraw();
        },
      },
      icon("close"),
    );
    return h(
      "div",
      { class: "move" },
      what,
      ...(move.kind === "switch" ? switchStand(move) : knobStand(move, redraw)),
      gone,
    );
  }
  /** @param {Move} move */
  function switchStand(move) {
    const stand = h(
      "select",
      {
        "aria-label": `Position of ${plainName(move.what)}`,
        onchange: () => {
          move.at = stand.value;
          changed();
        },
      },
      ...(has.switches[move.what] ?? [move.at]).map((one) => h("option", { value: one }, `position ${one}`)),
    );
    stand.value = move.at;
    return [stand];
  }
  /** @param {Move} move @param {() => void} redraw */
  function knobStand(move, redraw) {
    const named = move.what ? plainName(move.what) : "the knob";
    const kind = h(
      "select",
      {
        "aria-label": `What ${named} does`,
        onchange: () => {
          move.kind = kind.value === "sweep" ? "sweep" : "at";
          redraw();
        },
      },
      h("option", { value: "at" }, "stands at"),
      h("option", { value: "sweep" }, "sweeps from"),
    );
    kind.value = move.kind;
    /** @param {"at" | "to"} key @param {string} about */
    const value = (key, about) => {
      const input = h("input", {
        type: "text",
        inputmode: "decimal",
        maxlength: 6,
        value: move[key],
        placeholder: "0 to 10",
        "aria-label": `${about} of ${named}, 0 to 10`,
        oninput: () => {
          move[key] = input.value;
          changed();
        },
      });
      return input;
    };
    return move.kind === "sweep"
      ? [kind, value("at", "Start"), h("span", {}, "to"), value("to", "End")]
      : [kind, value("at", "Place")];
  }
  draw();
  const element = h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Settings"),
    h(
      "p",
      { class: "soft small" },
      "Each setting gives a clip of every position with every take. A sweep lasts for the whole clip. An instrument skips controls it does not have.",
    ),
    list,
    h("div", {}, add),
  );
  return {
    element,
    show: (/** @type {Controls} */ now) => {
      if (JSON.stringify(now) === JSON.stringify(has)) return;
      has = now;
      late = list.contains(document.activeElement); // do not redraw while someone uses a control
      if (!late) draw();
    },
  };
}
