/** The range of these coils: search, map, choose by ear, chart. */

import * as api from "./api.js";
import { problemText } from "../shared/http.js";
import { createFollower } from "../shared/following.js";
import { hearingOf } from "../session/session.js";
import { LETTERS, MOST, mapText, withEdit } from "../session/compare.js";
import { moved, withLabels } from "../session/ranging.js";
import { startHistory } from "../session/history.js";
import { levelsInWords, phaseInWords, proofInWords } from "./words.js";
import { largestDifference, nearestOf, placesOf, smallest } from "./sound_map.js";
import { same } from "../shared/store.js";
import { fixed } from "../shared/units.js";
import { fill, h, say } from "../shared/dom.js";
import { toast, toastError } from "../shared/notices.js";
import { chartView } from "./chart.js";
import { chosenView } from "./chosen.js";
import { costsView } from "./costs.js";
import { formView } from "./form.js";
import { mapView } from "./map.js";
import { soundPanel } from "./sound_panel.js";
import { travelView } from "./travel.js";

/** @import {Session} from "../session/session.js" */
/** @import {Nearest, Search, Sound, SoundMap} from "./words.js" */

/** @param {Session} session */
export function rangeView(session) {
  const { get, set, on, signal } = session;
  /** @type {Search | null} */
  let news = null;
  /** @type {SoundMap | null} */
  let map = null;
  let fetched = "",
    at = -1,
    sought = "";
  /** @param {Partial<import("../session/ranging.js").RangeState>} change */
  const keep = (change) => set({ range: { ...get().range, ...change } });
  /** @param {Partial<import("../session/ranging.js").RangeOptions>} change */
  const ask = (change) => keep({ asked: { ...get().range.asked, ...change } });

  // --- elements
  const notice = h("div", { class: "range-notice" });
  const phase = h("p", { class: "soft small" }),
    bar = h("progress", { max: 1, "aria-label": "The search", hidden: true }),
    proof = h("p", { role: "status" });
  const stale = h("p", { class: "warn small", role: "status" });
  const notes = h("ul", { class: "small soft notes" });
  const own = h("div", { class: "row own", hidden: true });
  const others = h("div", { class: "others" });
  const levels = h("p", { class: "soft small levels" });
  /** A set shown on the map beside the present one. @type {string[]} */
  let beside = [];
  const hint = h("p", { class: "soft small", role: "status" });
  const panel = soundPanel({
    hear: listen,
    keep: keepToCompare,
    pin: togglePin,
    swap: swapIn,
    leaveOut,
  });
  const use = h("button", { type: "button", onclick: () => useSet() }, "Use these positions");
  const dots = mapView({
    hear: (k) => {
      if (map) listen(map.points[k].expression);
    },
    at: (k) => {
      at = k;
      showPanel();
    },
  });
  const chosen = chosenView({
    hear: (expression) => listen(expression),
    pin: (expression) => togglePin(expression),
    ban: (expression) => leaveOut(expression),
    swap: (place, expression) => swapIn(place, expression),
    move: (from, to) => moveSound(from, to),
  });
  const costs = costsView({
    show: (expressions) => {
      beside = expressions ?? [];
      update();
    },
    use: (expressions) => useOther(expressions),
  });
  const form = formView(session, { search, stop: () => follower.stop() });
  const chart = chartView(session, {
    sounds: () => current().map((sound) => ({ expression: sound.expression, label: labelOf(sound) })),
    useOnly,
    findOn,
  });
  const travel = travelView(session);
  chart.onSwitches(form.showSwitches);
  const set_ = h(
    "section",
    { class: "set sheet", "aria-labelledby": "set-title", hidden: true },
    h("h3", { id: "set-title" }, "The set"),
    chosen.element,
    levels,
    own,
    h(
      "div",
      { class: "row" },
      use,
      h(
        "button",
        {
          type: "button",
          class: "main",
          onclick: () => {
            chart.ask();
          },
        },
        "Chart it",
      ),
    ),
    costs.element,
    others,
  );
  const found = h(
    "div",
    { class: "range-found" },
    h("section", { class: "sheet map-sheet", "aria-label": "Map" }, dots.element, panel.element, hint),
    set_,
  );
  const asking = h(
    "section",
    { class: "sheet range-asking", "aria-label": "Search" },
    h("h2", {}, "The range of these coils"),
    h(
      "p",
      { class: "soft small" },
      "The search tries every connection of the coils, with every knob at 10. It finds the set whose two most similar sounds differ most. The distance is computed: it does not say what anyone likes.",
    ),
    form.element,
    bar,
    phase,
    proof,
    stale,
    notes,
  );
  const main = h("div", { class: "range-main" }, asking, found);
  const element = h(
    "section",
    { class: "range", "aria-label": "Range of sounds" },
    notice,
    main,
    chart.element,
    travel,
  );

  // --- the search
  const follower = createFollower(
    (/** @type {Search} */ result) => {
      news = result;
      update();
    },
    (error) => {
      news = null;
      say(phase, error instanceof Error ? error.message : String(error));
      update();
    },
    signal,
    (waiting) => form.setWaiting(waiting),
  );
  /** @param {boolean} [keepMap] the sounds stay the same; only the set asked for is another */
  function search(keepMap = false) {
    const { draft } = hearingOf(get());
    sought = soughtIn(draft);
    keep({ began: true, own: null });
    fetched = "";
    if (!keepMap) {
      map = null;
      at = -1;
      dots.show(null);
    }
    follower.begin((ended) => api.startRange(draft, get().range.asked, ended));
  }
  async function fetchMap() {
    if (!news?.has.includes("map")) return;
    const { id, state, phase: now } = news,
      stage = `${id} ${state !== "running" ? "end" : now === "facts" ? "facts" : news.set?.rows.map(({ index }) => index).join()}`;
    if (stage === fetched) return;
    fetched = stage;
    try {
      const found = await api.getSoundMap(id, signal);
      if (id !== news?.id) return;
      map = found;
      dots.show(map);
      update();
    } catch (error) {
      if (!signal.aborted) toastError(error);
    }
  }

  // --- the set and the sound
  /**
   * The present set: the one found, or the technician's own.
   * @returns {(Sound & Nearest)[]}
   */
  function current() {
    const { own: mine } = get().range;
    if (mine) {
      if (!map) return []; // never the set found in the place of one's own
      const all = map,
        places = placesOf(all, mine);
      return places.map((k) => {
        const nearest = nearestOf(all, k, places);
        return {
          ...all.points[k],
          nearest_db: nearest && nearest.away,
          nearest_largest_db: nearest && largestDifference(all, k, nearest.member),
        };
      });
    }
    return news?.set?.rows ?? [];
  }
  const members = () =>
    map
      ? placesOf(
          map,
          current().map(({ expression }) => expression),
        )
      : [];
  /** The label that a sound has, or had. @param {{sound: string}} sound */
  const labelOf = ({ sound }) => (get().range.labels ?? {})[sound] ?? "";
  /** @param {number} from @param {number} to places in the selector */
  function moveSound(from, to) {
    const before = get().range.own,
      now = current().map((sound) => sound.expression);
    if (to < 0 || to >= now.length) return;
    keep({ own: moved(now, from, to) });
    toast(`Position ${from + 1} is now position ${to + 1}.`, {
      label: "Undo",
      act: () => keep({ own: before }),
    });
  }
  /** @param {string} expression */
  function listen(expression) {
    const { check } = get(),
      { position } = session.slot();
    if (!check?.selector || !position) return;
    set({
      before: false,
      trying: { path: ["parts", check.selector, "positions", position], value: expression, position },
    });
    say(hint, get().playing ? "" : "Press Play to hear it.");
  }
  /** Keep a sound on the bench, to compare with. @param {string} expression */
  function keepToCompare(expression) {
    const { check } = get(),
      { position, edits } = session.slot(),
      k = get().slots.length;
    if (!check?.selector || !position) return;
    session.keep();
    if (get().slots.length === k) {
      toast(`${MOST} sounds are kept already. Drop one on the bench.`);
      return;
    }
    const found = map?.points.find((point) => point.expression === expression);
    const changed = [
      { path: ["parts", check.selector, "positions", position], value: expression },
      { path: ["labels", position], value: (found && labelOf(found)) || null },
    ].reduce(withEdit, edits);
    set({
      slots: get().slots.map((slot, j) => (j === k ? { ...slot, edits: changed } : slot)),
      histories: get().histories.map((history, j) => (j === k ? startHistory(changed) : history)),
    });
    toast(`Kept as ${LETTERS[k]}, to compare.`, {
      label: "To the bench",
      act: () => {
        set({ view: "bench" });
        session.hear(k);
      },
    });
  }
  /** @param {string} expression */
  function togglePin(expression) {
    const { pins, bans } = get().range.asked;
    ask({
      pins: pins.includes(expression) ? pins.filter((one) => one !== expression) : [...pins, expression],
      bans: bans.filter((one) => one !== expression),
    });
    say(hint, "Press Find again for the best set with the pinned sounds.");
  }
  /** @param {string} expression */
  function leaveOut(expression) {
    const { pins, bans } = get().range.asked,
      before = get().range;
    ask({
      bans: [...bans.filter((one) => one !== expression), expression],
      pins: pins.filter((one) => one !== expression),
    });
    search();
    toast(`Left out: ${expression}.`, {
      label: "Undo",
      act: () => {
        set({ range: before });
        search();
      },
    });
  }
  /** @param {number} place @param {string} expression */
  function swapIn(place, expression) {
    const before = get().range.own,
      now = current().map((sound) => sound.expression);
    keep({ own: now.map((one, k) => (k === place ? expression : one)) });
    listen(expression);
    toast(`Position ${place + 1} is now ${expression}.`, { label: "Undo", act: () => keep({ own: before }) });
  }
  /** @param {number[]} numbers positions to keep */
  function useOnly(numbers) {
    const now = current().map((sound) => sound.expression);
    keep({ own: now.filter((_, k) => numbers.includes(k + 1)) });
  }
  /**
   * Search for the best set of a switch that cannot make the present one.
   * @param {import("../session/ranging.js").SwitchOptions} on_it
   */
  function findOn(on_it) {
    ask({ switch: on_it });
    search();
    asking.scrollIntoView({ block: "start" });
  }
  /** Take another set in place of the present one. @param {string[]} expressions */
  function useOther(expressions) {
    const before = get().range.own;
    keep({ own: expressions });
    toast("This set is now in place of the best one.", {
      label: "Undo",
      act: () => keep({ own: before }),
    });
  }
  function useSet() {
    const { check } = get();
    if (!check?.selector) return;
    const sounds = current();
    session.edit(
      {
        path: ["parts", check.selector, "positions"],
        value: mapText(sounds.map(({ expression }, k) => [String(k + 1), expression])),
      },
      { path: ["labels"], value: mapText(sounds.map((sound, k) => [String(k + 1), labelOf(sound)])) },
    );
    session.setPosition("1");
    toast("The sketch now has these positions.", { label: "Undo", act: session.undo });
  }

  // --- showing
  function update() {
    const sounds = current(),
      {
        own: mine,
        asked: { pins },
      } = get().range,
      coils = get().check?.coils ?? [];
    form.update(news);
    const running = news?.state === "running";
    bar.hidden = !running;
    const share =
      news?.phase === "facts" ? news.facts_share : news?.phase === "sounds" ? news.share : undefined;
    if (share === undefined) bar.removeAttribute("value");
    else bar.value = share;
    if (news) say(phase, phaseInWords(news));
    say(proof, news ? proofInWords(news) : "");
    fill(notes, ...(news?.notes ?? []).map((note) => h("li", {}, note)));
    set_.hidden = sounds.length === 0;
    say(levels, levelsInWords(sounds));
    costs.update(news);
    const heardNow = get().trying?.value ?? "";
    chosen.show(sounds, {
      coils,
      pins,
      heard: heardNow,
      map,
      members: members(),
      labels: sounds.map(labelOf),
    });
    own.hidden = !mine;
    const least = map && mine ? smallest(map, members()) : null;
    if (mine)
      fill(
        own,
        h(
          "span",
          { class: "small" },
          `Your own set${least === null ? "" : `: ${fixed(least, 2)} dB apart, the best has ${fixed(news?.set?.distance_db ?? 0, 2)} dB`}.`,
        ),
        h(
          "button",
          { type: "button", class: "small", onclick: () => keep({ own: null }) },
          "Back to the best set",
        ),
      );
    showOthers();
    dots.choose(members());
    dots.compare(map ? placesOf(map, beside) : []);
    dots.pin(map ? placesOf(map, pins) : []);
    dots.markPlaying(map ? map.points.findIndex(({ expression }) => expression === heardNow) : -1);
    showPanel();
    tellStale();
    chart.update(sounds.length, selectorIsSketch());
    fetchMap();
  }
  let othersShown = "";
  function showOthers() {
    const sets = news?.others ?? [],
      next = JSON.stringify(sets.map(({ rows }) => rows.map(({ index }) => index)));
    if (next === othersShown) return;
    othersShown = next;
    fill(
      others,
      ...(sets.length ? [h("h4", {}, "Nearly as far apart, with another character")] : []),
      ...sets.map(({ rows, distance_db: apart, new: fresh, gone }) =>
        h(
          "div",
          { class: "other" },
          h(
            "span",
            { class: "small" },
            h("b", {}, fresh.join(", ")),
            ` in place of ${gone.join(", ")}: ${fixed(apart ?? 0, 2)} dB apart`,
          ),
          h(
            "button",
            {
              type: "button",
              "aria-label": `Use the set with ${fresh.join(", ")}`,
              onclick: () => keep({ own: rows.map(({ expression }) => expression) }),
            },
            "Use it",
          ),
        ),
      ),
    );
  }
  function showPanel() {
    if (!map || at < 0) return panel.show(null);
    const sound = map.points[at],
      near = dots.nearest(at),
      in_ = members();
    panel.show({
      sound,
      chosen: in_.includes(at),
      pinned: get().range.asked.pins.includes(sound.expression),
      near: near && { away: near.away, place: in_.indexOf(near.member) },
    });
  }
  const selectorIsSketch = () => {
    const { check } = get();
    return check?.parts.find(({ name }) => name === check.selector)?.kind === "sketch";
  };
  function showNotice() {
    const { check } = get();
    const coils = check?.coils.length ?? 0;
    const ready = !!check?.ok && coils > 1 && selectorIsSketch();
    main.hidden = !ready;
    chart.element.hidden = !ready && !chart.hasOther();
    travel.hidden = !check?.ok || check.knobs.length === 0;
    notice.hidden = ready || !check;
    if (ready || !check) return;
    if (!check.ok)
      return fill(
        notice,
        h(
          "div",
          { class: "empty" },
          h("h2", {}, "This wiring has problems"),
          h("p", {}, check.problems.map(problemText).join(" ")),
        ),
      );
    if (coils < 2)
      return fill(
        notice,
        h(
          "div",
          { class: "empty" },
          h("h2", {}, coils ? "One coil makes one sound" : "The wiring has no coil"),
          h(
            "p",
            { class: "soft" },
            "A range needs at least two coils. Start a commission from a wiring with more coils, or add them in its file.",
          ),
        ),
      );
    fill(
      notice,
      h(
        "div",
        { class: "empty" },
        h("h2", {}, "This wiring has a wired switch"),
        h(
          "p",
          { class: "soft" },
          "The search needs a sketch instead: sounds written as expressions, before you choose a switch. Controls and values stay, and the sounds of this switch become the sketch's first positions. Undo restores the switch.",
        ),
        h(
          "button",
          { type: "button", class: "main", onclick: () => putSketch().catch(toastError) },
          "Replace it by a sketch",
        ),
      ),
    );
  }
  async function putSketch() {
    const { edits } = await api.getSketchEdits(hearingOf(get()).draft);
    session.edit(...edits);
    toast("A sketch replaces the switch.", { label: "Undo", act: session.undo });
  }

  /**
   * The part of a draft that a search depends on: all but the sketch's own sounds.
   * @param {import("../shared/types.js").Draft} draft
   */
  function soughtIn({ version, edits }) {
    return JSON.stringify([
      version,
      edits.filter(({ path }) => path[0] !== "labels" && path[2] !== "positions"),
    ]);
  }
  const tellStale = () =>
    say(
      stale,
      news && sought !== soughtIn(hearingOf(get()).draft)
        ? "The wiring has changed since this search. Find again."
        : "",
    );

  let stood = standing();
  function standing() {
    const { version, edits, position } = session.slot();
    return { version, edits, position, current: get().current };
  }
  on(["slots", "current"], () => {
    const now = standing();
    if (!same(now, stood) && get().trying) set({ trying: null });
    if (now.version !== stood.version) {
      news = null;
      map = null;
      dots.show(null);
      update();
      resume();
    }
    stood = now;
    tellStale();
  });
  on(["trying", "range", "check"], () => {
    rememberLabels();
    showNotice();
    update();
  });
  /** Labels go with their sounds, also of sounds that leave the sketch. */
  function rememberLabels() {
    const { check, checked, range, before } = get();
    if (!check?.ok || before || checked !== JSON.stringify(hearingOf(get()).draft)) return;
    const labels = withLabels(range.labels ?? {}, check.positions);
    if (!same(labels, range.labels)) set({ range: { ...range, labels } });
  }
  on(["playing"], () => say(hint, ""));
  on(["view"], ({ view }) => {
    if (view !== "range") set({ trying: null });
  });
  /** Request a finished search again: the server has its result. */
  function resume() {
    if (!get().range.began) return;
    const { draft } = hearingOf(get()),
      { own: mine } = get().range;
    sought = soughtIn(draft);
    follower.begin((ended) => api.startRange(draft, get().range.asked, ended));
    keep({ own: mine });
  }
  signal.addEventListener("abort", dots.close);
  rememberLabels();
  showNotice();
  update();
  resume();
  return element;
}
