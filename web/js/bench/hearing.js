/**
 * Keep the sound in step with the state: stems, filters, loop, level. Stems, filters and the monitor gain
 * change together.
 *
 * The server tells the monitor gain: with it the loudest position plays at the usual level, and the others
 * keep their distance. It is asked for when a take is chosen and stays until another take is chosen or the
 * page is opened again. Knobs, edits and other versions are then as much louder or softer as they are. Each
 * way to hear it has its own gain.
 *
 * In a way that bends, the server guesses a setting's level at once and sends it again when it has run the
 * take through it.
 *
 * The hum of a room is added to all sounds alike. Levels are those without it.
 */

import * as api from "./api.js";
import { ApiError, problemText } from "../shared/http.js";
import { createEngine, RATE } from "../player/engine.js";
import { PLAYER } from "../player/worklets.js";
import { hasLevel } from "../player/frames.js";
import { humOf } from "../player/hum.js";
import { DIRECT } from "../player/path.js";
import { createLink } from "../player/link.js";
import { humEdits, stemEdits } from "../session/compare.js";
import { stretchOf } from "../player/windows.js";
import { isFitted } from "./fitting.js";
import { createCache, latest } from "../shared/latest.js";
import { toast } from "../shared/notices.js";
import { outputGain } from "../shared/output.js";
import { same } from "../shared/store.js";
import { missingOf, playingOf } from "../session/session.js";

/** @import {Session, State} from "../session/session.js" */
/** @import {Draft} from "../shared/types.js" */

/** @typedef {{coils: string[], stems: Float32Array[]}} Stems */
/** Sets of stems in memory: one for each sound to compare. */
const SETS = 4;
/** Drafts whose coils' hum is in memory: short lists of numbers. */
const HUMS = 64;
/** Until the chain is asked for again while the server is away or stumbles, ms. */
const RETRY_MS = 2000;

/** Whether the server is away or stumbles: the same request may succeed later. @param {unknown} error */
const isAway = (error) => error instanceof ApiError && (error.status === 0 || error.status >= 500);

/** @import {ChainRecord} from "../player/chain.js" */
/** @import {Wanted} from "../player/link.js" */
/** @param {Wanted} wanted */
const bankKey = ({ draft, setting, take, through }) => JSON.stringify([draft, setting, take, through]);
/** @param {Draft} draft @returns {Draft} */
const stemDraft = ({ version, edits }) => ({ version, edits: stemEdits(edits) });
/** @param {Wanted} wanted */
const stemsKey = ({ draft, take }, from = 0) => JSON.stringify([stemDraft(draft), take, from]);
/** @param {Draft} draft @returns {Draft} */
const humDraft = ({ version, edits }) => ({ version, edits: humEdits(edits) });
/** @param {Wanted} wanted */
const humKey = ({ draft }) => JSON.stringify(humDraft(draft));
/** @param {State} state */
const stretch = ({ takes, take, loops }) =>
  stretchOf(takes.find(({ id }) => id === take)?.seconds ?? 0, loops[take]);

