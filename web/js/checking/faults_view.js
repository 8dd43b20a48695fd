/**
 * What could be wrong with the soldered guitar: what is heard and read goes in, the faults that explain it
 * come out, lit on the drawing beside.
 */

import { getReadings, keepFields } from "../built/api.js";
import { setPresent, startVersion, withChange } from "../built/readings.js";
import { HEARD, isExcited, METER, rowOf, rowsOf, tableOf, withHeard, withWord } from "../session/faults.js";
import { hearingOf, missingOf, placeOf } from "../session/session.js";
import { fill, h, say } from "../shared/dom.js";
import { createFollower } from "../shared/following.js";
import { ApiError } from "../shared/http.js";
import { icon } from "../shared/icons.js";
import { latest } from "../shared/latest.js";
import { toast } from "../shared/notices.js";
import { same } from "../shared/store.js";
import * as api from "./api.js";
import { answerView } from "./faults_answer.js";
import { entryView } from "./faults_entry.js";
import { workingText } from "./words.js";

/** @import {Fields, JackReadings} from "../built/api.js" */
/** @import {FaultsState, Row} from "../session/faults.js" */
/** @import {Session} from "../session/session.js" */
/** @import {Book, Form} from "./api.js" */

/** @param {Session} session @returns {HTMLElement} */
export function faultsView(session) {
  const { get, set, on, signal } = session;
  /** @type {Form | null} */
  let form = null;
  /** The draft that the book is made for, as JSON, and whether it is whole. */
  let asked = "";
  let ready = false;

  /** @param {Partial<FaultsState>} change */
  const setFaults = (change) => set({ faults: { ...get().faults, ...change } });
  const wiring = () => placeOf(get().commission, session.slot().version)?.wiring.id ?? "";
  const words = () => get().faults.heard[wiring()] ?? [];
  /** @param {Row[]} next @param {string} [id] of a wiring */
  const keepWords = (next, id = wiring()) => set({ faults: withHeard(get().faults, id, next) });
  /** What was read at the jack, which “Built?” keeps. @type {JackReadings | null} */
  let jack = null;
  let jackOf = "";

  /** What is at hand beside the meter. @param {{faults: FaultsState}} state */
  const tools = ({ faults: { rig, exciter = false } } = get()) => ({ rig, exciter });
  /** All rows that the form holds: words, the meter's readings as typed, what was recorded. */
  function rows() {
    const known = new Set(
      [...(form?.read ?? []), ...(form?.heard ?? []), ...(form?.knobs ?? [])].map((one) => one.setting),
    );
    const here = jackOf === wiring() ? jack : null;
    const typed = Object.entries(here?.fields.meter ?? {})
      .filter(([, value]) => value)
      .map(([setting, value]) => ({ setting, what: METER, value }));
    const swept = rowsOf(here?.judged?.text ?? "").filter(({ what }) => what !== METER);
    return [...words(), ...typed, ...swept].filter(({ setting }) => known.has(setting));
  }
  /** Look up what was read at the jack, once all that was typed is kept. */
  async function lookUp() {
    const id = wiring();
    if (!id) return;
    await keeping;
    const found = await getReadings(id, undefined, signal);
    if (id !== wiring()) return;
    jack = { ...found, fields: withChange(found.fields, unsent.get(id) ?? {}) };
    jackOf = id;
    update();
  }
  /** What was typed and is not yet kept, by wiring. @type {Map<string, Partial<Fields>>} */
  const unsent = new Map();
  /**
   * Keep what the meter reads at some settings.
   * @param {string} id of the wiring that it was read at @param {Record<string, string>} meter
   */
  function keepMeter(id, meter) {
    /** @type {Partial<Fields>} */
    const change = { meter };
    if (jack && id === jackOf) {
      const version = judgedBy(jack);
      // “Built?” may have chosen one since
      if (version !== jack.fields.version) change.version = version;
      jack = { ...jack, fields: withChange(jack.fields, { version, meter }) };
      update();
      ask();
    }
    unsent.set(id, withChange(unsent.get(id) ?? {}, change));
    const typed = jack?.fields;
    keeping = keeping
      .then(async () => {
        const sent = unsent.get(id);
        if (!sent) return;
        unsent.delete(id);
        try {
          const kept = await keepFields(id, sent);
          if (id !== jackOf) return;
          setPresent(id, kept);
          if (jack?.fields === typed) jack = kept;
        } catch (error) {
          unsent.set(id, withChange(sent, unsent.get(id) ?? {}));
          throw error;
        }
      })
      .catch(fail);
  }
  /** The version that the guitar is judged against, as “Built?” begins. @param {JackReadings} readings */
  function judgedBy(readings) {
    const heard = session.slot().version;
    const row = placeOf(get().commission, heard)?.wiring;
    return row ? startVersion(row, readings, heard) : heard;
  }
  /** @type {Promise<void>} */
  let keeping = Promise.resolve();

  const first = h("span", {});
  const cautions = h("ul", {});
  const heed = h(
    "section",
    { class: "heed small", "aria-label": "Heed" },
    h("p", {}, h("b", {}, "Heed. "), first),
    h("details", {}, h("summary", {}, "All cautions, with those of the rig and the exciter"), cautions),
  );
  const progress = h("progress", { max: 1, "aria-label": "The faults of this wiring" });
  const told = h("span", { role: "status" });
  const working = h("p", { class: "measure-working", hidden: true }, progress, told);
  const problem = h("p", { class: "problem", role: "alert" });
  const again = h("button", { type: "button", hidden: true, onclick: () => begin() }, "Try again");
  const answer = answerView({
    light: (terminals) => set({ lit: terminals }),
    enter: (next) => entry.goTo(next),
  });
  const entry = entryView({
    say: (row, there) => keepWords(withWord(words(), row, there)),
    read: (setting, value) => {
      // until the readings of a wiring are looked up nothing can be typed at it
      if (jackOf && jackOf === wiring()) keepMeter(jackOf, { [setting]: value });
    },
    setTools: setFaults,
    toBuilt: () => keeping.then(() => set({ view: "built" })),
  });
  const away = h("button", { type: "button", class: "quiet", onclick: clear }, "Throw these readings away");
  const element = h(
    "section",
    { class: "faults", "aria-label": "What could be wrong?", tabindex: -1 },
    h(
      "div",
      { class: "dialog-head" },
      h("h2", {}, "What could be wrong?"),
      h("button", { type: "button", class: "quiet", "aria-label": "Close", onclick: close }, icon("close")),
    ),
    h(
      "p",
      { class: "soft small" },
      "For a soldered guitar that does something odd. One fault at a time: two together may look like a third.",
    ),
    heed,
    working,
    problem,
    again,
    answer.element,
    entry.element,
    away,
  );
  element.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && !event.defaultPrevented) close();
  });

  function close() {
    set({ lit: [] });
    setFaults({ open: false });
  }
  function clear() {
    const id = wiring(),
      read = jackOf === id ? id : "";
    const before = { heard: words(), meter: (read && jack?.fields.meter) || {} };
    keepWords([]);
    if (read) keepMeter(read, Object.fromEntries(Object.keys(before.meter).map((setting) => [setting, ""])));
    toast("The words and the meter's readings are gone. Recordings stay in “Built?”.", {
      label: "Undo",
      act: () => {
        keepWords(before.heard, id);
        if (read) keepMeter(read, before.meter);
      },
    });
  }

  const follower = createFollower(/** @type {(book: Book) => void} */ (follow), fail, signal);
  /** @param {Book} book */
  function follow(book) {
    const { state, share = 0, phase } = book;
    if (book.form && !same(book.form, form)) {
      form = book.form;
      entry.offer(form);
      update();
    }
    working.hidden = state !== "running";
    progress.value = share;
    say(told, state === "running" ? workingText(phase, share) : "");
    if (state === "done") {
      ready = true;
      ask();
    } else if (state !== "running") {
      fail(
        new ApiError(
          422,
          (book.problems ?? []).map(([where, got, allowed, hint]) => ({ where, got, allowed, hint })),
        ),
      );
    }
  }
  /** Make the book of the wiring that is shown, unless it is made already. */
  function begin() {
    if (!get().faults.open || element.hidden) return;
    const missing = missingOf(get());
    const { draft } = hearingOf(get());
    if (!draft.version) return;
    answer.clear();
    if (missing.length) {
      asked = "";
      return say(problem, `The drawing is not finished. Still missing: ${missing.join(", ")}.`);
    }
    asked = JSON.stringify(draft);
    ready = false;
    again.hidden = true;
    say(problem, "");
    follower.begin(async (stop) => {
      if (jackOf !== wiring()) await lookUp();
      return api.startFaults(draft, stop);
    });
  }
  /** @param {unknown} error */
  function fail(error) {
    if (signal.aborted) return;
    working.hidden = true;
    again.hidden = false;
    say(problem, error instanceof Error ? error.message : String(error));
  }

  const ask = latest(
    async () => {
      if (!ready || !form) return;
      const [{ draft }, given] = [hearingOf(get()), rows()];
      const has = { ...tools(), sides_kept: (jackOf === wiring() && jack?.fields.sides_kept) ?? true };
      try {
        const found = await api.answerFaults(draft, tableOf(given), has, signal);
        if (JSON.stringify(hearingOf(get()).draft) !== asked || !same(given, rows())) return;
        entry.complain(new Map());
        say(problem, "");
        again.hidden = true;
        answer.show(found, form, {
          ...has,
          exciter: has.exciter || given.some(({ what }) => isExcited(what)),
        });
      } catch (error) {
        if (!(error instanceof ApiError) || !complain(error, given)) throw error;
      }
    },
    { failed: fail },
  );
  /**
   * Say what is wrong with rows, beside those that have a field and above for the others; whether there
   * was one.
   * @param {ApiError} error @param {Row[]} given
   */
  function complain(error, given) {
    /** @type {Map<Row, string>} */
    const found = new Map();
    for (const { where, got, allowed, hint } of error.problems) {
      const row = given[rowOf(where)];
      if (row) found.set(row, `Got ${got}; allowed: ${allowed}${hint ? ` (${hint})` : ""}.`);
    }
    const left = entry.complain(found);
    say(problem, left.map(([row, text]) => `${row.what}, position ${row.setting}: ${text}`).join(" "));
    return found.size > 0;
  }

  function update() {
    const now = rows();
    entry.update(now, tools());
    away.hidden = !now.some(({ what }) => what === HEARD || what === METER);
  }
  on(["faults"], (now, before) => {
    update();
    if (!now.faults.open) return;
    if (!before.faults.open) {
      if (JSON.stringify(hearingOf(get()).draft) !== asked) begin();
      else lookUp().then(() => ask(), fail);
    } else if (now.faults.heard !== before.faults.heard || !same(tools(now), tools(before))) ask();
  });
  on(["view"], ({ view, faults }) => {
    if (view === "bench" && faults.open && jackOf) lookUp().then(() => ask(), fail);
  });
  on(["slots", "current", "before", "unfinished"], () => {
    if (!get().faults.open || JSON.stringify(hearingOf(get()).draft) === asked) return;
    update();
    begin();
  });
  api.getCautions().then(
    (found) => {
      say(first, found.cautions[0]);
      const rest = [...found.cautions.slice(1), ...found.exciter_cautions];
      fill(cautions, ...rest.map((text) => h("li", {}, text)));
    },
    () => say(first, "Unplug the guitar from everything. Measure ohms on a dead circuit alone."),
  );
  update();
  begin();
  return element;
}
