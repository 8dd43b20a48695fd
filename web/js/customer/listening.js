/** The clips of an offer: the chosen one first, the others when there is time. */

import { ApiError } from "../shared/http.js";
import { createClips } from "../player/clips.js";
import { guardFrom } from "../player/guard_node.js";
import { dbToGain, findPeaks } from "../player/level.js";
import { outputGain } from "../shared/output.js";
import { AHEAD } from "./line.js";
import { CANNOT_PLAY, clipGain, NOTHING_STARTS } from "./words.js";

/** @import {Page} from "./page.js" */
/** @typedef {ReturnType<typeof import("./line.js").createLine>} Line */

const BARS = 120;
/** From then on a clock of sound that stands still is no slow start. */
const STUCK_MS = 5000,
  LOOK_AGAIN_MS = 500;
const canPlay = () => "AudioContext" in window && "OfflineAudioContext" in window;

/** @param {Page} page @param {Line} line */
export function startListening(page, line) {
  const { get, set, on, item, source } = page;
  const clips = createClips({
    source: (file) => line.get(file, AHEAD),
    head: source.getHead,
    onState: (state) => set({ playing: state !== "stopped", held: state === "held" }),
    guard: guardFrom(source.guard),
  });
  /** @type {WeakMap<AudioBuffer, number[]>} */
  const peaks = new WeakMap();
  /** What the clips play. @type {[number, string, string] | undefined} */
  let there;
  let heardTake = "",
    lossless = false,
    stuck = 0;

  const takeNow = () => get().offer.takes.find(({ id }) => id === get().take) ?? get().offer.takes[0];

  /** Whether the reader's browser asks to save data. */
  const savesData = () => Boolean(/** @type {any} */ (navigator).connection?.saveData);

  /**
   * The clip of a sound, or of one of its farthest two.
   * @param {import("./words.js").Item} sound @param {string} take
   */
  function clipAt({ number, clips: drawn, farthest }, take) {
    const { end } = get();
    return (end?.number === number && farthest?.[take]?.[end.which]) || drawn[take];
  }

  /** @param {number} number @param {string} take */
  function clipOf(number, take) {
    const clip = clipAt(item(number), take);
    if (!clip) return null;
    const files = (lossless ? [clip.flac, clip.mp3] : [clip.mp3, clip.flac]).filter(
      (one) => one !== undefined,
    );
    return { key: `${take} ${number} ${get().way} ${files[0]}`, files };
  }

  /** @param {AudioBuffer} buffer */
  function peaksOf(buffer) {
    const found = peaks.get(buffer) ?? findPeaks(buffer.getChannelData(0), BARS);
    peaks.set(buffer, found);
    return found;
  }

  async function hear() {
    const { number, take } = get();
    if (!item(number).clips[take]) return;
    if (!canPlay()) return set({ trouble: CANNOT_PLAY });
    set({ loading: number });
    await change();
    if (lossless || savesData() || !line.isFast()) return;
    lossless = true;
    // the same sound without loss, in place
    await change();
  }

  /** Change to the chosen sound. */
  async function change() {
    const { number, take, way, matched } = get(),
      clip = clipOf(number, take);
    if (!clip) return;
    line.prefer(clip.files);
    const ref = clipAt(item(number), take),
      isDrawn = ref === item(number).clips[take],
      gainDb = takeNow().gain_db + clipGain(ref, matched);
    try {
      const buffer = await clips.choose(clip, gainDb, heardTake !== take);
      if (!buffer) return;
      heardTake = take;
      there = isDrawn ? [number, take, way] : undefined;
      noteHeard();
      set({ loading: null, peaks: peaksOf(buffer), trouble: "" });
    } catch (error) {
      const gone = error instanceof ApiError && error.status === 0;
      const why = gone ? "No connection" : "This sound could not be loaded";
      set({ loading: null, trouble: `${why}. The sound keeps playing; tap the new one again to retry.` });
    }
  }

  /** Tell what sounds as offered, once it does. */
  function noteHeard() {
    const { playing, held, turning } = get();
    if (there && playing && !held && turning !== "live") source.noteHeard(...there);
  }
  on(["playing", "held"], noteHeard);

  /** Load the other sounds, one by one, once the customer listens. */
  async function fetchAhead() {
    if (savesData()) return;
    const { take, way } = get();
    for (const { number } of get().offer.items) {
      if (get().take !== take || get().way !== way) return;
      const clip = clipOf(number, take);
      if (clip) await clips.load(clip).catch(() => undefined);
    }
  }

  /** Say so if the browser's sound does not start, until it does. @param {number} before */
  function tellStuck(before) {
    const stands = clips.time() === before;
    if (stands && get().playing) {
      set({ trouble: NOTHING_STARTS });
      stuck = window.setTimeout(tellStuck, LOOK_AGAIN_MS, before);
    } else if (get().trouble === NOTHING_STARTS) set({ trouble: "" });
  }

  on(["number", "matched", "end"], hear);
  const hearAll = () =>
    hear().then(() => {
      if (get().playing) fetchAhead();
    });
  on(["take", "way"], ({ take, number, way }) => {
    // of other ways the chosen sound alone, to be compared at once
    const kept = [` ${number} `, ` ${way} `];
    clips.forget((key) => key.startsWith(`${take} `) && kept.some((one) => key.includes(one)));
    lossless = line.isFast() && !savesData();
    hearAll();
  });
  on(["offer"], (now, before) => {
    if (now.way !== before.way) return;
    const was = before.offer.items.find(({ number }) => number === now.number),
      had = was && clipAt(was, now.take),
      has = clipAt(item(now.number), now.take);
    if (!had && has) hear();
    // another came
    else if (had?.mp3 !== has?.mp3 || clipGain(had, now.matched) !== clipGain(has, now.matched))
      void change();
  });
  function level() {
    const { gain_db: gainDb, room_db: roomDb } = takeNow();
    clips.setOutput(outputGain(get().travel / 100), dbToGain(roomDb - gainDb));
  }
  on(["travel", "take", "offer"], level);
  level();
  hear();

  return {
    position: clips.position,
    seek: clips.seek,
    /** In a tap. */
    play() {
      if (get().held) return void clips.resume();
      if (get().playing) return;
      if (!canPlay()) return set({ trouble: CANNOT_PLAY });
      const before = clips.time();
      clips
        .play()
        .catch(() =>
          set({ playing: false, trouble: "This browser did not let the page make sound. Tap Play again." }),
        );
      clearTimeout(stuck);
      stuck = window.setTimeout(tellStuck, STUCK_MS, before);
      fetchAhead();
    },
    pause: clips.pause,
    peak: clips.peak,
    toggle() {
      if (get().playing && !get().held) clips.pause();
      else this.play();
    },
    again: hear,
  };
}
