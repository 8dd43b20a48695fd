/**
 * One wire at a time on the grid: the cheapest way from lug to lug. Each wire keeps a track of its own;
 * crossings cost much, bends a little; bodies and other lugs are closed.
 */

import { DIRECTIONS, PITCH } from "./grid.js";
import { Heap } from "./heap.js";

/** @import {Box, Placed, PlacedLug, Point} from "./types.js" */

const STEP = 10;
const BEND = 26;
/** A bend at the cell where a wire leaves its lug. */
const FIRST_BEND = 16;
const CROSS = 150;
const SHARE = 900;
const NEAR_BODY = 4;
const OVER_WORDS = 45;
/** Another joint's wire across the cell before an exit in use, which must stay a way out. */
const BEFORE_EXIT = 140;
/** Another wire of the lug has left by this exit, and there are others. */
const USED_EXIT = 90;
/** A bus wire has more exits than this; each takes one wire. */
const MOST_EXITS = 3;
const ANY_COLUMN = -1;
/** Joint of an exit that no joint has. */
const UNUSED = 32000;

/** @typedef {{cells: number[], joint: number}} Track */

/**
 * What a search writes on. All routers share it, as only one searches at a time: a layout makes dozens of
 * them. Marks hold the number of their search, so nothing is ever wiped.
 */
const paper = {
  turn: 0,
  cost: new Float64Array(0),
  stamp: new Int32Array(0),
  from: new Int32Array(0),
  done: new Int32Array(0),
  start: new Int32Array(0),
  goal: new Int32Array(0),
  ways: new Uint8Array(0),
  heap: new Heap(),
};

/** @param {number} cells that the paper must hold */
function paperFor(cells) {
  if (paper.start.length >= cells) return paper;
  Object.assign(paper, {
    turn: 0,
    cost: new Float64Array(cells * 4),
    stamp: new Int32Array(cells * 4),
    from: new Int32Array(cells * 4),
    done: new Int32Array(cells * 4),
    start: new Int32Array(cells),
    goal: new Int32Array(cells),
    ways: new Uint8Array(cells),
  });
  return paper;
}

export class Router {
  /**
   * @param {Placed} placed @param {(terminal: string) => number} jointOf -1 for none
   * @param {number} [margin] room around the parts
   */
  constructor(placed, jointOf, margin = 130) {
    const { items } = placed;
    const boxes = items.flatMap((item) => [...item.boxes, item.keep]);
    const exits = [...placed.lugs.values()].flatMap((lug) => lug.exits);
    const xs = [...boxes.flatMap((box) => [box[0], box[2]]), ...exits.map((exit) => exit.x)];
    const ys = [...boxes.flatMap((box) => [box[1], box[3]]), ...exits.map((exit) => exit.y)];
    const [left, top] = xs.length ? [Math.min(...xs), Math.min(...ys)] : [0, 0];
    this.x0 = Math.floor(left / PITCH) * PITCH - margin;
    this.y0 = Math.floor(top / PITCH) * PITCH - margin;
    this.columns = Math.ceil((Math.max(left, ...xs) - this.x0 + margin) / PITCH);
    this.rows = Math.ceil((Math.max(top, ...ys) - this.y0 + margin) / PITCH);
    const n = this.columns * this.rows;
    this.lugs = placed.lugs;
    this.body = new Uint8Array(n);
    /** What entering a cell costs besides the step: near bodies, words, and what history adds. */
    this.dear = new Int32Array(n);
    this.pin = new Int16Array(n).fill(-1);
    this.before = new Int16Array(n).fill(-1);
    /** How many tracks run along each axis in a cell. */
    this.across = [new Uint8Array(n), new Uint8Array(n)];
    /** @type {number[]} */
    this.goalColumns = [];
    /** @type {number[]} */
    this.goalRows = [];
    /** Sharing a track is forbidden, not just dear. */
    this.strict = false;
    /** @type {Map<number, Track>} */
    this.tracks = new Map();
    this.offsets = [1, this.columns, -1, -this.columns];
    this.closeEdges();
    for (const item of items) for (const box of item.boxes) this.fillBody(box);
    for (const item of items) for (const box of item.words) this.addCost(box, OVER_WORDS);
    this.openExits(jointOf);
  }

  closeEdges() {
    const { body, columns, rows } = this;
    for (let k = 0; k < columns; k++) body[k] = body[body.length - 1 - k] = 1;
    for (let k = 0; k < rows; k++) body[k * columns] = body[k * columns + columns - 1] = 1;
  }

