/**
 * Plays the chosen sound live, with its knobs turned, where the browser allows it; else the finished clips.
 * For the rest of the page both are one player, which keeps its place in the music.
 */

import { ApiError } from "../shared/http.js";
import { createEngine } from "../player/engine.js";
import { createTurns, latest } from "../shared/latest.js";
import { dbToGain } from "../player/level.js";
import { outputGain } from "../shared/output.js";
import { validKnobs } from "./words.js";
import { remember, recall } from "./memory.js";

/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./listening.js").startListening>} Listening */
/** @typedef {ReturnType<typeof startLiveKnobs>} LiveKnobs */

/** Least time between two requests while a knob is dragged, ms: within the server's limit for an address. */
const SPACING = 60;
/** Sets of stems in the player. */
const SETS = 2;

/** Whether this page and browser can play live. @param {import("./source.js").Source} source */
export const canPlayLive = ({ live }) =>
  Boolean(live && globalThis.isSecureContext && globalThis.AudioWorkletNode);

/** @param {Page} page @param {Listening} clips */
export function startLiveKnobs(page, clips) {
  const { get, set, on, item, source } = page,
    knobsOf = /** @type {import("./source.js").LiveSource} */ (source.live), // used where it can play live
    engine = createEngine(knobsOf?.player ?? "");
  /** @type {string[]} */
  const held = [];
  /** @type {Promise<void> | null} */
  let opened = null;
  const turns = createTurns();
  /** Whether the knobs last opened are still open. */
  let isOpen = () => false;
  let key = "",
    asked = 0,
    head = 0,
    headAt = 0;

  const live = () => get().turning === "live";
  const length = () => get().offer.takes.find(({ id }) => id === get().take)?.seconds ?? 1;
  /** @param {number} seconds */
  function stand(seconds) {
    head = seconds;
    headAt = performance.now();
  }
  function position() {
    if (!live()) return clips.position();
    return (head + (get().playing ? (performance.now() - headAt) / 1000 : 0)) % length();
  }

  /** Load stems into the player. @param {number} number @param {string} take @param {string} name */
  async function hold(number, take, name) {
    if (held.includes(name)) return;
    engine.keep(name, await knobsOf.getStems(number, take, (fetched) => set({ fetched })));
    held.push(name);
    if (held.length > SETS) engine.drop(/** @type {string} */ (held.shift()));
  }

  /** @param {Record<string, number>} knobs */
  const filters = (knobs) => knobsOf.getFilters(get().number, { take: get().take, knobs, id: (asked += 1) });

  /** Make the knobs of the chosen sound work. Call in a press or tap. */
  async function begin() {
    const isNewest = turns.begin(),
      { number, take } = get();
    isOpen = isNewest;
    set({ turning: "fetching", fetched: 0, trouble: "" });
    clips.play();
    opened ??= engine.play().catch((error) => {
      opened = null;
      throw error;
    }); // in the tap, or browsers allow no sound
    const ready = opened;
    ready.catch(() => undefined); // handled below
    try {
      const { knobs: offered, strings, longest_s: longest } = await knobsOf.getKnobs(number);
      if (length() > longest)
        throw new Error("This piece of music is too long for live knobs. Choose a shorter one.");
      const turned = validKnobs(offered, recall(`knobs ${number}`)),
        name = `${strings} ${take}`;
      await hold(strings, take, name);
      const frame = await filters(turned);
      await ready;
      if (isNewest()) takeOver(name, frame, { offered, turned });
    } catch (error) {
      if (isNewest())
        set({
          turning: "",
          trouble: `The knobs do not work: ${error instanceof Error ? error.message : error}`,
        });
    }
  }

  /**
   * Switch from the clip to the live sound at the same place.
   * @param {string} name @param {ArrayBuffer} frame
   * @param {Pick<import("./page.js").State, "offered" | "turned">} knobs
   */
  function takeOver(name, frame, knobs) {
    const sounds = get().playing && !get().held;
    key = name;
    stand(clips.position());
    engine.use(key, frame);
    engine.seek(head);
    clips.pause();
    set({ turning: "live", ...knobs, playing: sounds });
    if (sounds) void engine.play();
    else engine.pause();
  }

  /** Switch back to the finished clip at the same place. */
  function end() {
    turns.drop();
    if (!live()) {
      engine.pause();
      set({ turning: "" });
      return;
    }
    const at = position(),
      sounds = get().playing;
    engine.pause();
    set({ turning: "", playing: false });
    clips.seek(at);
    if (sounds) clips.play();
  }

  const ask = latest(
    async () => {
      const isStillOpen = isOpen,
        frame = await filters(get().turned);
      if (!isStillOpen() || !live()) return;
      engine.use(key, frame);
      if (get().trouble) set({ trouble: "" });
    },
    {
      spacing: SPACING,
      failed: (error) =>
        set({
          trouble:
            error instanceof ApiError && error.status === 410
              ? "This proposal is closed. The sound keeps playing; ask the workshop for a new link."
              : "The knob's effect could not be loaded. Turn it again to retry.",
        }),
    },
  );

  function level() {
    const { travel, matched, number, take } = get(),
      clip = item(number).clips[take];
    engine.setOutput(outputGain(travel / 100) * dbToGain(matched ? 0 : (clip?.wired_gain_db ?? 0)));
  }
  on(["travel", "matched", "number", "take", "turning"], level);
  on(["number", "take"], () => {
    if (get().turning) end();
  });
  level();
  engine.setMatched(true); // the server's level makes it as loud as the clip
  engine.onTick((at) => {
    if (live() && get().playing) stand(at);
  });
  engine.onApplied((id) => set({ applied: id }));
  engine.onTrouble((trouble) => set({ trouble }));

  return {
    position,
    peak: () => (live() ? engine.peak() : clips.peak()),
    begin,
    end,
    again: clips.again,
    /** @param {number} seconds */
    seek(seconds) {
      if (!live()) return clips.seek(seconds);
      stand(seconds);
      engine.seek(seconds);
    },
    play() {
      if (!live()) return clips.play();
      stand(position());
      set({ playing: true });
      engine
        .play()
        .catch(() =>
          set({ playing: false, trouble: "This browser did not let the page make sound. Tap Play again." }),
        );
    },
    pause() {
      if (!live()) return clips.pause();
      stand(position());
      engine.pause();
      set({ playing: false });
    },
    toggle() {
      if (get().playing && !get().held) this.pause();
      else this.play();
    },
    /** @param {Record<string, number>} knobs */
    turn(knobs) {
      const turned = { ...get().turned, ...knobs };
      set({ turned });
      remember(`knobs ${get().number}`, JSON.stringify(turned));
      void ask();
    },
  };
}
