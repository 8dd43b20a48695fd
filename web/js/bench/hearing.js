/** Keeps the sound in step with the state: stems, filters, loop, level. Stems and filters change together. */

import * as api from "../api.js";
import { createEngine, RATE } from "../audio/engine.js";
import { createLink } from "../audio/link.js";
import { stemEdits } from "../pure/compare.js";
import { createCache, latest } from "./latest.js";
import { heard } from "./session.js";

/** @import {Session, State} from "./session.js" */

/** @typedef {{coils: string[], stems: Float32Array[]}} Stems */
/** Sets of stems kept at hand: one for each sound to compare. */
const SETS = 4;

/** @param {State} state @param {number} [k] */
const bankKey = (state, k) => JSON.stringify([heard(state, k), state.take]);
/** @param {State} state @param {number} [k] */
function stemsOf(state, k) {
  const { version, edits } = heard(state, k).draft;
  return { version, edits: stemEdits(edits) };
}
/** @param {State} state @param {number} [k] */
const stemsKey = (state, k) => JSON.stringify([stemsOf(state, k), state.take]);

/** @param {Session} session */
export function keepHearing(session) {
  const { get, set, on, signal } = session;
  /** @type {ReturnType<typeof createCache<ArrayBuffer>>} */
  const banks = createCache(128);
  /** @type {ReturnType<typeof createCache<Stems>>} */
  const stems = createCache(SETS);
  const engine = createEngine();
  /** @type {string[]} stems the engine holds, oldest first */
  let held = [];
  let askedKey = "", given = "";

  const link = createLink({
    api,
    onFrame(frame) {
      banks.set(askedKey, frame);
      if (get().silence) set({ silence: "" });
      give();
    },
    onProblems: (_, problems) => set({ silence: problems.map(api.inWords).join(" ") }),
  });
  /** @param {unknown} error */
  const failed = (error) => {
    if (error instanceof api.ApiError) set({ silence: error.status === 0 ? "" : error.message, opening: false });
  };

  function askBank() {
    const { draft, setting } = heard(get());
    const key = bankKey(get());
    if (banks.get(key)) return give();
    if (!setting.position || key === askedKey) return;
    askedKey = key;
    link.ask({ draft, setting, take: get().take || undefined });
  }

  /** @param {number} k */
  async function fetchBank(k) {
    const { draft, setting } = heard(get(), k), key = bankKey(get(), k);
    if (!setting.position || banks.get(key)) return;
    banks.set(key, await api.filters(draft, setting, get().take || undefined, signal));
    give();
  }

  /** @param {number} k */
  async function fetchStems(k) {
    const { take } = get(), draft = stemsOf(get(), k), key = stemsKey(get(), k);
    if (!take || !draft.version || stems.get(key)) return;
    stems.set(key, await api.stems(draft, take, signal));
    give();
  }
  const askStems = latest(async () => {
    set({ opening: true });
    await fetchStems(get().current);
    set({ opening: false });
  }, { failed });

  /** Hand the engine what it has not got, once stems and filters are both there. */
  function give() {
    const key = stemsKey(get()), bank = banks.get(bankKey(get())), now = key + bankKey(get());
    if (!bank || given === now) return;
    hold(key);
    if (!held.includes(key)) return;
    const other = !given.startsWith(key);
    engine.use(key, bank);
    if (other) giveLoop();
    given = now;
  }

  /** @param {string} key */
  function hold(key) {
    const found = stems.get(key);
    if (held.includes(key) || !found) return;
    engine.keep(key, found.stems, RATE);
    held.push(key);
    if (held.length > SETS) engine.drop(/** @type {string} */ (held.shift()));
  }

  function giveLoop() {
    const { loops, take, takes } = get();
    const [from, to] = loops[take] ?? [0, takes.find(({ id }) => id === take)?.seconds ?? 0];
    if (to > from) engine.setLoop(from, to);
  }

  /** The other sounds, fetched ahead so that a switch is instant. */
  const ahead = latest(async () => {
    for (const k of get().slots.keys()) {
      await fetchStems(k);
      await fetchBank(k);
      if (k < get().slots.length) hold(stemsKey(get(), k));
    }
  }, { spacing: 300, failed });

  on(["slots", "current", "before", "take"], (now, before) => {
    askBank();
    if (stemsKey(now) !== stemsKey(before)) askStems();
    if (now.slots.length > 1) ahead();
  });
  on(["loops"], giveLoop);
  on(["output"], ({ output }) => engine.setOutput(output));
  on(["matched"], ({ matched }) => engine.setMatched(matched));
  engine.setOutput(get().output);
  engine.setMatched(get().matched);
  engine.onTick((head) => set({ head }));
  engine.onTrouble((what) => set({ silence: what }));

  let starting = false;
  /** Play or pause; the audio device is only opened here, in answer to the person. */
  async function toggle() {
    if (get().playing) { engine.pause(); set({ playing: false }); return; }
    if (starting) return;
    starting = true;
    try {
      if (!window.isSecureContext) throw new Error(INSECURE);
      if (!get().take) throw new Error("there is no take yet; bring a recording");
      await engine.play();
      set({ playing: true, silence: "" });
      give();
    } catch (error) {
      const why = error instanceof Error ? error.message : "the audio device could not be opened";
      set({ silence: why === INSECURE ? why : `No sound: ${why}. Check that this computer has an audio output, then press Play again.` });
    } finally { starting = false; }
  }
  signal.addEventListener("abort", () => { link.close(); engine.close(); });
  askBank();
  askStems();
  /** @param {number} seconds */
  const seek = (seconds) => engine.seek(seconds);
  return { toggle, seek };
}

const INSECURE = "Live sound needs a secure address: open the bench at 127.0.0.1, or serve it with --cert and --key. Everything but the sound works here.";
