/** Keep the guitar that was read in the workshop's record, and see those of this wiring. */

import { askFirst } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { toast, toastError } from "../shared/notices.js";
import * as api from "./api.js";
import { instrumentCard } from "./instruments.js";
import { takeOver } from "./meter_table.js";
import { againText, comingText, today } from "./words.js";

/** @import {Fields, Instrument} from "./api.js" */

/**
 * @param {object} of
 * @param {string} of.wiring
 * @param {Fields} of.fields
 * @param {(change: Partial<Fields>) => Promise<void>} of.type
 * @param {(change: Partial<Fields>) => Promise<void>} of.typeSurely  fails where the server did not keep it
 * @param {() => boolean} of.filled  whether readings stand in the fields
 * @param {() => void} of.reload
 * @param {AbortSignal} of.ending
 */
export function keepPart({ wiring, fields, type, typeSurely, filled, reload, ending }) {
  const serial = h("input", {
    type: "text",
    value: fields.serial,
    maxlength: 60,
    autocomplete: "off",
    spellcheck: "false",
    placeholder: "26-014",
    oninput: () => type({ serial: serial.value }),
  });
  const day = h("input", {
    type: "date",
    value: fields.day || today(),
    onchange: () => type({ day: day.value }),
  });
  const notes = h("textarea", {
    rows: 2,
    maxlength: 4000,
    value: fields.notes,
    oninput: () => type({ notes: notes.value }),
  });
  const problem = h("p", { class: "problem", role: "alert" });
  const again = h("p", { class: "small", role: "status" }, fields.of ? againText(fields.serial) : "");
  const keep = h(
    "button",
    { type: "button", class: "main", onclick: save },
    fields.of ? "Keep as its newer state" : "Keep this guitar",
  );
  const coming = h("p", { class: "small", role: "status" });
  let [waits, saves] = [false, false];
  const allow = () => {
    keep.disabled = waits || saves;
  };
  const list = h("ul", { class: "built-list" });
  const listTitle = h("h4", { hidden: true }, "Guitars of this wiring");

  async function save() {
    say(problem, "");
    saves = true;
    allow();
    try {
      await typeSurely({ serial: serial.value, day: day.value, notes: notes.value });
      const kept = await api.keepInstrument(wiring);
      toast(`${kept.serial} is in the workshop's record: ${kept.verdict.text}.`);
      reload();
    } catch (error) {
      say(problem, reasonOf(error));
    } finally {
      saves = false;
      allow();
    }
  }

  async function refresh() {
    const found = await api.listInstruments({ wiring }, ending);
    listTitle.hidden = found.length === 0;
    fill(
      list,
      ...found.map((one) =>
        h("li", {}, instrumentCard(one, { changed: update, again: () => readAgain(one) })),
      ),
    );
  }
  const update = () => void refresh().catch((error) => ending.aborted || toastError(error));

  /** @param {Instrument} one */
  function readAgain(one) {
    if (waits) return toast(comingText(1));
    const go = () => void api.openInstrument(one.id).then(reload, toastError);
    if (!filled()) return go();
    askFirst(
      `Read ${one.serial} again?`,
      "The readings that stand in the fields and are not kept go. Keep them first if you need them.",
      "Read it again",
      go,
    );
  }

  update();
  return {
    /** Take over what was typed in another window. @param {Fields} now */
    take(now) {
      takeOver(serial, now.serial);
      takeOver(notes, now.notes);
      if (now.day) takeOver(day, now.day);
    },
    /** Keep nothing while files of this guitar are on their way. @param {number} count */
    wait(count) {
      waits = count > 0;
      say(coming, comingText(count));
      allow();
    },
    element: h(
      "section",
      { class: "built-keep", "aria-label": "The workshop's record" },
      h("h3", {}, "Keep it in the workshop's record"),
      again,
      h(
        "div",
        { class: "measure-row" },
        h("label", { class: "field" }, h("span", {}, "Serial number"), serial),
        h("label", { class: "field" }, h("span", {}, "Read on"), day),
      ),
      h("label", { class: "field" }, h("span", {}, "Notes"), notes),
      problem,
      coming,
      h(
        "div",
        { class: "actions" },
        h("a", { class: "button quiet", href: "#/built" }, "The whole record"),
        keep,
      ),
      listTitle,
      list,
    ),
  };
}
