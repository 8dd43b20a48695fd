/** Sentences about the finished guitar's sound. */

/** @import {Pair, Verdict} from "./api.js" */

/** A setting such as "2 phase=2" in words. @param {string} setting @param {string} [label] */
export function settingText(setting, label = "") {
  const [position, ...controls] = setting.split(" ");
  const turned = controls.map((one) => one.replace("=", " at "));
  return [`Position ${position}`, ...turned].join(", ") + (label ? `: ${label}` : "");
}

/** @param {number} share */
const percent = (share) =>
  share > 0.99 ? "over 99 %" : share < 0.01 ? "under 1 %" : `${Math.round(100 * share)} %`;

/** @param {Verdict} verdict @returns {{look: "ok" | "warn" | "problem", text: string}} */
export function verdictText({ verdict, probability_sound: sound, named }) {
  if (verdict === "as proposed")
    return { look: "ok", text: `The guitar sounds as proposed. No fault: ${percent(sound)}.` };
  if (verdict === "unsure")
    return {
      look: "warn",
      text: `The recordings do not decide it. No fault: ${percent(sound)}. More strums make it surer.`,
    };
  const cause = named ? "" : " No single cause is clear: read the jack, and ask what could be wrong.";
  return { look: "problem", text: `The guitar does not sound as proposed.${cause}` };
}

/** The likely causes, a line each. @param {Verdict} verdict @returns {string[]} */
export const causeTexts = ({ verdict, named, likely }) =>
  verdict === "as proposed"
    ? []
    : likely
        .slice(0, named ? 1 : 3)
        .map(({ probability, causes }) => `${percent(probability)}: ${causes.join(", or ")}`);

/** @param {number} db */
const signed = (db) => `${db < 0 ? "−" : "+"}${Math.abs(db).toFixed(1)} dB`;

/** @param {Pair} pair */
export function pairText({ first, second, agrees, level_db, predicted_level_db, level_within_db }) {
  const names = `${settingText(first)} against ${settingText(second)}`;
  if (level_db === null || predicted_level_db === null || level_within_db === null)
    return `${names}: no band is heard in both.`;
  const levels = `${signed(level_db)} heard, ${signed(predicted_level_db)} ± ${level_within_db.toFixed(1)} dB predicted`;
  return `${names}: ${levels}. ${agrees ? "They agree." : "They do not agree."}`;
}

/** @param {{strums: number, seconds: number}} recording */
export const recordingText = ({ strums, seconds }) =>
  `${strums} ${strums === 1 ? "strum" : "strums"} in ${seconds.toFixed(0)} s`;

/** Gains that make two sounds equally loud, the louder one lowered. @param {(number | null)[]} lufs */
export function matchedGains(lufs) {
  const known = lufs.filter((one) => one !== null);
  const least = Math.min(...known);
  return lufs.map((one) => (one === null || !known.length ? 1 : 10 ** ((least - one) / 20)));
}
