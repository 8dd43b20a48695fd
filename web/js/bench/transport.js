/** The strip at the top: play, take, waveform with its loop, level, output and its meter. */

import { openDialog } from "../shared/dialog.js";
import { counted, takeChoice, takeLine } from "../shared/words.js";
import { choice, fill, h, say, uid } from "../shared/dom.js";
import { icon, playIcon } from "../shared/icons.js";
import { meterView } from "../shared/meter.js";
import { outputWords } from "../shared/output.js";
import * as api from "./api.js";
import { bringTake, listenForDrops } from "./bring_take.js";
import { recordTake } from "./record_take.js";
import { waveView } from "./wave.js";
import { wayView } from "./way_view.js";

/** @import {Session} from "../session/session.js" */

const BRING = "+",
  RECORD = "o";
const LEVEL_NOTE =
  "Start with your speakers turned down, above all with headphones. The usual level of a take is set by its loudest position and stays while you turn knobs and change parts.";

/**
 * @param {Session} session
 * @param {{toggle: () => void, seek: (seconds: number) => void, peak: () => number}} sound
 */
export function transportView(session, { toggle, seek, peak }) {
  const { get, set, on } = session;
  const play = h(
    "button",
    { class: "play", type: "button", onclick: toggle, "aria-keyshortcuts": "Space" },
    playIcon(false),
  );
  const take = h("select", {
    "aria-label": "Take",
    onchange: () => {
      if (take.value === BRING || take.value === RECORD) {
        const make = take.value === BRING ? bringTake : recordTake;
        take.value = get().take;
        if (make === recordTake && get().playing) toggle(); // nothing else shall sound
        make(session);
      } else set({ take: take.value });
    },
  });
  const line = h("p", {});
  const level = choice(
    "Level",
    [
      { value: "wired", label: "as wired" },
      { value: "matched", label: "level matched" },
    ],
    get().matched ? "matched" : "wired",
    (value) => set({ matched: value === "matched" }),
  );
  const output = h("input", {
    type: "range",
    min: 0,
    max: 1,
    step: 0.01,
    value: String(get().output),
    "aria-label": "Output level",
    "aria-describedby": "out-note",
    title: LEVEL_NOTE,
    oninput: () => set({ output: Number(output.value) }),
  });
  const meter = meterView({ peak, playing: () => get().playing });
  const showOutput = () => output.setAttribute("aria-valuetext", outputWords(get().output));
  const state = h("p", { class: "soft small", role: "status", hidden: true });
  const trouble = troubleLine(session.signal);
  /** What the tracking tells of a recording, stretch by stretch, and its warnings. @type {string[]} */
  let told = [];
  const about = h(
    "button",
    {
      type: "button",
      class: "quiet small",
      hidden: true,
      onclick: () => tellTake(session, told),
    },
    "About this take",
  );

  const showPlay = () => {
    const { playing, opening } = get();
    play.setAttribute("aria-label", playing ? "Pause" : "Play");
    play.setAttribute("aria-busy", String(opening && playing));
    fill(play, playIcon(playing));
  };
  /** @type {Map<string, HTMLOptionElement>} */
  const options = new Map();
  const showTakes = () => {
    const { takes, take: chosen, listed } = get();
    if (
      options.size !== takes.length ||
      take.options.length === 0 ||
      takes.some(({ id }) => !options.has(id))
    ) {
      options.clear();
      for (const { id } of takes) options.set(id, h("option", { value: id }));
      const none = h("option", { value: "" }, listed ? "No take yet" : "Listing the takes…");
      fill(
        take,
        ...(takes.length === 0 ? [none] : options.values()),
        h("option", { value: BRING }, "Bring a recording or MIDI file…"),
        h("option", { value: RECORD }, "Record a take…"),
      );
    } else if (takes.length === 0 && listed) take.options[0].textContent = "No take yet";
    for (const one of takes) {
      const option = options.get(one.id),
        words = takeChoice(one);
      if (option && option.textContent !== words) option.textContent = words; // an open list stays as it is
    }
    take.value = takes.length === 0 ? "" : chosen;
    const now = takes.find(({ id }) => id === chosen);
    say(line, !now ? "" : now.state === "broken" ? "cannot be used" : takeLine(now));
    line.title = now ? [now.coil_places, ...now.warnings].join("\n") : "";
    told = now?.warnings ?? [];
    about.hidden = told.length === 0 && now?.kind !== "midi";
  };
  on(["playing", "opening"], showPlay);
  on(["playing"], meter.follow);
  on(["output"], showOutput);
  showOutput();
  on(["takes", "take", "listed"], showTakes);
  on(["matched"], ({ matched }) => level.set(matched ? "matched" : "wired"));
  const showTrouble = () => {
    const { silence, takes, take: chosen } = get();
    const broken = takes.find(({ id, state: now }) => id === chosen && now === "broken");
    trouble.show([silence, broken ? `This take ${takeLine(broken)}` : ""].filter(Boolean).join(" "));
  };
  on(["silence", "takes", "take"], showTrouble);
  on(["link", "stumbles"], ({ link, stumbles }) => {
    const links = {
      fallback: "no live connection: changes sound a little later",
      offline: "waiting for the server",
    };
    const words = [
      link && link !== "live" ? links[link] : "",
      stumbles ? `the sound has broken off ${counted(stumbles, "time")}` : "",
    ]
      .filter(Boolean)
      .join(" · ");
    say(state, words);
    state.hidden = !words;
    line.hidden = Boolean(words); // one line for both: the deck keeps its height
  });
  showPlay();
  showTakes();
  showTrouble();
  listenForDrops(session);
  const more = h(
    "div",
    { class: "out", id: uid("level") },
    wayView(session),
    level.element,
    h("label", {}, h("span", { class: "label" }, "out"), output),
    meter.element,
    h("span", { id: "out-note", class: "unseen" }, LEVEL_NOTE),
  );
  const open = h(
    "button",
    {
      type: "button",
      class: "out-open",
      "aria-label": "Level and output",
      "aria-expanded": "false",
      "aria-controls": more.id,
      onclick: () => open.setAttribute("aria-expanded", String(more.classList.toggle("open"))),
    },
    icon("output"),
  );
  return h(
    "section",
    { class: "transport", "aria-label": "Listen" },
    trouble.element,
    play,
    h("div", { class: "take" }, take, line, about, state),
    waveView(session, seek),
    open,
    more,
  );
}

