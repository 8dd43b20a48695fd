/** Drive the player as the page does, and record the events. */

import * as api from "/web/js/bench/api.js";
import { listCommissions } from "/web/js/shared/lists.js";
import { createEngine } from "/web/js/player/engine.js";
import { PLAYER } from "/web/js/player/worklets.js";
import { createLink } from "/web/js/player/link.js";
import { Deck } from "/web/js/player/deck.js";
import { readFrame } from "/web/js/player/frames.js";
import { capture } from "./capture.js";

const engine = createEngine(PLAYER);
const seen = { states: [], applied: [], frames: 0, ticks: [], trouble: [], problems: [], underruns: 0, asked: {}, late: {}, came: {} };
engine.onTick((at) => seen.ticks.push(at));
engine.onApplied((id) => {
  seen.applied.push(id);
  if (seen.asked[id] !== undefined) seen.late[id] = performance.now() - seen.asked[id];
});
engine.onUnderrun((events) => { seen.underruns = events; });
engine.onTrouble((what) => seen.trouble.push(what));

let draft, take, link, through;

/** Request a setting, as a knob does. */
function ask(setting) {
  const now = performance.now();
  const id = link.ask({ draft, setting, take, through });
  seen.asked[id] = now;
  return id;
}

/** Open a commission's wiring by a word of its name, and a take. */
async function open(word, which) {
  const rows = await listCommissions("", false);
  const wiring = rows.flatMap((row) => row.wirings).find((one) => one.name.includes(word));
  draft = { version: wiring.version, edits: [] };
  take = which;
  link?.close();
  link = createLink({
    api,
    onFrame(frame, id) {
      seen.frames += 1;
      if (seen.came[id] === undefined) seen.came[id] = performance.now() - seen.asked[id];
      engine.setBank(frame);
    },
    onProblems(id, problems) { seen.problems.push({ id, problems }); },
    onState(state) { seen.states.push(state); },
  });
}

/** Hear what is played through a way from now on. */
async function hear(way) {
  engine.setChain(await api.getChain());
  const { lowered_db: loweredDb } = await api.getMonitor(draft, take, way);
  through = { way, lowered_db: loweredDb };
  const setting = { position: "1", knobs: {}, switches: {} };
  engine.use("present", await api.getFilters(draft, setting, undefined, through), 0, { way, loweredDb });
}

async function load() {
  const { coils, stems } = await api.getStems(draft, take);
  engine.setStems(stems, 48000);
  return { coils, samples: stems[0].length };
}

/** Return numbers between 0 and 1, the same each time. */
function dice(seed) {
  let state = seed;
  return () => (state = (state * 16807) % 2147483647) / 2147483647;
}

const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));

/** Move knobs and selector at random. */
async function play(seconds, { positions, knobs, everyMs, seed = 7, spread = 1 }) {
  const roll = dice(seed), until = performance.now() + 1000 * seconds;
  let position = positions[0], moves = 0;
  while (performance.now() < until) {
    if (roll() < 0.15) position = positions[Math.floor(roll() * positions.length)];
    ask({ position, knobs: Object.fromEntries(knobs.map((name) => [name, Math.round(100 * roll()) / 10])), switches: {} });
    moves += 1;
    await pause(everyMs * (1 + spread * (roll() - 0.5)));
  }
  return moves;
}

/** Return how many times faster than real time the player computes, with noise in every coil. */
function speed({ coils, seconds, frame, everyBlocks }) {
  const read = readFrame(Uint8Array.from(atob(frame), (sign) => sign.charCodeAt(0)).buffer);
  const roll = dice(3), block = new Float64Array(128), deck = new Deck(() => {}, { output: 0.01 });
  deck.keep("noise", Array.from({ length: coils }, () => Float32Array.from({ length: 96000 }, () => roll() - 0.5)));
  deck.ask({ key: "noise", frame: { ...read, id: 1 } });
  deck.setPlaying(true);
  const run = (blocks) => {
    for (let i = 0; i < blocks; i++) {
      if (everyBlocks && i % everyBlocks === 0) deck.ask({ frame: { ...read, id: i + 2 } });
      deck.block(block, 128);
    }
  };
  run(4000);
  const began = performance.now(), blocks = Math.round((seconds * 48000) / 128);
  run(blocks);
  return (blocks * 128) / 48 / (performance.now() - began);
}

let idle;

/** Return the gaps of a player that plays nothing, begun at the first call. Those the machine makes. */
async function idleGaps() {
  if (!idle) {
    idle = new AudioContext({ sampleRate: 48000, latencyHint: "interactive" });
    await idle.audioWorklet.addModule("/web/js/player/worklet.js");
    const options = { numberOfInputs: 0, outputChannelCount: [1], processorOptions: {} };
    new AudioWorkletNode(idle, "presolder-player", options).connect(idle.destination);
    await idle.resume();
  }
  return idle.playbackStats.underrunEvents;
}

window.bench = {
  idleGaps,
  speed,
  api, engine, seen, ask, open, load, hear, play, pause, capture,
  edit(edits) { draft = { ...draft, edits }; },
  state: () => link.state,
};
