/** Fetches clips and hands them to the player: the one wanted first, the others when there is time. */

import { ApiError, getBytes } from "../shared/http.js";
import { createClips, decode } from "../player/clips.js";
import { outputGain, peaks } from "./words.js";

/** @import {Page} from "./page.js" */

const BARS = 120;

/** @param {Page} page */
export function startListening(page) {
  const { get, set, on, item } = page;
  const clips = createClips({
    onState: (state) => set({ playing: state !== "stopped", held: state === "held" }),
  });
  /** @type {Map<string, Promise<AudioBuffer>>} */
  const kept = new Map();
  /** @type {WeakMap<AudioBuffer, number[]>} */
  const drawn = new WeakMap();
  let wish = 0;

  /** Whether data are dear here. */
  const sparing = () => Boolean(/** @type {any} */ (navigator).connection?.saveData);

  /** @param {number} number @param {string} take @returns {Promise<AudioBuffer>} */
  function load(number, take) {
    const name = `${number} ${take}`,
      clip = item(number).clips[take];
    if (!clip) return Promise.reject(new Error("This sound is still being prepared."));
    const before = kept.get(name);
    if (before) return before;
    const first = sparing() ? clip.mp3 : clip.flac,
      second = sparing() ? clip.flac : clip.mp3;
    const found = getBytes(first)
      .then(decode)
      .catch((error) => {
        if (error instanceof ApiError) throw error;
        return getBytes(second).then(decode); // a browser that cannot read the one reads the other
      });
    kept.set(name, found);
    found.catch(() => kept.delete(name)); // it is asked for again next time
    return found;
  }

  async function hear() {
    const { number, take, matched } = get(),
      mine = (wish += 1);
    if (!item(number).clips[take]) return;
    set({ loading: number });
    try {
      const buffer = await load(number, take);
      if (mine !== wish) return;
      if (heardTake !== take) clips.rewind();
      heardTake = take;
      clips.hear(buffer, matched ? 0 : item(number).clips[take].wired_gain_db);
      if (!drawn.has(buffer)) drawn.set(buffer, peaks(buffer.getChannelData(0), BARS));
      set({ loading: null, peaks: drawn.get(buffer) ?? [], trouble: "" });
    } catch (error) {
      if (mine !== wish) return;
      const why =
        error instanceof ApiError && error.status === 0
          ? "The connection is gone"
          : "This sound could not be fetched";
      set({ loading: null, trouble: `${why}. What you hear goes on; tap the sound again to retry.` });
    }
  }
  let heardTake = "";

  /** The others, one after the other, once somebody listens. */
  async function fetchAhead() {
    if (sparing()) return;
    const take = get().take;
    for (const { number } of get().offer.items) {
      if (get().take !== take) return;
      await load(number, take).catch(() => undefined);
    }
  }

  on(["number", "matched"], hear);
  on(["take"], ({ take }) => {
    for (const name of kept.keys()) if (!name.endsWith(` ${take}`)) kept.delete(name);
    hear().then(() => {
      if (get().playing) fetchAhead();
    });
  });
  on(["offer"], (now, before) => {
    const had = before.offer.items.find(({ number }) => number === now.number)?.clips[now.take];
    if (!had && item(now.number).clips[now.take]) hear();
  });
  on(["travel"], ({ travel }) => clips.setOutput(outputGain(travel)));
  clips.setOutput(outputGain(get().travel));
  hear();

  return {
    position: clips.position,
    seek: clips.seek,
    /** In a tap. */
    play() {
      if (get().held) return void clips.resume();
      if (get().playing) return;
      clips
        .play()
        .catch(() =>
          set({ playing: false, trouble: "This browser did not let the page make sound. Tap Play again." }),
        );
      fetchAhead();
    },
    pause: clips.pause,
    toggle() {
      if (get().playing && !get().held) clips.pause();
      else this.play();
    },
    again: hear,
  };
}
