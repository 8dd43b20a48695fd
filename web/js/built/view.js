/** The finished guitar at the bench: what to read, each reading judged while it is typed. */

import { placeOf } from "../session/session.js";
import { fill, h, say } from "../shared/dom.js";
import { reasonOf } from "../shared/file_place.js";
import { latest } from "../shared/latest.js";
import { toast, toastError } from "../shared/notices.js";
import * as api from "./api.js";
import { exciterPart } from "./exciter_part.js";
import { meterTable } from "./meter_table.js";
import { withChange, setPresent, startVersion } from "./readings.js";
import { rigPart } from "./rig_part.js";
import { keepPart } from "./keep_part.js";
import { editsText, leftText, verdictLook, verdictSign, verdictText, versionText } from "./words.js";

/** @import {Session} from "../session/session.js" */
/** @import {WiringRow} from "../shared/types.js" */
/** @import {Fields, JackReadings, Plan} from "./api.js" */

/** Least time between two requests while somebody types, ms. */
const SPACING_MS = 60;
/** Takes the message away by which readings come back; it outlives the fields. */
let untell = () => {};
/** Has the server keep what is typed in the fields that are there now. */
let settleTyped = async () => {};

/** @param {Session} session @returns {HTMLElement} */
export function builtView(session) {
  const { get, on, signal } = session;
  let shownFor = "";
  let closing = new AbortController();
  const place = h("div", { class: "built-body" });
  const title = h("p", { class: "soft small" });
  const edits = h("p", { class: "warn small", role: "status" });
  const view = h(
    "section",
    { class: "built-view", "aria-label": "Built?" },
    h("div", { class: "built-head" }, h("div", {}, h("h2", {}, "Built?"), title, edits)),
    place,
  );

  const find = () => session.set({ view: "bench", drawer: false, faults: { ...get().faults, open: true } });

  /** @param {boolean} [again] */
  function open(again = false) {
    if (get().view !== "built") {
      shownFor = ""; // other views read and keep the same fields
      return;
    }
    const slot = session.slot();
    const wiring = placeOf(get().commission, slot.version)?.wiring;
    say(edits, editsText(slot.edits.length));
    if (!wiring) return;
    const wanted = JSON.stringify([wiring.id, wiring.versions.length]);
    if (wanted === shownFor && !again) return;
    shownFor = wanted;
    closing.abort();
    closing = new AbortController();
    say(title, wiring.name);
    load(wiring, slot.version, AbortSignal.any([closing.signal, signal]));
  }

  /** @param {WiringRow} wiring @param {string} heard the version at the bench @param {AbortSignal} ending */
  async function load(wiring, heard, ending) {
    waiting("What was read before is being looked up…");
    try {
      const first = await api.getReadings(wiring.id, undefined, ending);
      const version = startVersion(wiring, first, heard);
      waiting("The bands are being computed…");
      const plan = await api.getPlan(version, ending);
      const now = await api.getReadings(wiring.id, version, ending); // by the bands that are there now
      now.fields.version = version;
      const body = builtBody({ wiring, plan, first: now, ending, find, reload: () => open(true) });
      fill(place, ...body);
    } catch (error) {
      if (ending.aborted) return;
      fill(
        place,
        h(
          "div",
          { class: "empty" },
          h("p", { role: "alert" }, reasonOf(error)),
          h("button", { type: "button", class: "main", onclick: () => open(true) }, "Try again"),
        ),
      );
    }
  }

  /** @param {string} text */
  const waiting = (text) =>
    fill(
      place,
      h("div", { class: "empty" }, h("progress", { "aria-label": text }), h("p", { role: "status" }, text)),
    );

  on(["view", "slots", "current", "commission"], () => open());
  open();
  return view;
}

/**
 * @param {{wiring: WiringRow, plan: Plan, first: JackReadings, ending: AbortSignal, find: () => void,
 *   reload: () => void}} of  find: goes on to what could be wrong
 */