  /** @param {Box} box */
  fillBody([left, top, right, bottom]) {
    const [i0, i1] = [Math.ceil((left - this.x0) / PITCH), Math.floor((right - this.x0) / PITCH)];
    const [j0, j1] = [Math.ceil((top - this.y0) / PITCH), Math.floor((bottom - this.y0) / PITCH)];
    for (let j = j0 - 1; j <= j1 + 1; j++) {
      for (let i = i0 - 1; i <= i1 + 1; i++) {
        const cell = j * this.columns + i;
        if (i >= i0 && i <= i1 && j >= j0 && j <= j1) this.body[cell] = 1;
        else this.dear[cell] += NEAR_BODY;
      }
    }
  }

  /** @param {Box} box @param {number} cost */
  addCost([left, top, right, bottom], cost) {
    for (let y = Math.ceil(top / PITCH) * PITCH; y <= bottom; y += PITCH) {
      for (let x = Math.ceil(left / PITCH) * PITCH; x <= right; x += PITCH) {
        const cell = this.cellAt(x, y);
        if (cell >= 0 && cell < this.dear.length) this.dear[cell] += cost;
      }
    }
  }

  /** @param {(terminal: string) => number} jointOf */
  openExits(jointOf) {
    for (const [terminal, lug] of this.lugs) {
      const joint = jointOf(terminal);
      for (const exit of lug.exits) {
        const cell = this.cellAt(exit.x, exit.y);
        this.body[cell] = 0;
        this.pin[cell] = joint < 0 ? UNUSED : joint;
      }
    }
    for (const [terminal, lug] of this.lugs) {
      const joint = jointOf(terminal);
      if (joint < 0) continue;
      for (const exit of lug.exits) {
        const next = this.cellAt(exit.x, exit.y) + this.offsets[DIRECTIONS.indexOf(exit.dir)];
        if (!this.body[next] && this.pin[next] < 0) this.before[next] = joint;
      }
    }
  }

  /** @param {number} x @param {number} y */
  cellAt(x, y) {
    return Math.round((y - this.y0) / PITCH) * this.columns + Math.round((x - this.x0) / PITCH);
  }

  /** @param {number} cell @returns {Point} */
  pointOf(cell) {
    return [this.x0 + (cell % this.columns) * PITCH, this.y0 + Math.floor(cell / this.columns) * PITCH];
  }

  /** @param {number} x @param {number} y */
  block(x, y) {
    this.body[this.cellAt(x, y)] = 1;
  }

  /** @param {number} x @param {number} y */
  isClosed(x, y) {
    const cell = this.cellAt(x, y);
    return this.body[cell] === 1 || this.pin[cell] >= 0;
  }

  /** @param {number} id @param {number[]} cells @param {number} joint */
  keep(id, cells, joint) {
    this.tracks.set(id, { cells, joint });
    this.count(cells, 1);
  }

  /** @param {number} id */
  rip(id) {
    const track = this.tracks.get(id);
    if (!track) return;
    this.count(track.cells, -1);
    this.tracks.delete(id);
  }

  /** @param {number[]} cells @param {1 | -1} by */
  count(cells, by) {
    for (let k = 0; k < cells.length; k++) {
      const axis = this.axisAt(cells, k - 1) | this.axisAt(cells, k);
      if (axis & 1) this.across[0][cells[k]] += by;
      if (axis & 2) this.across[1][cells[k]] += by;
    }
  }

  ripAll() {
    this.tracks.clear();
    for (const taken of this.across) taken.fill(0);
  }

  /**
   * Lay a wire anew; return whether there was a way.
   *
   * @param {number} id @param {number} joint @param {string} a @param {string} b
   */
  route(id, joint, a, b) {
    this.rip(id);
    const end = this.search(joint, a, b);
    if (end < 0) return false;
    const cells = [];
    for (let state = end; state >= 0; state = paper.from[state]) cells.push(state >> 2);
    this.keep(id, cells.reverse(), joint);
    return true;
  }

