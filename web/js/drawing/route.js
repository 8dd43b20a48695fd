/** Every wire of a placed wiring: several orders and rounds, and the best of all is kept. */

import { PITCH, STEPS } from "./grid.js";
import { Router } from "./router.js";
import { BUS } from "./tree.js";

/** @import {Exit, Placed, PlacedLug, Point, Routed, Stub, Wire, WiringFacts} from "./types.js" */

/** What is weighed against length: a crossing, a bend, a shared cell, a wire without a way. */
const WEIGHT = { crossing: 160, bend: 24, shared: 4000, broken: 40_000 };
/** Rounds in which all wires are laid anew among the others. */
const ROUNDS = { probe: 1, quick: 2, full: 3 };
/** Rounds in which cells that wires share grow dearer. */
const ROUNDS_APART = 10;
const DEARER = 300;
/** Wires laid at most while others give way; few in a frame of a drag. */
const [MOST_GIVING_WAY, FEW_GIVING_WAY] = [120, 12];
/** Lugs with more wires than this keep the order in which they were laid. */
const MOST_ORDERED = 3;

/** @typedef {{id: number, wire: Wire, a: string, b: string}} Job */
/** @typedef {"probe" | "quick" | "full"} Effort  how many first orders and rounds are tried */

/**
 * Lay every wire.
 *
 * @param {WiringFacts} facts @param {Placed} placed @param {Wire[]} wires
 * @param {{effort?: Effort, kept?: Map<string, Point[]> | null}} [options] kept: earlier ways by
 *   the wires' keys; those that still fit stay
 * @returns {Routed}
 */
export function routeWires(facts, placed, wires, { effort = "full", kept = null } = {}) {
  return new Routing(facts, placed, wires).run(effort, kept);
}

class Routing {
  /** @param {WiringFacts} facts @param {Placed} placed @param {Wire[]} wires */
  constructor(facts, placed, wires) {
    this.placed = placed;
    this.wires = wires;
    /** @type {Map<string, number>} */
    const joints = new Map();
    facts.joints.forEach((joint, k) => joint.forEach((terminal) => joints.set(terminal, k)));
    this.router = new Router(placed, (terminal) => {
      const isMetal = terminal === BUS || terminal.endsWith(".casing");
      return isMetal ? facts.ground : (joints.get(terminal) ?? -1);
    });
    /** @type {Map<string, Stub>} */
    this.stubs = new Map();
    for (const wire of wires) if (wire.run === "stub") this.addStub(wire);
    /** @type {Job[]} */
    this.jobs = [];
    wires.forEach((wire, id) => {
      if (wire.b === null || wire.run === "tie" || wire.run === "twist") return;
      this.jobs.push({ id, wire, a: wire.a, b: wire.b });
    });
    /** @type {{cost: number, tracks: Map<number, number[]>} | null} */
    this.best = null;
  }

  /** @param {string} terminal */
  lug(terminal) {
    return /** @type {PlacedLug} */ (this.placed.lugs.get(terminal));
  }

  /** A short end to ground, and room for its symbol. @param {Wire} wire */
  addStub(wire) {
    const lug = this.lug(wire.a);
    const isFree = (/** @type {Exit} */ exit) =>
      [1, 2].every((k) => {
        const [dx, dy] = STEPS[exit.dir];
        return !this.router.isClosed(exit.x + dx * k * PITCH, exit.y + dy * k * PITCH);
      });
    const exit = [...lug.exits].reverse().find(isFree) ?? lug.exits[lug.exits.length - 1];
    this.stubs.set(wire.key, { x: lug.x, y: lug.y, exit });
    const [dx, dy] = STEPS[exit.dir];
    for (const k of [1, 2]) this.router.block(exit.x + dx * k * PITCH, exit.y + dy * k * PITCH);
  }

  /** @param {Effort} effort @param {Map<string, Point[]> | null} kept @returns {Routed} */
  run(effort, kept) {
    if (kept) {
      const dirty = this.keepFitting(kept);
      this.router.strict = true; // what stays has its tracks for itself
      this.lay(dirty);
      this.router.strict = false;
      if (this.router.tracks.size < this.jobs.length) this.giveWay(FEW_GIVING_WAY);
      else this.note();
    } else {
      for (const order of this.orders(effort)) {
        this.router.ripAll();
        const jobs = order ? [...this.jobs].sort(order) : this.byLength();
        let before = Infinity;
        for (let round = 0; round < ROUNDS[effort]; round++) {
          this.lay(jobs);
          const cost = this.note();
          if (cost === before) break; // it has settled
          before = cost;
        }
      }
      this.restore();
      if (effort === "full") this.reorderLugs();
    }
    this.restore();
    if (effort === "full") this.part();
    return this.result();
  }