function builtBody({ wiring, plan, first, ending, find, reload }) {
  /** @type {Fields} */
  let fields = first.fields;
  const problem = h("p", { class: "problem", role: "alert" });
  const sign = h("span", { class: "built-sign", "aria-hidden": "true" }),
    words = h("span", { role: "status" }),
    verdict = h("p", { class: "built-verdict soft" }, sign, words);
  /** @param {unknown} error */
  const fail = (error) => {
    if (!ending.aborted) say(problem, reasonOf(error));
  };
  /** What was typed and is not on its way yet. @type {Partial<Fields>} */
  let unsent = {};
  /** @type {unknown} */
  let refused = null;
  const keep = latest(
    async () => {
      const sent = unsent;
      unsent = {};
      refused = null;
      try {
        const now = await api.keepFields(wiring.id, { version: fields.version, ...sent });
        take(now.fields);
        show(now);
        say(problem, "");
      } catch (error) {
        unsent = withChange(sent, unsent);
        throw error;
      }
    },
    {
      spacing: SPACING_MS,
      failed: (error) => {
        refused = error;
        fail(error);
      },
    },
  );
  /** @param {Partial<Fields>} change */
  const type = (change) => {
    fields = withChange(fields, change);
    unsent = withChange(unsent, change);
    return keep();
  };
  /**
   * The same for what goes on from there: it fails where the server did not keep it.
   * @param {Partial<Fields>} change
   */
  const typeSurely = async (change) => {
    await type(change);
    if (refused === null) return;
    say(problem, ""); // whoever asked says it
    throw refused;
  };
  /** Take over what somebody typed in another window. @param {Fields} now */
  const take = (now) => {
    fields = { ...withChange(now, unsent), version: fields.version };
    meter.take(fields.meter);
    rig.take(fields.known);
    exciter.take(fields);
    keeping.take(fields);
  };
  const choose = async () => {
    const before = fields.version;
    try {
      await typeSurely({ version: against.value });
      reload();
    } catch (error) {
      fields = { ...fields, version: before };
      delete unsent.version;
      against.value = before;
      fail(error);
    }
  };
  const against = h(
    "select",
    { onchange: choose },
    ...[...wiring.versions]
      .sort((a, b) => b.number - a.number)
      .map((one) => h("option", { value: one.id }, versionText(one, first.signed[one.id]))),
  );
  against.value = fields.version;
  const meter = meterTable(plan, fields.meter, (setting, value) => type({ meter: { [setting]: value } }));
  let onWay = 0;
  /** @param {number} count  files of the guitar on their way */
  const wait = (count) => {
    against.disabled = count > 0;
    keeping.wait(count);
  };
  const exciter = exciterPart({
    plan,
    fields,
    type,
    bring: async (setting, coil, file) => {
      const where = { wiring: wiring.id, version: fields.version, step: /** @type {const} */ ("exciter") };
      const sending = api.bringRecording({ ...where, setting, coil }, file, () => {});
      ending.addEventListener("abort", sending.stop);
      wait((onWay += 1));
      try {
        const now = await sending.done;
        take(now.fields);
        show(now);
      } finally {
        wait((onWay -= 1));
        ending.removeEventListener("abort", sending.stop);
      }
    },
  });
  const rig = rigPart({
    plan,
    known: fields.known,
    where: { wiring: wiring.id, version: fields.version },
    type: (known) => type({ known }),
    came: show,
    coming: (more) => wait((onWay += more)),
    ending,
  });
  const anew = h(
    "button",
    {
      type: "button",
      class: "quiet",
      onclick: throwAway,
    },
    "Throw these readings away",
  );
  const back = h("button", { type: "button", class: "quiet", onclick: bringBack }, "Bring the readings back");
  async function throwAway() {
    anew.disabled = true; // until the fields are there anew
    try {
      await typeSurely({}); // what is on its way is thrown away too
      await api.dropReadings(wiring.id, "all");
      reload();
      untell = toast(
        "The readings and recordings of this guitar are thrown away. The rig's calibrations stay.",
        {
          label: "Undo",
          act: bringBack,
        },
      );
    } catch (error) {
      anew.disabled = false;
      toastError(error);
    }
  }
  async function bringBack() {
    untell();
    back.disabled = true;
    try {
      await settleTyped(); // it is of the guitar that goes
      await api.bringBack(wiring.id);
      reload();
    } catch (error) {
      back.disabled = false;
      toastError(error);
    }
  }
  settleTyped = () => typeSurely({});

  const keeping = keepPart({
    wiring: wiring.id,
    fields,
    type,
    typeSurely: (change) => typeSurely({ version: fields.version, ...change }),
    filled: () => !anew.hidden,
    reload,
    ending,
  });
  const left = h("p", { class: "warn small", role: "status" });

  /** @param {JackReadings} now */
  function show(now) {
    setPresent(wiring.id, now);
    rig.update(now);
    exciter.update(now);
    const { judged } = now;
    const { meter: typed, excited, serial, notes } = now.fields;
    const stands =
      [now.recordings, excited].some((one) => Object.keys(one).length) ||
      [...Object.values(typed), serial, notes].some(Boolean);
    anew.hidden = !stands;
    back.hidden = !now.thrown;
    say(back, stands ? "Exchange with the readings thrown away" : "Bring the readings back");
    if (!judged) return;
    meter.update(judged.readings);
    verdict.className = `built-verdict ${verdictLook(judged.verdict)}`;
    sign.textContent = verdictSign(judged.verdict);
    say(words, verdictText(judged.verdict));
    say(left, leftText(judged.readings.filter(({ side }) => side === "unplanned").length));
  }
  show(first);
  return [
    h(
      "section",
      { class: "heed", "aria-label": "Heed" },
      h("h3", {}, "Heed"),
      h(
        "ul",
        { class: "small" },
        ...[...plan.cautions, ...plan.exciter.cautions].map((text) => h("li", {}, text)),
      ),
    ),
    h(
      "div",
      { class: "built-against" },
      h("label", { class: "field" }, h("span", {}, "Judged against"), against),
      verdict,
    ),
    problem,
    left,
    meter.element,
    rig.element,
    exciter.element,
    keeping.element,
    h(
      "details",
      { class: "built-spreads" },
      h("summary", {}, "Where the bands come from"),
      h(
        "p",
        { class: "small" },
        "Of instruments whose parts differ by these tolerances, 97.5 % keep all of their bands in ohms at once, and 97.5 % those under an exciter: about 95 % keep both.",
      ),
      h("ul", { class: "small" }, ...plan.spreads.map((text) => h("li", {}, text))),
    ),
    h(
      "div",
      { class: "actions" },
      anew,
      back,
      h("button", { type: "button", onclick: find }, "What could be wrong?"),
    ),
  ];
}
