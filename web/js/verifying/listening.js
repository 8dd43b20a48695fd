/** Side by side: the recording and the clip of one setting, equally loud, one at a time. */

import { h, say } from "../shared/dom.js";
import { toastError } from "../shared/notices.js";
import * as api from "./api.js";
import { matchedGains, settingText } from "./words.js";

/** @import {PlannedSetting} from "./api.js" */

/** Whoever starts listening starts quiet, share of full scale. */
const START = 0.15;

/** One player for all settings. @param {string} proposal @param {AbortSignal} signal */
export function createListening(proposal, signal) {
  const sound = new Audio();
  sound.preload = "none";
  let gain = 1,
    /** @type {HTMLButtonElement | null} */ playing = null;
  const level = h("input", {
    type: "range",
    min: 0,
    max: 1,
    step: 0.01,
    value: String(START),
    oninput: () => set(),
  });
  const set = () => {
    sound.volume = Math.min(1, Number(level.value) * gain);
  };
  const stop = () => {
    sound.pause();
    playing?.setAttribute("aria-pressed", "false");
    playing = null;
  };
  sound.addEventListener("ended", stop);
  signal.addEventListener("abort", () => {
    stop();
    sound.removeAttribute("src");
  });

  /** @param {HTMLButtonElement} button @param {string} address @param {number} wanted */
  async function play(button, address, wanted) {
    const again = playing === button;
    stop();
    if (again) return;
    playing = button;
    button.setAttribute("aria-pressed", "true");
    gain = wanted;
    set();
    sound.src = address;
    try {
      await sound.play();
    } catch (error) {
      if (playing !== button) return; // another one was chosen meanwhile
      stop();
      toastError(error);
    }
  }
  return {
    level: h("label", { class: "field verify-level" }, h("span", {}, "Level; it starts quiet"), level),
    /** Buttons of a setting. @param {PlannedSetting} one @returns {HTMLElement | null} */
    buttons({ setting, sound: signed, recording }) {
      if (!recording) return null;
      const [ofRecording, ofClip] = matchedGains([
        recording.loudness_lufs,
        signed ? signed.clip_lufs : recording.loudness_lufs,
      ]);
      /** @param {string} text @param {string} address @param {number} wanted */
      const button = (text, address, wanted) => {
        /** @type {HTMLButtonElement} */
        const element = h(
          "button",
          {
            type: "button",
            class: "small",
            "aria-pressed": "false",
            "aria-label": `${text}: ${settingText(setting)}`,
            onclick: () => void play(element, address, wanted),
          },
          text,
        );
        return element;
      };
      const none = h("span", { class: "soft small" });
      if (!signed) say(none, "No clip of this setting was signed for.");
      return h(
        "div",
        { class: "row verify-listen" },
        button("Hear the recording", api.soundAddress(proposal, setting), ofRecording),
        signed && signed.clip_lufs !== null
          ? button("Hear the clip", api.clipAddress(proposal, signed.number), ofClip)
          : none,
      );
    },
  };
}
