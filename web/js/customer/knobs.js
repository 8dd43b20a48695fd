/**
 * Plays the chosen sound live, with its knobs turned; else the finished clips. For the rest of the page both
 * are one player, which keeps its place in the music.
 */

import { createCache, createTurns } from "../shared/latest.js";
import { guardFrom } from "../player/guard_node.js";
import { createLivePlayer } from "../player/live_player.js";
import { dbToGain } from "../player/level.js";
import { decodeStems } from "../player/stems.js";
import { outputGain } from "../shared/output.js";
import { readModel } from "../player/live_model.js";
import { turnedGain } from "../player/live_level.js";
import { KNOBS } from "./line.js";
import { clipGain, validKnobs } from "./words.js";
import { remember, recall } from "./memory.js";
import { whyNot } from "./refusals.js";

/** @import {Turned} from "../player/live_player.js" */
/** @import {Voice} from "./source.js" */
/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./listening.js").startListening>} Listening */
/** @typedef {ReturnType<typeof import("./line.js").createLine>} Line */
/** @typedef {ReturnType<typeof startLiveKnobs>} LiveKnobs */

/** Takes whose stems are kept. */
const SETS = 2;

/** @param {Page} page @param {Listening} clips @param {Line} line */
export function startLiveKnobs(page, clips, line) {
  const { get, set, on, item, source } = page;
  const player = createLivePlayer({
    guard: guardFrom(source.guard),
    worklet: source.live.convolver,
    takeFrom() {
      if (!waits) return null;
      const at = clips.position();
      waits = false;
      clips.pause();
      set({ playing: true });
      return at;
    },
    onApplied: (id) => set({ applied: id }),
    onHeld: (held) => {
      if (live()) set({ held });
    },
  });
  /** @type {ReturnType<typeof createCache<AudioBuffer>>} */
  const held = createCache(SETS);
  const begins = createTurns();
  /** What sounds, but for the knobs. @type {Omit<Turned, "id" | "knobs"> | undefined} */
  let chosen;
  let asked = 0,
    /** Whether the clip goes on until the turned sound is computed. */
    waits = false;

  const turns = () => get().turning === "live";
  /** Whether the turned sound is what one hears. */
  const live = () => turns() && !waits;

  /** Get a voice's model and stems, with progress over both. @param {Voice} voice */
  async function load({ model, stems, powers, clip_db: clipDb, behind, chain }) {
    const kept = held.get(stems.name),
      files = kept ? [model] : [model, ...stems.files];
    const total = files.reduce((sum, { bytes }) => sum + bytes, 0),
      received = files.map(() => 0);
    const [first, ...rest] = await Promise.all(
      files.map(({ file }, k) =>
        line.get(file, KNOBS, (bytes) => {
          received[k] = bytes;
          set({ fetched: received.reduce((sum, one) => sum + one, 0) / total });
        }),
      ),
    );
    const found = readModel(first),
      buffer = kept ?? (await decodeStems(rest));
    held.set(stems.name, buffer);
    const gain = turnedGain({ powers, coils: found.coils.length, clipDb, stemGain: stems.gain });
    return {
      model: found,
      stems: buffer,
      gain,
      behind: behind && Float64Array.from(behind),
      bend: chain && source.live.bend?.(chain, stems.gain),
    };
  }

  /** Make the knobs of the chosen sound work. Call in a press or tap. */
  async function begin() {
    const isNewest = begins.begin(),
      { number, take, way } = get();
    set({ turning: "fetching", fetched: 0, trouble: "" });
    clips.play();
    // what was turned before would sound beside the clip while this one loads
    player.forget();
    // in the tap, or browsers allow no sound
    const ready = player.play();
    // handled below
    ready.catch(() => undefined);
    try {
      const found = await load(await source.live.getVoice(number, take, way));
      await ready;
      if (!isNewest()) return;
      chosen = found;
      takeOver(number);
    } catch (error) {
      if (!isNewest()) return;
      player.pause();
      set({ turning: "", trouble: `The knobs do not work: ${whyNot(error, "turn")}` });
    }
  }

  /** Switch from the clip to the live sound at the same place. @param {number} number */
  function takeOver(number) {
    const { model, bend } = /** @type {NonNullable<typeof chosen>} */ (chosen),
      offered = model.knobs.filter(({ name }) => !model.still.includes(name));
    const sounds = get().playing && !get().held,
      turned = validKnobs(offered, recall(`knobs ${number}`)),
      at = clips.position();
    waits = Boolean(bend);
    if (!waits) clips.pause();
    set({ turning: "live", offered, turned, playing: sounds });
    player.seek(at);
    apply();
    if (!sounds) player.pause();
  }

  function apply() {
    if (chosen) player.use({ ...chosen, id: (asked += 1), knobs: get().turned });
  }

  /** Switch back to the finished clip at the same place. */
  function end() {
    begins.drop();
    const was = live(),
      at = player.position(),
      sounds = get().playing;
    waits = false;
    player.pause();
    set({ turning: "", ...(was && { playing: false }) });
    if (!was) return;
    clips.seek(at);
    if (sounds) clips.play();
  }

  function level() {
    const { travel, matched, number, take } = get();
    player.setOutput(outputGain(travel / 100) * dbToGain(clipGain(item(number).clips[take], matched)));
  }
  on(["travel", "matched", "number", "take", "offer", "turning"], level);
  on(["number", "take"], () => {
    if (get().turning) end();
  });
  on(["way"], ({ turning, playing }) => {
    if (!turning) return;
    end();
    if (playing) void begin();
  });
  level();

  return {
    position: () => (live() ? player.position() : clips.position()),
    peak: () => (live() ? player.peak() : clips.peak()),
    begin,
    end,
    again: clips.again,
    /** @param {number} seconds */
    seek(seconds) {
      if (live()) player.seek(seconds);
      else clips.seek(seconds);
    },
    play() {
      if (!live()) clips.play();
      if (!turns()) return;
      set({ playing: true });
      player
        .play()
        .catch(() =>
          set({ playing: false, trouble: "This browser did not let the page make sound. Tap Play again." }),
        );
    },
    pause() {
      if (!live()) clips.pause();
      if (!turns()) return;
      player.pause();
      set({ playing: false });
    },
    toggle() {
      if (get().playing && !get().held) this.pause();
      else this.play();
    },
    /** @param {Record<string, number>} knobs */
    turn(knobs) {
      set({ turned: { ...get().turned, ...knobs } });
      remember(`knobs ${get().number}`, JSON.stringify(get().turned));
      apply();
    },
  };
}
