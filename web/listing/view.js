/** The page of one instrument: choose a take, knobs and a position; hear it, see its response. */

import { createClips } from "../js/player/clips.js";
import { findPeaks } from "../js/player/level.js";
import { fill, h, s, say, uid } from "../js/shared/dom.js";
import { layOutPlot, levelRange } from "../js/shared/plot.js";
import { gridElements } from "../js/shared/plot_grid.js";
import { loadSound } from "./sounds.js";

/**
 * @typedef {object} ListedClip
 * @property {string} sound  name of its sound
 * @property {string} script  address of its sound
 * @property {string} take
 * @property {string} group
 * @property {string} position
 * @property {string} label
 * @property {string} stands
 * @property {string} captions  key of its captions
 * @property {string} places
 * @property {string} through
 * @property {string} level
 * @property {number | null} loudness_lufs
 * @property {number | null} true_peak_dbtp
 * @property {number} design_error_db
 * @property {boolean} meets
 * @property {number} seconds
 * @property {number[]} levels_db
 */

/** @param {string} id @returns {any} */
const byId = (id) => document.getElementById(id);

/**
 * @typedef {[number, number, string]} Cue  start and end in seconds, words
 * @type {{matched: boolean, hz: number[], clips: ListedClip[],
 *   captions: Record<string, {file: string, cues: Cue[]}>}}
 */
const data = JSON.parse(byId("data").textContent);
const VOLUME_KEY = "presolder-volume",
  FIRST_VOLUME = 40;
/** How a frame asks for the player alone, following the visitor's light or dark, or fixed. */
const FRAMED = ["#player", "#player-light", "#player-dark"];
const PLOT = { least: 280, tall: 320, unit: "dB re EMF over Hz" };
/** Width of a bar of the waveform and of the gap after it, px. */
const BAR = 2,
  GAP = 1;

const levels = levelRange(data.clips.map(({ levels_db: db }) => db));
const chosen = { take: data.clips[0].take, group: data.clips[0].group, position: data.clips[0].position };
/** @type {Map<string, AudioBuffer>} Sounds that have been loaded, by name. */
const buffers = new Map();
let takeHeard = "",
  isHeld = false;
const player = createClips({
  source: (address, { key }) => loadSound(key, address),
  onState: (state) => {
    isHeld = state === "held";
    if (isHeld) say(byId("status"), "The sound was interrupted. Press Play to continue.");
    showPlaying();
  },
});

/** @param {string[]} values */
const unique = (values) => [...new Set(values)];
/** Clips of the chosen take and knobs, one a position. */
const clipsToFlip = () =>
  data.clips.filter(({ take, group }) => take === chosen.take && group === chosen.group);
const chosenClip = () =>
  clipsToFlip().find(({ position }) => position === chosen.position) ?? clipsToFlip()[0];
/** Knob settings that a take was rendered with. @param {string} name */
const groupsOf = (name) => unique(data.clips.filter(({ take }) => take === name).map(({ group }) => group));
/** @param {ListedClip} clip */
const soundOf = ({ sound, script }) => ({ key: sound, files: [script] });
const isSounding = () => player.playing && !isHeld;

/** @param {string} name @param {string} value @param {boolean} checked @param {...Node} words */
const radio = (name, value, checked, ...words) =>
  h("label", { class: "pick" }, h("input", { type: "radio", name, value, checked }), ...words);

/** @param {number | null} value @param {number} digits @param {string} unit */
const numberText = (value, digits, unit) =>
  value === null ? "none" : `${value.toFixed(digits).replace("-", "−")} ${unit}`;

/** @param {string} id @param {string[]} values @param {string} current */
function fillChips(id, values, current) {
  byId(id).hidden = values.length < 2;
  fill(
    byId(id).querySelector(".chips"),
    ...values.map((value) => radio(id, value, value === current, h("span", {}, value))),
  );
}

/** @param {ListedClip} clip */
function positionRow(clip) {
  const { position, label, loudness_lufs: lufs } = clip;
  const words = [h("b", {}, position), h("span", {}, label || `Position ${position}`)];
  if (!data.matched) words.push(h("i", {}, numberText(lufs, 1, "LUFS")));
  return radio("positions", position, clip === chosenClip(), ...words);
}

const fillPositions = () => fill(byId("positions").querySelector(".rows"), ...clipsToFlip().map(positionRow));

