/** Side by side: the recording and the clip of one setting, equally loud, one at a time. */

import { openDevice } from "../player/device.js";
import { h } from "../shared/dom.js";
import { getBytes } from "../shared/http.js";
import { toastError } from "../shared/notices.js";
import * as api from "./api.js";
import { matchedGains, noClipText, settingText } from "./words.js";

/** @import {PlannedSetting} from "./api.js" */

/** Whoever starts listening starts quiet, share of full scale. */
const START = 0.15;
/** Time constant of a change of level, and the time after which a sound that left is silent, s. */
const EASE_S = 0.01,
  GONE_S = 0.08;
/** Decoded sounds that are kept: a pair. Three minutes take 35 MB. */
const MOST_KEPT = 2;

/**
 * One player for all settings. Its gains never exceed 1, and a phone that holds the volume of media elements
 * plays them as matched as any.
 * @param {string} proposal @param {AbortSignal} signal
 * @param {() => {take: string, way: string}} chosen  whose clips play
 * @param {() => AudioContext} [make]
 */
export function createListening(proposal, signal, chosen, make = () => new AudioContext()) {
  /** @type {AudioContext | undefined} */
  let context;
  /** @type {{source: AudioBufferSourceNode, out: GainNode} | null} */
  let voice = null;
  let gain = 1,
    /** @type {HTMLButtonElement | null} */ playing = null;
  /** @type {Map<string, Promise<AudioBuffer>>} */
  const decoded = new Map();
  const level = h("input", {
    type: "range",
    min: 0,
    max: 1,
    step: 0.01,
    value: String(START),
    oninput: () => {
      if (context) voice?.out.gain.setTargetAtTime(gainNow(), context.currentTime, EASE_S);
    },
  });
  const gainNow = () => Math.min(1, Number(level.value) * gain);
  const stop = () => {
    playing?.setAttribute("aria-pressed", "false");
    playing = null;
    if (!voice || !context) return;
    voice.out.gain.setTargetAtTime(0, context.currentTime, EASE_S);
    voice.source.stop(context.currentTime + GONE_S);
    voice = null;
  };
  signal.addEventListener("abort", () => {
    stop();
    decoded.clear();
    void context?.close();
  });

  /** @param {AudioContext} sound @param {string} key @param {string} address */
  function load(sound, key, address) {
    const found = decoded.get(key) ?? getBytes(address, signal).then((bytes) => sound.decodeAudioData(bytes));
    decoded.delete(key);
    decoded.set(key, found);
    for (const old of [...decoded.keys()].slice(0, -MOST_KEPT)) decoded.delete(old);
    found.catch(() => decoded.delete(key));
    return found;
  }

  /** @param {AudioContext} sound @param {AudioBuffer} buffer */
  function start(sound, buffer) {
    const source = new AudioBufferSourceNode(sound, { buffer }),
      out = new GainNode(sound, { gain: gainNow() });
    const mine = { source, out };
    source.connect(out);
    out.connect(sound.destination);
    source.onended = () => {
      out.disconnect();
      if (voice === mine) stop();
    };
    source.start();
    voice = mine;
  }

  /** @param {HTMLButtonElement} button @param {string} key @param {string} address @param {number} wanted */
  async function play(button, key, address, wanted) {
    const again = playing === button;
    stop();
    if (again) return;
    playing = button;
    button.setAttribute("aria-pressed", "true");
    gain = wanted;
    try {
      const sound = (context ??= make());
      const [buffer] = await Promise.all([load(sound, key, address), openDevice(sound)]);
      // another one may have been chosen meanwhile, or none
      if (playing === button && !voice && !signal.aborted) start(sound, buffer);
    } catch (error) {
      if (playing !== button || signal.aborted) return;
      stop();
      toastError(error);
    }
  }
  return {
    stop,
    level: h("label", { class: "field verify-level" }, h("span", {}, "Level; it starts quiet"), level),
    /** Buttons of a setting. @param {PlannedSetting} one @returns {HTMLElement | null} */
    buttons({ setting, sound: signed, recording }) {
      if (!recording) return null;
      const { take, way } = chosen(),
        there = signed?.clips.find((one) => one.take === take && one.way === way);
      const [ofRecording, ofClip] = matchedGains([
        recording.loudness_lufs,
        there ? there.lufs : recording.loudness_lufs,
      ]);
      /** @param {string} text @param {string} key @param {string} address @param {number} wanted */
      const button = (text, key, address, wanted) => {
        /** @type {HTMLButtonElement} */
        const element = h(
          "button",
          {
            type: "button",
            class: "small",
            "aria-pressed": "false",
            "aria-label": `${text}: ${settingText(setting)}`,
            onclick: () => void play(element, key, address, wanted),
          },
          text,
        );
        return element;
      };
      // another recording of the setting has the same address
      const recorded = api.soundAddress(proposal, setting),
        key = `${recorded} ${recording.came}`;
      const clip =
        signed && there && there.lufs !== null ? api.clipAddress(proposal, signed.number, there) : "";
      return h(
        "div",
        { class: "row verify-listen" },
        button("Hear the recording", key, recorded, ofRecording),
        clip
          ? button("Hear the clip", clip, clip, ofClip)
          : h("span", { class: "soft small" }, noClipText(signed)),
      );
    },
  };
}