/**
 * Tell what a listener should know of the chosen take: of a MIDI file also what this instrument leaves out.
 * @param {Session} session @param {string[]} told
 */
function tellTake({ get, slot }, told) {
  const { takes, take } = get(),
    list = h("ul", {}, ...told.map((text) => h("li", {}, text))),
    waits = h("p", { class: "soft", role: "status" });
  openDialog("About this take", () => h("div", {}, list, waits));
  if (takes.find(({ id }) => id === take)?.kind !== "midi") return;
  say(waits, "Laying the notes on the strings…");
  api.getTakeNotes(take, slot().version).then(
    ({ notes }) => {
      say(waits, notes.length || told.length ? "" : "This instrument plays every note as written.");
      list.append(...notes.map((text) => h("li", {}, text)));
    },
    (error) => say(waits, error instanceof Error ? error.message : String(error)),
  );
}

/**
 * Why nothing sounds, in one line that opens: a long reason must not take the room of the controls.
 * @param {AbortSignal} signal
 */
function troubleLine(signal) {
  const text = h("p", { id: uid("trouble"), role: "alert" });
  const open = h(
    "button",
    {
      type: "button",
      class: "small",
      "aria-expanded": "false",
      "aria-controls": text.id,
      onclick: () => {
        const whole = element.classList.toggle("open");
        open.setAttribute("aria-expanded", String(whole));
        say(open, whole ? "Less" : "Read it all");
      },
    },
    "Read it all",
  );
  const element = h("div", { class: "transport-trouble warn small", hidden: true }, text, open);
  /** The button is there while the line has more than it shows. */
  const fit = () => {
    open.hidden = !element.classList.contains("open") && text.scrollWidth <= text.clientWidth;
  };
  const sized = new ResizeObserver(fit);
  sized.observe(text);
  signal.addEventListener("abort", () => sized.disconnect());
  return {
    element,
    /** @param {string} why  empty if all is well */
    show(why) {
      say(text, why);
      element.hidden = !why;
      fit();
    },
  };
}