function show() {
  const clip = chosenClip();
  say(byId("places"), `Coil places: ${clip.places}.`);
  say(byId("heading"), `${clip.position}  ${clip.label}`.trim());
  say(byId("stands"), clip.stands);
  const error =
    clip.design_error_db < 0.001 ? "less than 0.001 dB" : `${clip.design_error_db.toFixed(3)} dB at most`;
  const facts = {
    Heard: clip.through,
    Level: clip.level,
    Loudness: numberText(clip.loudness_lufs, 1, "LUFS"),
    "True peak": numberText(clip.true_peak_dbtp, 1, "dBTP"),
    "Filter error": clip.meets ? error : `${error}: above the limit`,
  };
  fill(
    byId("facts"),
    ...Object.entries(facts).flatMap(([name, text]) => [h("dt", {}, name), h("dd", {}, text)]),
  );
  say(byId("end"), `${clip.seconds.toFixed(1)} s`);
  showPlot();
  showHeard();
  drawWave();
}

/**
 * Every position's curve, the chosen one in front. Its width follows the page, so that labels keep their
 * size.
 */
function showPlot() {
  const wide = Math.max(byId("plot").clientWidth, PLOT.least),
    mine = chosenClip(),
    others = clipsToFlip().filter((clip) => clip !== mine);
  const plot = layOutPlot({ wide, tall: PLOT.tall, hz: [20, 20000], range: levels, unit: PLOT.unit });
  /** @param {ListedClip} clip */
  const path = ({ levels_db: db }) => plot.path(data.hz, db);
  const frame = uid("frame");
  fill(
    byId("plot"),
    s(
      "svg",
      {
        viewBox: `0 0 ${wide} ${PLOT.tall}`,
        role: "img",
        "aria-label": `Response of position ${mine.position}: ${mine.label}`,
      },
      s("clipPath", { id: frame }, s("rect", plot.frame)),
      ...gridElements(plot),
      s(
        "g",
        { "clip-path": `url(#${frame})` },
        ...others.map((clip) => s("path", { d: path(clip) })),
        s("path", { class: "mine", d: path(mine) }),
      ),
    ),
  );
}

/** @param {number} seconds */
const clockText = (seconds) => `${Math.floor(seconds / 60)}:${(seconds % 60).toFixed(1).padStart(4, "0")}`;

/** The list is read at leisure. The line beside the player is not spoken: it would talk into the music. */
function showHeard() {
  const { file, cues } = data.captions[chosenClip().captions];
  byId("heard").hidden = false;
  byId("captions").href = file;
  fill(
    byId("heard").querySelector("ol"),
    ...cues.map(([start, , words]) =>
      h("li", {}, h("span", { class: "soft" }, clockText(start)), ` ${words}`),
    ),
  );
}

/** @param {number} seconds */
function showCaption(seconds) {
  const { cues } = data.captions[chosenClip().captions],
    now = takeHeard ? cues.filter(([start, end]) => start <= seconds && seconds < end) : [];
  say(byId("caption"), now.map(([, , words]) => words).join(" · "));
}

function drawWave() {
  const canvas = byId("wave"),
    buffer = buffers.get(chosenClip().sound),
    scale = window.devicePixelRatio || 1;
  canvas.width = canvas.clientWidth * scale;
  canvas.height = canvas.clientHeight * scale;
  const pen = canvas.getContext("2d"),
    style = getComputedStyle(document.documentElement),
    step = (BAR + GAP) * scale,
    bars = Math.max(Math.floor(canvas.width / step), 1);
  const peaks = findPeaks(buffer ? buffer.getChannelData(0) : new Float32Array(bars), bars);
  const played = buffer ? player.position() / buffer.duration : 0;
  peaks.forEach((peak, k) => {
    const tall = Math.max(peak * canvas.height, scale);
    pen.fillStyle = style.getPropertyValue(k / bars < played ? "--copper" : "--other");
    pen.fillRect(k * step, (canvas.height - tall) / 2, BAR * scale, tall);
  });
}

/** Load the chosen clip, switch to it, then load the other positions. */
async function hear() {
  const clip = chosenClip();
  if (!buffers.has(clip.sound)) say(byId("status"), "Loading …");
  try {
    const buffer = await player.choose(soundOf(clip), 0, clip.take !== takeHeard);
    if (!buffer) return;
    takeHeard = clip.take;
    buffers.set(clip.sound, buffer);
    say(byId("status"), isSounding() ? `Playing: ${clip.take}, position ${clip.position} ${clip.label}` : "");
    for (const other of clipsToFlip()) player.load(soundOf(other)).catch(() => undefined);
  } catch (error) {
    stop(error);
  }
  showTime();
}

