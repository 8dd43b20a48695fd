/** Sentences about the finished guitar's sound. */

/** @import {Alike, Pair, Sound, Verdict} from "./api.js" */

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
export function verdictText({
  verdict,
  probability_sound: sound,
  named,
  planned,
  planned_recorded: recorded,
}) {
  const where = planned === undefined ? "" : `, in ${recorded} of ${planned} planned settings`;
  const differs = `Nothing is heard that differs: ${percent(sound)}${where}.`;
  if (verdict === "as proposed") return { look: "ok", text: `The guitar sounds as proposed. ${differs}` };
  if (verdict === "unsure")
    return {
      look: "warn",
      text: `The recordings do not decide it. ${differs} More strums make it surer.`,
    };
  const cause = named ? "" : " No single cause is clear: read the jack, and ask what could be wrong.";
  return { look: "problem", text: `The guitar does not sound as proposed.${cause}` };
}

/** The likely causes, a line each. @param {Verdict} verdict @returns {string[]} */
export const causeTexts = ({ verdict, named, likely }) =>
  verdict === "as proposed"
    ? []
    : likely.slice(0, named ? 1 : 3).map((one) => `${percent(one.probability)}: ${alikeText(one)}`);

/** @param {Alike} alike @param {string} [between] */
const alikeText = ({ causes, more = 0 }, between = ", or ") =>
  causes.join(between) + (more ? `, and ${more} more` : "");

/** What the recordings cannot show, where they show no fault; may be empty. @param {Verdict} verdict */
export const unheardText = ({ verdict, unheard }) =>
  verdict === "not as proposed" || !unheard?.causes.length
    ? ""
    : `These recordings cannot show: ${alikeText(unheard, ", ")}.`;

/** Why there is no clip to compare with. @param {Sound | null} signed */
export const noClipText = (signed) =>
  signed ? "Its clip is silent." : "No clip of this setting was signed for.";

/**
 * The take and way whose clips play at first: those of the bench where the proposal has them.
 * @param {Pick<import("./api.js").Guitar, "takes" | "ways">} guitar
 * @param {{take: string, way: string}} bench
 */
export const firstHeard = ({ takes, ways }, bench) => ({
  take: takes.some(({ id }) => id === bench.take) ? bench.take : (takes[0]?.id ?? ""),
  way: ways.includes(bench.way) ? bench.way : ways.includes("direct") ? "direct" : (ways[0] ?? ""),
});

/** What the two sounds of a pair are. @param {string} way */
export const besideText = (way) =>
  "The recording is heard as it came from the jack. " +
  (way === "direct"
    ? "A direct clip has no amplifier either: its tone compares, its notes are others."
    : `A clip heard ${way} has an amplifier behind it: it shows what was signed for, and differs by that too.`);

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