  /** @param {Job[]} jobs */
  lay(jobs) {
    for (const { id, wire, a, b } of jobs) this.router.route(id, wire.joint, a, b);
  }

  /** Keep what still fits; return the wires to lay anew. @param {Map<string, Point[]>} kept */
  keepFitting(kept) {
    return this.jobs.filter((job) => {
      const points = kept.get(job.wire.key);
      if (!points || !this.fits(points, job)) return true;
      const cells = points.map(([x, y]) => this.router.cellAt(x, y));
      this.router.keep(job.id, cells, job.wire.joint);
      return false;
    });
  }

  /** @param {Point[]} points @param {Job} job */
  fits(points, { a, b }) {
    const [first, last] = [points[0], points[points.length - 1]];
    /** @param {string} terminal @param {Point} point */
    const ends = (terminal, [x, y]) => this.lug(terminal).exits.some((exit) => exit.x === x && exit.y === y);
    if (!ends(a, first) || !ends(b, last)) return false;
    return points.slice(1, -1).every(([x, y]) => !this.router.isClosed(x, y));
  }

  byLength() {
    return [...this.jobs].sort((p, q) => this.length(p) - this.length(q));
  }

  /** @param {Job} job */
  length({ a, b }) {
    const [p, q] = [this.lug(a), this.lug(b)];
    return Math.abs(p.x - q.x) + Math.abs(p.y - q.y);
  }

  /**
   * First orders to try: short first, from the bottom; in full also long first, joint by joint, from the top
   * and from the right.
   *
   * @param {Effort} effort @returns {(((p: Job, q: Job) => number) | null)[]}
   */
  orders(effort) {
    /** @param {Job} job */
    const height = ({ a, b }) => this.lug(a).y + this.lug(b).y;
    /** @param {Job} job */
    const side = ({ a, b }) => Math.min(this.lug(a).x, this.lug(b).x);
    /** @type {(((p: Job, q: Job) => number) | null)[]} */
    const quick = [null, (p, q) => height(q) - height(p)];
    if (effort === "probe") return quick.slice(0, 1);
    if (effort === "quick") return quick;
    return [
      ...quick,
      (p, q) => this.length(q) - this.length(p),
      (p, q) => p.wire.joint - q.wire.joint || this.length(p) - this.length(q),
      (p, q) => height(p) - height(q),
      (p, q) => side(q) - side(p),
    ];
  }

  /** The order of the wires on a crowded lug decides which one goes round: try each. */
  reorderLugs() {
    /** @type {Map<string, Job[]>} */
    const at = new Map();
    for (const job of this.jobs) {
      for (const end of [job.a, job.b]) at.set(end, [...(at.get(end) ?? []), job]);
    }
    for (const jobs of at.values()) {
      if (jobs.length < 2 || jobs.length > MOST_ORDERED) continue;
      for (const order of permutations(jobs)) {
        for (const { id } of order) this.router.rip(id);
        this.lay(order);
        this.note();
      }
      this.restore();
    }
    this.lay(this.byLength());
    this.note();
  }

  /** Remember the tracks as they are if they are the best so far; return what they cost. */
  note() {
    const cost = this.cost();
    if (this.best && cost >= this.best.cost) return cost;
    const tracks = new Map([...this.router.tracks].map(([id, { cells }]) => [id, cells]));
    this.best = { cost, tracks };
    return cost;
  }

  cost() {
    const { crossings, shared } = this.router.meetings();
    const broken = this.jobs.length - this.router.tracks.size;
    let cost = crossings.length * WEIGHT.crossing + shared.length * WEIGHT.shared + broken * WEIGHT.broken;
    for (const { cells } of this.router.tracks.values()) {
      cost += cells.length * PITCH;
      for (let k = 2; k < cells.length; k++) {
        if (cells[k] - cells[k - 1] !== cells[k - 1] - cells[k - 2]) cost += WEIGHT.bend;
      }
    }
    return cost;
  }

  restore() {
    this.router.ripAll();
    for (const [id, cells] of this.best?.tracks ?? []) {
      this.router.keep(id, cells, this.wires[id].joint);
    }
  }

  /**
   * No two wires share a track in the end. Cells that they share grow dearer round by round; what is left
   * then finds its way without sharing, or is drawn as two marked ends.
   */
  part() {
    const { router } = this;
    for (let round = 0; round < ROUNDS_APART; round++) {
      const { shared } = router.meetings();
      const lost = this.jobs.filter(({ id }) => !router.tracks.has(id));
      if (!shared.length && !lost.length) return;
      for (const { cell } of shared) router.dear[cell] += DEARER;
      const ids = new Set(shared.flatMap((one) => one.ids));
      const again = this.jobs.filter(({ id }) => ids.has(id) || lost.some((job) => job.id === id));
      const neighbours = lost.length ? this.jobs : again;
      for (const { id } of again) router.rip(id);
      this.lay([...lost, ...neighbours.filter((job) => !lost.includes(job))]);
      this.note();
    }
    this.restore();
    for (let left = this.jobs.length; left > 0; left--) {
      const { shared } = router.meetings();
      if (!shared.length) break;
      router.rip(shared[0].ids[1]);
    }
    this.giveWay(MOST_GIVING_WAY);
  }