  /**
   * Find the cheapest way; return its last state (cell x 4 + direction), or -1.
   *
   * @param {number} joint @param {string} a @param {string} b
   */
  search(joint, a, b) {
    const { body, pin, before, dear, offsets } = this;
    const { cost, stamp, done, from, heap, start, goal, ways } = paperFor(body.length);
    const [along0, along1] = this.across;
    const turn = ++paper.turn;
    this.markEnds(a, b, turn);
    const severalGoals = this.goalRows.length > 1;
    while (heap.size) {
      const state = heap.pop();
      if (done[state] === turn) continue;
      done[state] = turn;
      const cell = state >> 2;
      const dir = state & 3;
      const isStart = start[cell] === turn;
      if (goal[cell] === turn && !isStart) return state;
      const foreign = before[cell] >= 0 && before[cell] !== joint;
      const straight = !isStart && (along0[cell] > 0 || along1[cell] > 0 || foreign);
      for (let to = 0; to < 4; to++) {
        if (to === ((dir + 2) & 3) || (to !== dir && straight)) continue;
        const next = cell + offsets[to];
        const isGoal = goal[next] === turn;
        if (body[next] || (pin[next] >= 0 && !isGoal)) continue;
        let price = STEP + dear[next];
        if (to !== dir) price += isStart ? FIRST_BEND : BEND;
        if (isGoal) {
          price += ((ways[next] + 2) & 3) === to ? 0 : FIRST_BEND;
          if (severalGoals && along0[next] + along1[next] > 0) price += USED_EXIT;
        } else {
          if ((to & 1 ? along1 : along0)[next] > 0) {
            if (this.strict) continue;
            price += SHARE;
          }
          if ((to & 1 ? along0 : along1)[next] > 0) price += CROSS;
        }
        if (before[next] >= 0 && before[next] !== joint) price += BEFORE_EXIT;
        const there = next * 4 + to;
        const total = cost[state] + price;
        if (stamp[there] !== turn || total < cost[there]) {
          stamp[there] = turn;
          cost[there] = total;
          from[there] = state;
          heap.push(there, total + this.least(next));
        }
      }
    }
    return -1;
  }

  /**
   * Mark the cells where a wire starts and may end.
   *
   * @param {string} a @param {string} b @param {number} turn
   */
  markEnds(a, b, turn) {
    const { columns } = this;
    const { cost, stamp, from, heap, start, goal, ways } = paper;
    const first = /** @type {PlacedLug} */ (this.lugs.get(a));
    const last = /** @type {PlacedLug} */ (this.lugs.get(b));
    const isBus = last.exits.length > MOST_EXITS;
    this.goalColumns.length = this.goalRows.length = 0;
    for (const exit of last.exits) {
      const cell = this.cellAt(exit.x, exit.y);
      if (isBus && (this.across[0][cell] > 0 || this.across[1][cell] > 0)) continue;
      goal[cell] = turn;
      ways[cell] = DIRECTIONS.indexOf(exit.dir);
      if (isBus && this.goalRows.length) continue;
      this.goalColumns.push(isBus ? ANY_COLUMN : cell % columns);
      this.goalRows.push(Math.floor(cell / columns));
    }
    heap.clear();
    for (const exit of first.exits) {
      const cell = this.cellAt(exit.x, exit.y);
      start[cell] = turn;
      const state = cell * 4 + DIRECTIONS.indexOf(exit.dir);
      const used = this.across[0][cell] + this.across[1][cell] > 0 && first.exits.length > 1;
      cost[state] = used ? USED_EXIT : 0;
      stamp[state] = turn;
      from[state] = -1;
      heap.push(state, cost[state] + this.least(cell));
    }
  }

  /**
   * The least that is left from a cell to an end: the way, and a bend unless it lies straight ahead.
   *
   * @param {number} cell
   */
  least(cell) {
    const { goalColumns, goalRows, columns } = this;
    const row = (cell / columns) | 0;
    const column = cell - row * columns;
    let least = Infinity;
    for (let k = 0; k < goalColumns.length; k++) {
      const across = goalColumns[k] === ANY_COLUMN ? 0 : Math.abs(goalColumns[k] - column);
      const down = Math.abs(goalRows[k] - row);
      const far = (across + down) * STEP + (across && down ? FIRST_BEND : 0);
      if (far < least) least = far;
    }
    return least;
  }

  /** Points of a wire on the grid. @param {number} id @returns {Point[] | null} */
  gridPoints(id) {
    const track = this.tracks.get(id);
    return track ? track.cells.map((cell) => this.pointOf(cell)) : null;
  }

  /**
   * Where tracks cross, and the cells that two of them share, with both their numbers.
   *
   * @returns {{crossings: number[], shared: {cell: number, ids: number[]}[]}}
   */
  meetings() {
    const n = this.body.length;
    const [first, axes] = [new Int16Array(n).fill(-1), new Uint8Array(n)];
    const crossings = [];
    const shared = [];
    for (const [id, { cells }] of this.tracks) {
      for (let k = 0; k < cells.length; k++) {
        const cell = cells[k];
        if (this.pin[cell] >= 0) continue;
        const axis = this.axisAt(cells, k - 1) | this.axisAt(cells, k);
        if (first[cell] < 0) {
          first[cell] = id;
          axes[cell] = axis;
        } else {
          if (axes[cell] & axis) shared.push({ cell, ids: [first[cell], id] });
          else crossings.push(cell);
          axes[cell] |= axis;
        }
      }
    }
    return { crossings, shared };
  }

  /** @param {number[]} cells @param {number} k */
  axisAt(cells, k) {
    if (k < 0 || k + 1 >= cells.length) return 0;
    return Math.abs(cells[k + 1] - cells[k]) === 1 ? 1 : 2;
  }
}