/** @param {unknown} error */
function stop(error) {
  player.pause();
  say(byId("status"), `Not played: ${error instanceof Error ? error.message : error}`);
}

function showPlaying() {
  byId("play").classList.toggle("on", isSounding());
  byId("play").setAttribute("aria-label", isSounding() ? "Pause" : "Play");
}

/** In a press of a button or a key, or browsers allow no sound. */
async function toggle() {
  if (isHeld) return player.resume();
  if (player.playing) {
    player.pause();
    say(byId("status"), "");
    return undefined;
  }
  try {
    await Promise.all([player.play(), hear()]);
  } catch (error) {
    stop(error);
  }
  return undefined;
}

function showTime() {
  const seconds = player.position(),
    whole = buffers.get(chosenClip().sound)?.duration ?? chosenClip().seconds;
  byId("seek").value = String(Math.round((1000 * seconds) / whole));
  say(byId("now"), `${seconds.toFixed(1)} s`);
  showCaption(seconds);
  drawWave();
}

function followTime() {
  if (player.playing) showTime();
  requestAnimationFrame(followTime);
}

/** @param {Event & {target: any}} event */
function choose({ target: { name, value } }) {
  if (name === "takes") chosen.take = value;
  if (name === "groups") chosen.group = value;
  if (name === "positions") chosen.position = value;
  const groups = groupsOf(chosen.take);
  if (!groups.includes(chosen.group)) chosen.group = groups[0];
  chosen.position = chosenClip().position;
  if (name === "takes") fillChips("groups", groups, chosen.group);
  if (name !== "positions") fillPositions();
  show();
  if (takeHeard) hear();
}

/** @param {KeyboardEvent & {target: any}} event */
function onKey(event) {
  const onControl = event.target.closest("button, a, summary, input[type=range]");
  if (event.key !== " " || onControl || event.ctrlKey || event.metaKey || event.altKey) return;
  event.preventDefault();
  toggle();
}

function recallVolume() {
  try {
    const volume = Number(localStorage.getItem(VOLUME_KEY) ?? FIRST_VOLUME);
    return volume >= 0 && volume <= 100 ? volume : FIRST_VOLUME;
  } catch {
    return FIRST_VOLUME; // a page opened as a file may have no storage
  }
}

/**
 * A slider that sets the gain itself seems to act only near its low end: its square is even.
 * @param {number} volume 0 to 100
 */
const setVolume = (volume) => player.setOutput((volume / 100) ** 2);

function changeVolume() {
  const { value } = byId("volume");
  setVolume(Number(value));
  try {
    localStorage.setItem(VOLUME_KEY, value);
  } catch {
    // without storage the next visit starts at the first volume
  }
}

/** In a frame of a shop's page: only the player. The page around it is told how tall that is. */
function fitIntoFrame() {
  document.documentElement.classList.add("framed", ...window.location.hash.split("-").slice(1));
  const tell = () =>
    window.parent.postMessage(
      { presolderTall: Math.ceil(document.body.getBoundingClientRect().height) },
      "*", // the shop's address is not known here, and a height is no secret
    );
  new ResizeObserver(tell).observe(document.body);
}

function start() {
  if (FRAMED.includes(window.location.hash)) fitIntoFrame();
  byId("listen").hidden = false;
  /** @type {HTMLDetailsElement} */ (document.querySelector(".files")).open = false;
  byId("volume").value = String(recallVolume());
  setVolume(recallVolume());
  fillChips("takes", unique(data.clips.map(({ take }) => take)), chosen.take);
  fillChips("groups", groupsOf(chosen.take), chosen.group);
  fillPositions();
  show();
  for (const id of ["takes", "groups", "positions"]) byId(id).addEventListener("change", choose);
  byId("play").addEventListener("click", toggle);
  byId("volume").addEventListener("input", changeVolume);
  byId("seek").addEventListener("change", () => {
    player.seek((Number(byId("seek").value) / 1000) * chosenClip().seconds);
    showTime();
  });
  document.addEventListener("keydown", onKey);
  window.addEventListener("resize", () => {
    drawWave();
    showPlot();
  });
  followTime();
}

start();