/** @param {Session} session */
export function followSound(session) {
  const { get, set, on, signal } = session;
  /** @type {ReturnType<typeof createCache<ArrayBuffer>>} */
  const banks = createCache(128);
  /** @type {ReturnType<typeof createCache<Stems>>} */
  const stems = createCache(SETS);
  /** @type {ReturnType<typeof createCache<number[]>>} */
  const areas = createCache(HUMS);
  const engine = createEngine(PLAYER);
  /** @type {string[]} stems the engine holds, oldest first */
  const held = [];
  /** @typedef {{gainDb: number, silent: boolean, loweredDb: number}} Monitor */
  /** The gain of the take in each way. Where nothing sounds there is nothing to keep, so it is asked for
   * again. */
  let monitors = { take: "", byWay: /** @type {Map<string, Monitor>} */ (new Map()) };
  /** @type {ChainRecord | null} */
  let chain = null;
  const monitorOf = ({ take, way } = get()) => (monitors.take === take ? monitors.byWay.get(way) : undefined);
  const bends = (way = get().way) => Boolean(chain?.ways.find(({ name }) => name === way)?.oversampling);
  /** Whether what the way needs has come: its chain, and what its drive gives way by. */
  const isPlayable = () =>
    get().way === DIRECT.way || (chain !== null && (!bends() || monitorOf() !== undefined));

  /** @param {State} state @param {number} [k] @returns {Wanted} */
  const wantedOf = (state, k) => ({
    ...playingOf(state, k),
    take: state.take || undefined,
    through:
      state.way === DIRECT.way ? undefined : { way: state.way, lowered_db: monitorOf(state)?.loweredDb ?? 0 },
  });
  let askedKey = "",
    given = { stems: "", bank: /** @type {ArrayBuffer | null} */ (null), hum: "" };

  let refused = ""; // the server's own reason: only this one is taken back by its next answer
  /** @param {string} why */
  const refuse = (why) => {
    if (why || get().silence === refused) set({ silence: why });
    refused = why;
  };

  /** Why a wiring that lacks a part does not sound; empty for any other. */
  const unfinished = () => {
    const text = missingOf(get()).join(" and ");
    return text && `Still missing: ${text}. What sounded before plays on until it is there.`;
  };

  const link = createLink({
    api,
    onFrame(frame, _, wanted) {
      banks.set(bankKey(wanted), frame);
      refuse(unfinished()); // an answer from before may come after a part is gone
      give(wanted); // while a knob moves, the setting just passed sounds
      give();
    },
    onProblems: (_, problems) => refuse(unfinished() || problems.map(problemText).join(" ")),
    onState: (state) => set({ link: state }),
  });
  /** @param {unknown} error */
  const failed = (error) => {
    if (!(error instanceof ApiError)) return;
    refuse(unfinished() || (error.status === 0 ? "" : error.message));
    set({ opening: false });
  };

  function askBank() {
    const wanted = wantedOf(get()),
      key = bankKey(wanted);
    const why = unfinished();
    if (why || !isFitted(get())) {
      askedKey = "";
      return why && refuse(why);
    }
    if (!isPlayable()) {
      askedKey = "";
      return;
    }
    if (banks.get(key)) {
      refuse("");
      give();
      if (!bends()) return; // else its level may have been a guess
    }
    if (!wanted.setting.position || key === askedKey) return;
    askedKey = key;
    link.ask(wanted);
  }

  /** @param {number} k */
  async function fetchBank(k) {
    const wanted = wantedOf(get(), k),
      key = bankKey(wanted);
    if (!wanted.setting.position || missingOf(get(), k).length || !isPlayable() || banks.get(key)) return;
    banks.set(key, await api.getFilters(wanted.draft, wanted.setting, wanted.take, wanted.through, signal));
    give();
  }

  /** @param {number} k */
  async function fetchStems(k) {
    const wanted = wantedOf(get(), k),
      { draft, take } = wanted,
      { from } = stretch(get()),
      key = stemsKey(wanted, from);
    if (!take || !draft.version || missingOf(get(), k).length || stems.get(key)) return;
    stems.set(key, await api.getStems(stemDraft(draft), take, from, signal));
    give();
  }
  /** @param {number} k */
  async function fetchHum(k) {
    const wanted = wantedOf(get(), k),
      key = humKey(wanted);
    if (!get().hum.on || missingOf(get(), k).length) return;
    if (!get().hums) set({ hums: await api.getHum(signal) });
    if (areas.get(key) || !wanted.draft.version) return;
    areas.set(key, (await api.getHumAreas(humDraft(wanted.draft), signal)).areas_m2);
  }
  /** Add the room's hum, or take it away. Without it the rest sounds on. */
  const askHum = latest(
    async () => {
      await fetchHum(get().current);
      give();
    },
    {
      failed(error) {
        if (signal.aborted || !get().hum.on) return;
        set({ hum: { ...get().hum, on: false } });
        const why = error instanceof Error ? error.message : String(error);
        toast(`You hear no hum: it did not come. ${why} Press the button to try again.`);
      },
    },
  );
  /** The hum to play: null for none, undefined before it has come. @param {Wanted} wanted */
  const humNow = (wanted) => {
    const { hum, hums } = get(),
      found = areas.get(humKey(wanted));
    if (!hum.on) return null;
    return hums && found ? humOf(hums, hum, found) : undefined;
  };
  const hasMonitor = () => monitorOf()?.silent === false;
  async function fetchMonitor() {
    const { draft, take } = wantedOf(get()),
      { way } = get();
    if (!take || !draft.version || missingOf(get()).length || hasMonitor()) return;
    const { gain_db: gainDb, silent, lowered_db: loweredDb } = await api.getMonitor(draft, take, way, signal);
    if (monitors.take !== take) monitors = { take, byWay: new Map() };
    monitors.byWay.set(way, { gainDb, silent, loweredDb });
    if (bends()) askBank(); // now that it is known how it is driven
    give();
  }
  let needed = false;
  /** Get the chain once, and then what waited for it. */
  function needChain() {
    if (needed) return;
    needed = true;
    fetchChain().then(() => {
      askBank();
      give();
    }, refuseChain);
  }
  /** Without the chain nothing of a way but direct would sound. @param {unknown} error */
  function refuseChain(error) {
    set({ way: DIRECT.way });
    const why = error instanceof Error ? error.message : String(error);
    toast(
      `You hear the guitar direct: the chain behind it did not come. ${why} Reload the page to try again.`,
    );
  }
  /** Get the chain, whenever the server is there. */
  async function fetchChain() {
    while (!chain && !signal.aborted) {
      try {
        chain = await api.getChain(signal);
      } catch (error) {
        if (signal.aborted) return;
        if (!isAway(error)) throw error;
        await new Promise((done) => setTimeout(done, RETRY_MS));
      }
    }
    if (!chain) return;
    engine.setChain(chain);
    const { ways, caution } = chain;
    set({ ways, caution, ...(!ways.some(({ name }) => name === get().way) && { way: DIRECT.way }) });
  }
  const askStems = latest(
    async () => {
      set({ opening: true });
      await Promise.all([fetchStems(get().current), fetchMonitor()]);
      set({ opening: false });
    },
    { failed },
  );

  /** Pass new stems and filters to the engine once they and their levels have arrived. */
  function give(wanted = wantedOf(get())) {
    const { from } = stretch(get()),
      key = stemsKey(wanted, from),
      bank = banks.get(bankKey(wanted)),
      now = wantedOf(get());
    const monitor = monitorOf(),
      { way } = get();
    if (!bank || !hasLevel(bank) || !monitor || !isPlayable()) return;
    const hum = humNow(wanted),
      humming = hum ? JSON.stringify([humKey(wanted), get().hum]) : "";
    if (hum === undefined) return;
    if (key !== stemsKey(now, from)) return;
    if (given.stems === key && given.bank === bank && given.hum === humming) return;
    if (!same(wanted.through, now.through)) return; // of a way that is left
    if (wanted.setting.position !== now.setting.position) return; // an overtaken position does not sound
    hold(key);
    if (!held.includes(key)) return;
    engine.use(key, bank, monitor.gainDb, { way, loweredDb: monitor.loweredDb }, hum);
    if (given.stems !== key) giveLoop(key);
    given = { stems: key, bank, hum: humming };
    needChain(); // what sounds first must not wait for it
  }

  /** @param {string} key */
  function hold(key) {
    const found = stems.get(key);
    if (held.includes(key) || !found) return;
    engine.keep(key, found.stems, RATE);
    held.push(key);
    if (held.length > SETS) engine.drop(/** @type {string} */ (held.shift()));
  }

  /** Pass the loop on; before the take's length is known, that of its stems. */
  function giveLoop(key = given.stems) {
    const [from, to] = stretch(get()).loop,
      end = to || (stems.get(key)?.stems[0]?.length ?? 0) / RATE;
    if (end > from) engine.setLoop(from, end);
  }

  /** Load the other sounds ahead, so that switching is instant. */
  const ahead = latest(
    async () => {
      for (const k of get().slots.keys()) {
        await fetchStems(k);
        await fetchBank(k);
        await fetchHum(k);
        if (k < get().slots.length) hold(stemsKey(wantedOf(get(), k), stretch(get()).from));
      }
    },
    { spacing: 300, failed },
  );

  on(["unfinished", "checked"], askBank); // what it lacks, and its controls, are known now
  on(["slots", "current", "before", "take", "trying", "way"], (now, before) => {
    askBank();
    if (stemsKey(wantedOf(now)) !== stemsKey(wantedOf(before)) || !hasMonitor()) askStems();
    if (now.hum.on && !humNow(wantedOf(now))) askHum();
    if (now.slots.length > 1) ahead();
  });
  on(["hum"], () => {
    askHum();
    if (get().slots.length > 1) ahead();
  });
  on(["loops", "takes"], (now, before) => {
    if (stretch(now).from !== stretch(before).from) askStems();
    else giveLoop();
  });
  on(["output"], ({ output }) => engine.setOutput(outputGain(output)));
  on(["matched"], ({ matched }) => engine.setMatched(matched));
  engine.setOutput(outputGain(get().output));
  engine.setMatched(get().matched);
  engine.onTick((head) => set({ head: head + stretch(get()).from }));
  engine.onTrouble((what) => set({ silence: what }));
  engine.onUnderrun((stumbles) => set({ stumbles }));

  let starting = false;
  /** Play or pause. Only here, in a press of a button or key, does the audio device open. */
  async function toggle() {
    if (get().playing) {
      engine.pause();
      set({ playing: false });
      return;
    }
    if (starting) return;
    starting = true;
    try {
      if (!window.isSecureContext) throw new Error(INSECURE);
      if (!get().take && get().listed) throw new Error("the bench has no take; bring a recording");
      await engine.play();
      set({ playing: true, silence: "" });
      give();
    } catch (error) {
      const why = error instanceof Error ? error.message : "the audio device could not be opened";
      set({
        silence:
          why === INSECURE
            ? why
            : `No sound: ${why}. Check that this computer has an audio output, then press Play again.`,
      });
    } finally {
      starting = false;
    }
  }
  signal.addEventListener("abort", () => {
    link.close();
    engine.close();
  });
  askBank();
  askStems();
  if (get().way !== DIRECT.way) needChain();
  /** @param {number} seconds */
  const seek = (seconds) => engine.seek(Math.max(0, seconds - stretch(get()).from));
  return { toggle, seek, peak: engine.peak, spectrum: engine.spectrum };
}

const INSECURE =
  "Live sound needs a secure address: open the bench at 127.0.0.1, or serve it with --cert and --key. Everything except live sound works here.";
