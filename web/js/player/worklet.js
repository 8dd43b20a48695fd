/** The player on the audio thread: messages in, blocks out. */

import { BLOCK } from "./bank.js";
import { Deck } from "./deck.js";
import { readFrame } from "./frames.js";

/** @typedef {{port: MessagePort}} Processor */
const scope =
  /** @type {{AudioWorkletProcessor: new () => Processor, sampleRate: number, currentFrame: number,
   *   registerProcessor: (name: string, processor: unknown) => void}} */ (
    /** @type {unknown} */ (globalThis)
  );

/** Blocks between two reports of the playing position: about 20 a second. */
const EVERY = 19;

class Player extends scope.AudioWorkletProcessor {
  /** @param {{processorOptions?: {output?: number, loudest?: number, capture?: number}}} options */
  constructor({ processorOptions = {} }) {
    super();
    this.deck = new Deck((message) => this.port.postMessage(message), processorOptions);
    this.samples = new Float64Array(BLOCK);
    this.blocks = 0;
    this.open = true;
    /** Every computed sample, for tests: the context's own output has 32 bits. */
    this.captured = new Float64Array(processorOptions.capture ?? 0);
    this.kept = 0;
    this.lowest = 1;
    this.port.onmessage = ({ data }) => this.take(data);
  }

  /** @param {any} message */
  take(message) {
    const deck = this.deck;
    switch (message.type) {
      case "keep":
        return deck.keep(message.key, message.stems);
      case "drop":
        return deck.drop(message.key);
      case "chain":
        return deck.setChain(message.chain);
      case "ask":
        return this.ask(message);
      case "play":
        return deck.setPlaying(true);
      case "pause":
        return deck.setPlaying(false);
      case "output":
        return deck.setOutput(message.gain);
      case "matched":
        return deck.setMatched(message.on);
      case "loudest":
        return deck.setLoudest(message.lufs);
      case "captured":
        return this.port.postMessage({ type: "captured", samples: this.captured.slice(0, this.kept) });
      case "there":
        return this.port.postMessage({ type: "there" }); // every message before it has been handled
      case "close":
        this.open = false;
    }
  }

  /** @param {{frame?: ArrayBuffer, key?: string, loop?: [number, number], seek?: number, gainDb?: number,
   *   through?: import("./path.js").Through, hum?: import("./hum.js").Hum | null}} message */
  ask({ frame, key, loop, seek, gainDb, through, hum }) {
    try {
      this.deck.ask({
        ...(frame && { frame: readFrame(frame) }),
        ...(key !== undefined && { key }),
        ...(loop && { loop }),
        ...(seek !== undefined && { seek }),
        ...(gainDb !== undefined && { gainDb }),
        ...(through && { through }),
        ...(hum !== undefined && { hum }),
      });
      this.deck.getReady();
    } catch (error) {
      this.port.postMessage({
        type: "refused",
        what: error instanceof Error ? error.message : String(error),
      });
    }
  }

  /** @param {Float32Array[][]} _inputs @param {Float32Array[][]} outputs */
  process(_inputs, outputs) {
    const channels = outputs[0],
      n = channels[0].length;
    for (let at = 0; at < n; at += BLOCK) {
      const part = Math.min(BLOCK, n - at);
      this.deck.block(this.samples, part);
      for (const channel of channels) channel.set(this.samples.subarray(0, part), at);
      this.lowest = Math.min(this.lowest, this.deck.guard.lowest);
      this.keepCaptured(part);
    }
    this.blocks += 1;
    if (this.blocks % EVERY === 0) this.report();
    return this.open;
  }

  /** @param {number} n */
  keepCaptured(n) {
    const m = Math.min(n, this.captured.length - this.kept);
    if (m > 0) this.captured.set(this.samples.subarray(0, m), this.kept);
    this.kept += Math.max(m, 0);
  }

  report() {
    const { position, playing } = this.deck;
    this.port.postMessage({ type: "at", position, playing, guarded: this.lowest });
    this.lowest = 1;
  }
}

scope.registerProcessor("presolder-player", Player);