  /**
   * Find ways for the wires that have none: one takes the way that is cheapest with sharing, whatever lies on
   * it gives way and is laid again, and what was fought over grows dearer. The best of all rounds is kept.
   *
   * @param {number} most wires laid
   */
  giveWay(most) {
    const { router } = this;
    const named = new Map(this.jobs.map((job) => [job.id, job]));
    this.best = null;
    this.note();
    let waiting = this.jobs.filter(({ id }) => !router.tracks.has(id));
    for (let tries = most; waiting.length && tries > 0; tries--) {
      const [job, ...others] = waiting;
      waiting = others;
      router.strict = true;
      const free = router.route(job.id, job.wire.joint, job.a, job.b);
      router.strict = false;
      if (!free && router.route(job.id, job.wire.joint, job.a, job.b)) {
        const { shared } = router.meetings();
        for (const { cell } of shared) router.dear[cell] += DEARER;
        const away = new Set(shared.flatMap(({ ids }) => ids));
        away.delete(job.id);
        for (const id of away) {
          router.rip(id);
          waiting.push(/** @type {Job} */ (named.get(id)));
        }
      }
      this.note();
    }
    this.restore();
  }

  /** @returns {Routed} */
  result() {
    const { router } = this;
    /** @type {Map<string, Point[]>} */
    const paths = new Map();
    /** @type {Map<string, Point[]>} */
    const cells = new Map();
    const broken = [];
    for (const { id, wire, a, b } of this.jobs) {
      const grid = router.gridPoints(id);
      if (grid) {
        cells.set(wire.key, grid);
        const end = b === BUS ? grid[grid.length - 1] : pad(this.lug(b));
        paths.set(wire.key, straightened([pad(this.lug(a)), ...grid, end]));
      } else broken.push(wire);
    }
    for (const wire of this.wires) {
      if (wire.b === null || (wire.run !== "tie" && wire.run !== "twist")) continue;
      paths.set(wire.key, bow(this.lug(wire.a), this.lug(wire.b)));
    }
    const { crossings, shared } = router.meetings();
    return {
      paths,
      cells,
      stubs: this.stubs,
      broken,
      shared: shared.length,
      crossings: crossings.map((cell) => router.pointOf(cell)),
      box: [router.x0, router.y0, router.columns * PITCH, router.rows * PITCH],
    };
  }
}

/** @param {PlacedLug} lug @returns {Point} */
const pad = (lug) => [lug.x, lug.y];

/** Points with straight pieces merged. @param {Point[]} points @returns {Point[]} */
export function straightened(points) {
  const kept = [points[0]];
  for (let k = 1; k < points.length - 1; k++) {
    const [p, q, r] = [kept[kept.length - 1], points[k], points[k + 1]];
    const turned = (q[0] - p[0]) * (r[1] - q[1]) !== (q[1] - p[1]) * (r[0] - q[0]);
    if (turned) kept.push(q);
  }
  return [...kept, points[points.length - 1]];
}

/**
 * A short wire that bows out on the lugs' outer side.
 *
 * @param {PlacedLug} a @param {PlacedLug} b @returns {Point[]}
 */
function bow(a, b) {
  let [ox, oy] = [0, 0];
  for (const { x, y, exits } of [a, b]) {
    const exit = exits[exits.length - 1];
    const far = Math.hypot(exit.x - x, exit.y - y) || 1;
    ox += (exit.x - x) / far;
    oy += (exit.y - y) / far;
  }
  const far = Math.hypot(ox, oy) || 1;
  const [dx, dy] = [(ox / far) * 9, (oy / far) * 9];
  return [
    [a.x, a.y],
    [(a.x * 3 + b.x) / 4 + dx, (a.y * 3 + b.y) / 4 + dy],
    [(a.x + b.x * 3) / 4 + dx, (a.y + b.y * 3) / 4 + dy],
    [b.x, b.y],
  ];
}

/** @template T @param {T[]} list @returns {T[][]} */
function permutations(list) {
  if (list.length < 2) return [list];
  return list.flatMap((one, k) =>
    permutations([...list.slice(0, k), ...list.slice(k + 1)]).map((rest) => [one, ...rest]),
  );
}
