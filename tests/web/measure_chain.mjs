/**
 * Print what playing costs in each way: processor time over sound, as a share of one core, the median of
 * many turns. One turn of every way follows the other, so that other work disturbs all alike.
 *
 *     node tests/web/measure_chain.mjs TURNS SECONDS
 */

import { readFileSync } from "node:fs";

import { BLOCK } from "../../web/js/player/bank.js";
import { Deck } from "../../web/js/player/deck.js";
import { readFrame } from "../../web/js/player/frames.js";
import { humOf } from "../../web/js/player/hum.js";
import { bytes, cases, stems } from "./player_help.js";

const RATE = 48_000;
const [turns, seconds] = process.argv.slice(2).map(Number);
/** @param {string} name */
const read = (name) => JSON.parse(readFileSync(new URL(`reference/${name}`, import.meta.url), "utf8"));
const { chain } = read("chain_cases.json"),
  { record, areas } = read("hum_cases.json");
const { frames, coils } = cases.sweep;
const block = new Float64Array(BLOCK),
  frame = readFrame(bytes(frames[0]));

/** @param {string} way @param {boolean} humming */
function playing(way, humming) {
  const deck = new Deck(() => {}, { output: 0.01 });
  const hum = humming ? humOf(record, { room: "stage", mains: 50 }, areas) : null;
  deck.setChain(chain);
  deck.keep("take", stems(coils, 2 * RATE));
  deck.ask({ key: "take", frame, through: { way, loweredDb: 0 }, hum });
  deck.setPlaying(true);
  return deck;
}

/** Seconds of processor time for as many of sound. @param {Deck} deck @param {number} long */
function cost(deck, long) {
  const before = process.cpuUsage();
  for (let at = 0; at < long * RATE; at += BLOCK) deck.block(block, BLOCK);
  const { user, system } = process.cpuUsage(before);
  return (user + system) / 1e6;
}

const decks = Object.fromEntries([
  ...chain.ways.map((/** @type {{name: string}} */ { name }) => [name, playing(name, false)]),
  ["driven with hum", playing("driven", true)],
]);
for (const deck of Object.values(decks)) cost(deck, 4);
/** @type {Record<string, number[]>} */
const found = Object.fromEntries(Object.keys(decks).map((name) => [name, []]));
for (let turn = 0; turn < turns; turn++)
  for (const [name, deck] of Object.entries(decks)) found[name].push(cost(deck, seconds) / seconds);
const median = (/** @type {number[]} */ all) => all.sort((a, b) => a - b)[all.length >> 1];
console.log(
  JSON.stringify(Object.fromEntries(Object.entries(found).map(([name, all]) => [name, median(all)]))),
);
