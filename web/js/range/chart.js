/** The lug chart of the set: choose a switch, watch the chart improve until it is proved best, save it. */

import * as api from "./api.js";
import { getCommission } from "../session/api.js";
import { createFollower } from "../shared/following.js";
import { saveChart } from "../shared/searches.js";
import { hearingOf, placeOf } from "../session/session.js";
import { otherSketches, sketchedPositions } from "../session/sketches.js";
import { TABLE } from "../session/ranging.js";
import { OWN_SWITCH } from "./words.js";
import { counted, plainName } from "../shared/words.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { latest } from "../shared/latest.js";
import { sheetView } from "./chart_sheet.js";
import { wiredView } from "./wired_view.js";
import { field } from "./form.js";

/** @import {Session} from "../session/session.js" */
/** @import {ChartOptions} from "../session/ranging.js" */
/** @import {Search, SwitchRow, Wired} from "./words.js" */

/**
 * @param {Session} session
 * @param {{sounds: () => {expression: string, label: string}[], useOnly: (numbers: number[]) => void,
 *   findOn: (on: import("../session/ranging.js").SwitchOptions) => void}} ways
 */
export function chartView(session, { sounds, useOnly, findOn }) {
  const { get, set, on, signal } = session;
  /** @type {SwitchRow[]} */
  let rows = [];
  /** @type {Search | null} */
  let news = null;
  let count = 0,
    inSet = 0;
  const asked = () => get().range.chart;
  /** @param {Partial<Omit<ChartOptions, "sounds" | "labels">>} change */
  const ask = (change) => set({ range: { ...get().range, chart: { ...asked(), ...change } } });

  /** Whether the selector is a sketch, whose set can be charted. */
  let hasSet = false;
  /** How the switches are soldered; null while that is not known. @type {Wired | null} */
  let wired = null;
  /** Whether the sounds of the soldered switch are charted. */
  const ofSwitch = () => !sketch() && !hasSet;
  const others = () => {
    const { check } = get();
    return check?.ok ? otherSketches(check) : [];
  };
  /** The other sketch that is charted, or empty for the set. */
  const sketch = () => {
    const names = others(),
      { sketch: name = "" } = asked();
    return names.includes(name) ? name : hasSet ? "" : (names[0] ?? "");
  };
  /** The sounds to chart: those of the other sketch, or the set. */
  function wanted() {
    const { check } = get(),
      name = sketch();
    if (ofSwitch())
      return Object.entries(wired?.sounds ?? {}).map(([position, expression]) => ({
        expression,
        label: check?.positions.find((one) => one.position === position)?.label ?? "",
      }));
    if (!name || !check) return sounds();
    const positions = sketchedPositions({ parts: check.parts, selector: name }) ?? [];
    return positions.map(({ sound }) => ({ expression: sound, label: "" }));
  }
  const which = h("select", {
    onchange: () => {
      news = null;
      fill(reason);
      fill(result);
      say(said, "");
      set({
        range: {
          ...get().range,
          charted: [],
          chartedLabels: [],
          chart: { ...asked(), sketch: which.value },
        },
      });
      recount();
    },
  });
  const whichField = field("What is charted", which);
  const pick = h("select", {
    onchange: () => {
      ask({ switch: { ...asked().switch, name: pick.value, stop: null } });
      show();
    },
  });
  const picked = field("Switch", pick);
  const pickSecond = h("select", {
    onchange: () => {
      const name = pickSecond.value;
      ask({ second: name ? { name, table: "", stop: null } : null, shaft: "" });
      show();
    },
  });
  const secondField = field("And a second switch", pickSecond);
  const pickShaft = h("select", { onchange: () => ask({ shaft: pickShaft.value }) });
  const shaftField = field("Its shaft", pickShaft);
  const table = h("textarea", {
    rows: 6,
    spellcheck: "false",
    onchange: () => ask({ switch: { ...asked().switch, table: table.value } }),
  });
  const own = field(
    "Its lugs and, by position, the lugs that it connects",
    table,
    "As in a wiring file. Find the connections with a meter.",
  );
  const stopped = h("input", {
    type: "checkbox",
    onchange: () => ask({ switch: { ...asked().switch, stop: stopped.checked ? count : null } }),
  });
  const stopWords = h("span", {}),
    stop = h("label", { class: "tick" }, stopped, stopWords);
  /** @param {string} words @param {boolean} on_ @param {(is: boolean) => void} turn */
  const tick = (words, on_, turn) => {
    const box = h("input", { type: "checkbox", checked: on_, onchange: () => turn(box.checked) });
    return h("label", { class: "tick" }, box, words);
  };
  const seconds = h("input", {
    type: "number",
    min: 1,
    max: 600,
    value: String(asked().seconds),
    id: uid("time"),
    onchange: () => ask({ seconds: Math.min(600, Math.max(1, Number(seconds.value) || 10)) }),
  });
  const order = tick("Sounds may change their order on the switch", asked().order === "free", (is) =>
    ask({ order: is ? "free" : "fixed" }),
  );
  const more = h(
    "details",
    { class: "more" },
    h("summary", {}, "More rules"),
    order,
    tick("Unused coils may be shorted", asked().shorted, (is) => ask({ shorted: is })),
    tick("The polarity of a whole position may be reversed: alone it is inaudible", asked().turning, (is) =>
      ask({ turning: is }),
    ),
    h("div", { class: "ask" }, h("label", { for: seconds.id }, "Search for at most, s"), seconds),
  );
  const stage = h("p", { class: "soft small" }),
    said = h("p", { role: "status" }),
    failure = h("p", { class: "problem", role: "alert" }),
    bar = h("progress", { hidden: true, "aria-label": "The chart" });
  const needsSet = h("p", { class: "soft small", id: uid("needs-set") });
  const existing = wiredView();
  const go = h(
      "button",
      { type: "button", class: "main", "aria-describedby": needsSet.id, onclick: () => chart() },
      "Make the chart",
    ),
    end = h("button", { type: "button", hidden: true, onclick: () => follower.stop() }, "Stop");
  const reason = h("div", { class: "reason" }),
    result = h("div", {});
  const follower = createFollower(
    (/** @type {Search} */ fresh) => {
      news = fresh;
      showNews();
    },
    (error) => {
      news = null;
      say(failure, error instanceof Error ? error.message : String(error));
      showNews();
    },
    signal,
    (waiting) => {
      end.hidden = !waiting;
    },
  );
  const element = h(
    "section",
    { class: "charting sheet", "aria-labelledby": "chart-title", tabindex: -1 },
    h("h2", { id: "chart-title" }, "The lug chart"),
    h(
      "p",
      { class: "soft small" },
      "Which lead goes to which lug, so that the switch makes these sounds: fewest poles, then fewest wires, verified twice.",
    ),
    existing.element,
    h(
      "div",
      { class: "chart-asking" },
      whichField.element,
      picked.element,
      own.element,
      stop,
      secondField.element,
      shaftField.element,
      more,
      failure,
      h("div", { class: "row" }, go, end),
      needsSet,
      bar,
      stage,
      said,
    ),
    reason,
    result,
  );

  function chart(these = wanted()) {
    if (these.length === 0) return;
    const charted = these.map(({ expression }) => expression),
      labels = these.map(({ label }) => label),
      name = sketch();
    set({ range: { ...get().range, charted, chartedLabels: labels } });
    const { draft } = hearingOf(get());
    say(failure, "");
    const about = name || ofSwitch() ? { sounds: [], labels: [] } : { sounds: charted, labels };
    follower.begin((ended) => api.startChart(draft, { ...asked(), sketch: name, ...about }, ended));
  }
  /** The sounds of the requested chart, with their labels. */
  function charted() {
    const { charted: which, chartedLabels: labels = [] } = get().range;
    return which.map((expression, k) => ({ expression, label: labels[k] ?? "" }));
  }
  let offered = "";
  function show() {
    const {
      switch: { name, table: text, stop: at },
    } = asked();
    if (pick.value !== name) pick.value = name;
    own.element.hidden = name !== OWN_SWITCH;
    if (document.activeElement !== table) table.value = text || TABLE;
    const row = rows.find((one) => one.name === name);
    const names = others();
    whichField.element.hidden = names.length === 0;
    const all = JSON.stringify([hasSet, names]);
    if (all !== offered) {
      offered = all; // a list that somebody has open stays
      fill(
        which,
        hasSet ? h("option", { value: "" }, "the set of the selector") : null,
        ...names.map((one) => h("option", { value: one }, `the sketch ${plainName(one).toLowerCase()}`)),
      );
    }
    which.value = sketch();
    stop.hidden = !row || count === 0 || row.positions <= count;
    stopped.checked = at !== null;
    say(
      stopWords,
      row
        ? `Use only the first ${count} of its ${row.positions} positions, as limited by a rotary's stop`
        : "",
    );
    const second = asked().second ?? null;
    if (pickSecond.value !== (second?.name ?? "")) pickSecond.value = second?.name ?? "";
    shaftField.element.hidden = !second;
    showShafts();
    const lack = lackInWords(
      row,
      rows.find((one) => one.name === second?.name),
    );
    go.disabled = lack.missing;
    say(needsSet, lack.words);
    needsSet.classList.toggle("warn", lack.missing);
  }
  let shafts = "";
  /** The pots that a second switch may sit on. */
  function showShafts() {
    const pots = (get().check?.parts ?? []).filter(({ kind }) => kind === "pot").map(({ name }) => name);
    if (shafts !== JSON.stringify(pots)) {
      shafts = JSON.stringify(pots);
      fill(
        pickShaft,
        h("option", { value: "" }, "its own"),
        ...pots.map((name) => h("option", { value: name }, `that of ${plainName(name).toLowerCase()}`)),
      );
    }
    pickShaft.value = asked().shaft ?? "";
  }
  /**
   * What "Make the chart" needs, said beside it: what is missing, or what it will do.
   * @param {SwitchRow | undefined} row @param {SwitchRow | undefined} second
   */
  function lackInWords(row, second) {
    if (count === 0)
      return {
        missing: true,
        words: ofSwitch() ? whyNoSounds() : "Find a set of sounds first. The chart wires that set.",
      };
    const what = ofSwitch()
      ? `the ${counted(count, "sound")} of the present switch`
      : counted(count, "sound");
    if (!row) return { missing: false, words: `Wires ${what} on your own switch.` };
    const stands = (asked().switch.stop ?? row.positions) * (second?.positions ?? 1);
    const have = counted(stands, second ? "stand" : "position");
    if (stands < count) {
      const enough = rows.filter(({ positions }) => positions >= count).length;
      return {
        missing: true,
        words: `${counted(count, "sound")} need as many positions; this gives ${have}. Choose one of the ${counted(enough, "switch", "switches")} with enough${second ? "" : ", or add a second switch"}.`,
      };
    }
    const order = second ? ` In order: ${standsInWords(row, second)}.` : "";
    return { missing: false, words: `Wires ${what} on ${have}.${order}${othersOff()}` };
  }
  /** @param {SwitchRow} row @param {SwitchRow} second */
  function standsInWords({ positions }, second) {
    const names = second.positions === 2 && /^push/.test(second.name) ? ["down", "up"] : ["1", "2", "3"];
    const few = [1, 2]
      .slice(0, positions)
      .flatMap((one) => names.slice(0, second.positions).map((two) => `${one} ${two}`));
    return `${few.join(", ")}${positions > 2 ? ", …" : ""}`;
  }
  /** Charting a soldered selector takes the other switches off. */
  function othersOff() {
    const names = ofSwitch() ? (wired?.switches ?? []).filter(({ selects }) => !selects) : [];
    return names.length
      ? ` ${names.map(({ name }) => plainName(name)).join(", ")} comes off: its other positions are not wired anew.`
      : "";
  }
  function whyNoSounds() {
    if (!wired) return "Looking at the present switch…";
    if (wired.why) return `The sounds of this switch cannot be wired anew: ${wired.why}.`;
    return "No sound of this switch can be written as an expression.";
  }
  function showSwitches() {
    const fit = rows.filter(({ positions }) => positions >= count),
      few = rows.filter(({ positions }) => positions < count);
    /** @param {SwitchRow} row */
    const option = ({ name, about }) => h("option", { value: name }, about);
    fill(
      pickSecond,
      h("option", { value: "" }, "none"),
      ...rows.filter(({ positions }) => positions <= 3).map(option),
    );
    fill(
      pick,
      h("optgroup", { label: `${counted(count, "position")} or more` }, ...fit.map(option)),
      few.length ? h("optgroup", { label: "Fewer positions" }, ...few.map(option)) : null,
      h("option", { value: OWN_SWITCH }, "A switch of my own…"),
    );
    pick.value = asked().switch.name;
    show();
  }
  let shownFor = "";
  /** Take over how many sounds there are to chart, and of which sketch. */
  function recount() {
    const now = sketch() || ofSwitch() ? wanted().length : inSet,
      about = JSON.stringify([sketch(), hasSet, others(), now, wired]);
    if (about === shownFor) return;
    shownFor = about;
    count = now;
    if (count > 0 && asked().switch.stop !== null && asked().switch.stop !== count)
      ask({ switch: { ...asked().switch, stop: count } });
    showSwitches();
    if (!news && get().range.charted.length > 0 && count > 0)
      chart(sketch() || ofSwitch() ? wanted() : charted());
  }
  function showNews() {
    const running = news?.state === "running",
      problems = news?.problems ?? [];
    bar.hidden = !running;
    say(stage, running && news?.stage ? `${news.stage.charAt(0).toUpperCase()}${news.stage.slice(1)}…` : "");
    const words = problems
      .map(
        ([where, got, allowed, hint]) =>
          `${where}: got ${got}; allowed: ${allowed}${hint ? ` (${hint})` : ""}.`,
      )
      .join(" ");
    const aboutSwitch = problems.length > 0 && /^(switch|table|positions|stop)/.test(problems[0][0]);
    picked.refuse(aboutSwitch ? words : "");
    say(failure, aboutSwitch ? "" : words);
    const { chart: found } = news ?? {};
    say(
      said,
      found
        ? found.summary.join(" ")
        : news?.state === "cancelled"
          ? "Stopped before finding a chart."
          : news?.state === "time"
            ? "Time ran out before a chart was found. Allow more time."
            : "",
    );
    showReason();
    if (!found || !news) fill(result);
    else fill(result, sheetView(news.id, found, { keep, busy: running ?? false }));
  }
  function showReason() {
    const lines = news?.reason ?? [],
      left = sketch() ? [] : (news?.left_out ?? []),
      which = charted(),
      named = (/** @type {number} */ n) => which[n - 1].label || which[n - 1].expression;
    const instead = h(
      "button",
      { type: "button", onclick: () => findOn(asked().switch) },
      "Find the best set that this switch can make",
    );
    const remedies = (news?.remedies ?? []).filter((one) => one.switch);
    const anyOrder = h(
      "button",
      {
        type: "button",
        onclick: () => {
          order.querySelector("input")?.click();
          chart(which);
        },
      },
      "Let the sounds change places",
    );
    fill(
      reason,
      ...(lines.length
        ? [
            h(
              "h3",
              {},
              news?.impossible
                ? "These sounds cannot be wired on this switch"
                : "No chart was found in the time",
            ),
            h("ul", {}, ...lines.map((line) => h("li", {}, line))),
          ]
        : []),
      ...(left.length && left.length < which.length
        ? [
            h("p", { class: "small" }, `A chart exists without ${left.map(named).join("; ")}.`),
            h(
              "button",
              {
                type: "button",
                onclick: () => {
                  const kept = which.map((_, k) => k + 1).filter((n) => !left.includes(n));
                  useOnly(kept);
                  chart(kept.map((n) => which[n - 1]));
                },
              },
              "Chart it without",
            ),
          ]
        : []),
      ...remedies.map(({ switch: name, about }) =>
        h(
          "button",
          {
            type: "button",
            onclick: () => {
              ask({ switch: { ...asked().switch, name, stop: null }, second: null, shaft: "" });
              showSwitches();
              chart(which);
            },
          },
          `Use what would do: ${about.charAt(0).toLowerCase()}${about.slice(1)}`,
        ),
      ),
      lines.length && asked().order === "fixed" ? anyOrder : null,
      lines.length && hasSet && !sketch() ? instead : null,
    );
  }
  /** @param {"wiring" | "version"} as */
  async function keep(as) {
    if (!news?.chart) return;
    const { version, edits } = session.slot(),
      { commission } = get(),
      place = placeOf(commission, version);
    try {
      const named =
        `${place?.wiring.name ?? "Wiring"}, ${news.chart.about.charAt(0).toLowerCase()}${news.chart.about.slice(1)}`.slice(
          0,
          200,
        );
      const newest = place?.wiring.versions.reduce((a, b) => (a.number > b.number ? a : b));
      const made = await saveChart(
        news.id,
        as === "wiring" || !place || !newest
          ? { commission: commission.id, name: named }
          : {
              wiring: place.wiring.id,
              base: newest.id,
              note: `lug chart: ${news.chart.about}`.slice(0, 200),
            },
      );
      set({ commission: await getCommission(commission.id) });
      session.setVersion(made.version_id);
      set({ view: "bench" });
      toast(
        as === "wiring"
          ? "Saved as a new wiring, which plays now."
          : "Saved as the next version, which plays now.",
        {
          label: "Go back",
          act: () => {
            session.setVersion(version, edits);
            set({ view: "range" });
          },
        },
      );
    } catch (error) {
      toastError(error);
    }
  }
  api.listSwitches().then((found) => {
    rows = found;
    showSwitches();
    switchesKnown(found);
  }, toastError);
  /** @type {(rows: SwitchRow[]) => void} */
  let switchesKnown = () => {};
  on(["range"], show);
  /** Look at the soldered switches again. */
  const lookAgain = latest(
    async () => {
      const { check } = get();
      if (!check?.ok) return;
      const found = await api.getWiredSwitches(hearingOf(get()).draft);
      if (signal.aborted) return;
      wired = found;
      existing.show(found.switches);
      recount();
      show();
    },
    { failed: (error) => signal.aborted || say(failure, error instanceof Error ? error.message : "") },
  );
  on(["check"], () => lookAgain());
  lookAgain();
  showSwitches();
  return {
    element,
    ask() {
      element.scrollIntoView({ block: "start" });
      element.focus({ preventScroll: true });
      if (hasSet && sketch()) {
        ask({ sketch: "" });
        recount();
      }
      chart();
    },
    /** @param {number} positions in the set @param {boolean} selector  whether the selector is a sketch */
    update(positions, selector) {
      [inSet, hasSet] = [positions, selector];
      recount();
    },
    /** Whether there is something to chart besides the set. */
    hasOther: () => others().length > 0 || !!get().check?.parts.some(({ kind }) => kind === "switch"),
    /** @param {(rows: SwitchRow[]) => void} listener */
    onSwitches(listener) {
      switchesKnown = listener;
      if (rows.length) listener(rows);
    },
  };
}
