/**
 * Wires from lug to lug. A joint is a set of terminals; what is soldered is a tree of wires with two ends
 * each, and never a T in the air.
 */

import { partOf } from "./grid.js";
import { isLead } from "./place.js";

/** @import {PartFacts, Placed, PlacedLug, Run, Wire, WiringFacts} from "./types.js" */

/** What one more wire on a lug costs, as length: at most three in the usual wirings. */
const CROWD = 55;
const CASING_CROWD = 8;
/** More wires than this do not get away from a lug; the next one costs so much that it goes elsewhere. */
const MOST_WIRES = 3;
const FULL = 900;
/** A lead that is spliced to another, because the lug is full. */
const SPLICED = 60;
/** A leg goes to a control rather than to the jack, which hangs on its cable. */
const JACK_LEG = 400;
/** Neighbouring lugs of a switch this near are tied with a short bare wire. */
const TIE = 52;
/** Leads of one housing this near are twisted together and run as one. */
const TWIST = 45;

/** The name of the bare wire that collects the grounds. */
export const BUS = "bus.";

/** @param {string} terminal */
const isCasing = (terminal) => terminal.endsWith(".casing");

/** @param {PlacedLug} p @param {PlacedLug} q */
const distance = (p, q) => {
  if (p.terminal === BUS || q.terminal === BUS) return Math.abs(p.y - q.y);
  return Math.abs(p.x - q.x) + Math.abs(p.y - q.y);
};

/** @param {PlacedLug} p @param {PlacedLug} q @param {string} type @param {number} reach */
const isNear = (p, q, type, reach) =>
  p.item === q.item && p.item.shape.type === type && Math.hypot(p.x - q.x, p.y - q.y) <= reach;

/** @param {PlacedLug} p @param {PlacedLug} q */
const isTie = (p, q) => isNear(p, q, "switch", TIE) && !isBetween(p, q);

/** Another lug lies between two of a column. @param {PlacedLug} p @param {PlacedLug} q */
function isBetween(p, q) {
  if (p.x !== q.x) return false;
  return p.item.lugs.some((one) => one.x === p.x && (one.y - p.y) * (one.y - q.y) < 0);
}

/**
 * Return every wire and ground stub of a wiring.
 *
 * With grounds folded each of their terminals has a stub. Otherwise they run to each other, to the casings
 * and to the bus wire, if it is placed.
 *
 * @param {WiringFacts} facts @param {Placed} placed @param {{folded: boolean}} options
 * @returns {Wire[]}
 */
export function wiresOf(facts, placed, { folded }) {
  const named = new Map(facts.parts.map((part) => [part.name, part]));
  const metal = folded ? [] : [...placed.lugs.keys()].filter((one) => isCasing(one) || one === BUS);
  return facts.joints.flatMap((joint, number) => {
    const here = joint.filter((terminal) => placed.lugs.has(terminal));
    if (joint.length < 2) return [];
    if (number === facts.ground && folded) return here.map((a) => wire(number, a, null, "stub"));
    const more = number === facts.ground ? metal : [];
    return new JointTree(number, named, placed).grow(here, more, facts.runs);
  });
}

/**
 * Return the wires of the ground joint from lug to lug, without metal that the file does not name.
 *
 * @param {WiringFacts} facts @param {Placed} placed @returns {Wire[]}
 */
export function groundRuns(facts, placed) {
  const joint = facts.joints[facts.ground] ?? [];
  const here = joint.filter((terminal) => placed.lugs.has(terminal));
  const named = new Map(facts.parts.map((part) => [part.name, part]));
  if (here.length < 2) return [];
  return new JointTree(facts.ground, named, placed).grow(here, [], facts.runs);
}

/** @param {number} joint @param {string} a @param {string | null} b @param {Run} run @returns {Wire} */
function wire(joint, a, b, run) {
  const [first, last] = a === BUS && b !== null ? [b, a] : [a, b];
  return { joint, a: first, b: last, run, key: `${first}~${last ?? ""}` };
}

/** The tree of one joint while it grows. */
class JointTree {
  /** @param {number} joint @param {Map<string, PartFacts>} named @param {Placed} placed */
  constructor(joint, named, placed) {
    this.joint = joint;
    this.named = named;
    this.placed = placed;
    /** @type {Map<string, number>} */
    this.degree = new Map();
    /** @type {Wire[]} */
    this.wires = [];
  }

  /** @param {string} terminal */
  lug(terminal) {
    return /** @type {PlacedLug} */ (this.placed.lugs.get(terminal));
  }

  /** @param {string} terminal */
  part(terminal) {
    return this.named.get(partOf(terminal));
  }

  /** @param {string} terminal */
  isLead(terminal) {
    const part = this.part(terminal);
    return part !== undefined && isLead(part);
  }

  /**
   * The runs that the technician soldered come first; one that would close a loop is left out.
   *
   * @param {string[]} terminals @param {string[]} metal @param {[string, string][]} wished @returns {Wire[]}
   */
  grow(terminals, metal, wished) {
    for (const [a, b] of wished) {
      if (!terminals.includes(a) || !terminals.includes(b) || this.side(a).has(b)) continue;
      this.addWire(a, b, this.runOf(a, b));
    }
    const hubs = [...terminals.filter((one) => !this.isLead(one)), ...metal];
    const leads = terminals.filter((one) => this.isLead(one));
    if (hubs.length) {
      this.joinHubs(hubs);
      for (const lead of this.twisted(leads.filter((one) => !this.side(hubs[0]).has(one)))) {
        if (!this.side(hubs[0]).has(lead)) this.attach(hubs, lead, leads);
      }
    } else if (leads.length > 1) {
      const hub = leads.reduce((x, y) => (this.sum(x, leads) <= this.sum(y, leads) ? x : y));
      for (const lead of leads) if (!this.side(hub).has(lead)) this.addWire(hub, lead, "splice");
    }
    return this.wires;
  }

  /**
   * Run a lead to the nearest lug; where all are full, to a lead that runs there.
   *
   * @param {string[]} hubs @param {string} lead @param {string[]} leads
   */
  attach(hubs, lead, leads) {
    const hub = this.nearestHub(hubs, lead);
    const joined = this.side(hubs[0]);
    const mates = leads.filter((one) => joined.has(one) && !this.isTwisted(one));
    /** @param {string} mate */
    const price = (mate) => distance(this.lug(mate), this.lug(lead)) + this.crowd(mate) + SPLICED;
    const [mate] = mates.sort((p, q) => price(p) - price(q));
    if (mate && this.crowd(hub) >= FULL && price(mate) < this.hubCost(hub, lead)) {
      this.addWire(mate, lead, "splice");
    } else this.addWire(hub, lead, "wire");
  }

  /** A lead that ends in a twist at its pickup. @param {string} lead */
  isTwisted(lead) {
    return this.wires.some(({ run, b }) => run === "twist" && b === lead);
  }

  /** The terminals that are joined to one so far, itself included. @param {string} terminal */
  side(terminal) {
    const found = new Set([terminal]);
    for (const one of found) {
      for (const { a, b } of this.wires) {
        if (a === one && b !== null) found.add(b);
        if (b === one) found.add(a);
      }
    }
    return found;
  }

  /** How two terminals are joined. @param {string} a @param {string} b @returns {Run} */
  runOf(a, b) {
    if (isTie(this.lug(a), this.lug(b))) return "tie";
    if (isNear(this.lug(a), this.lug(b), "pickup", TWIST)) return "twist";
    return this.isLead(a) && this.isLead(b) ? "splice" : "wire";
  }

  /** The shortest tree, grown from the first lug, with crowded lugs made dear. @param {string[]} hubs */
  joinHubs(hubs) {
    let done = hubs.filter((one) => this.side(hubs[0]).has(one));
    let left = hubs.filter((one) => !done.includes(one));
    while (left.length) {
      let best = { a: done[0], b: left[0], cost: Infinity };
      for (const a of done) {
        for (const b of left) {
          const cost = this.cost(a, b);
          if (cost < best.cost) best = { a, b, cost };
        }
      }
      const joined = this.side(best.b);
      this.addWire(best.a, best.b, isTie(this.lug(best.a), this.lug(best.b)) ? "tie" : "wire");
      done = [...done, ...left.filter((one) => joined.has(one))];
      left = left.filter((one) => !joined.has(one));
    }
  }

  /** @param {string} a @param {string} b */
  cost(a, b) {
    const [p, q] = [this.lug(a), this.lug(b)];
    if (isTie(p, q)) return distance(p, q) * 0.4 - 40;
    const metal = isCasing(a) || isCasing(b) ? -60 : 0;
    return distance(p, q) + metal + this.crowd(a);
  }

  /** @param {string} terminal */
  crowd(terminal) {
    if (terminal === BUS) return 0;
    const wires = this.degree.get(terminal) ?? 0;
    if (isCasing(terminal)) return CASING_CROWD * wires;
    return CROWD * wires + (wires >= MOST_WIRES ? FULL * (wires - MOST_WIRES + 1) : 0);
  }

  /** Twist leads of one housing together; return those that are run. @param {string[]} leads */
  twisted(leads) {
    /** @type {string[]} */
    const alone = [];
    for (const lead of leads) {
      const mate = alone.find((one) => isNear(this.lug(one), this.lug(lead), "pickup", TWIST));
      if (mate === undefined) alone.push(lead);
      else if (!this.side(mate).has(lead)) this.wires.push(wire(this.joint, mate, lead, "twist"));
    }
    return alone;
  }

  /** @param {string[]} hubs @param {string} lead */
  nearestHub(hubs, lead) {
    return hubs.reduce((x, y) => (this.hubCost(x, lead) <= this.hubCost(y, lead) ? x : y));
  }

  /** @param {string} hub @param {string} lead */
  hubCost(hub, lead) {
    const isLeg = this.part(lead)?.kind !== "coil";
    return this.cost(hub, lead) + (isLeg && this.part(hub)?.kind === "jack" ? JACK_LEG : 0);
  }

  /** @param {string} from @param {string[]} leads */
  sum(from, leads) {
    return leads.reduce((sum, lead) => sum + distance(this.lug(from), this.lug(lead)), 0);
  }

  /** @param {string} a @param {string} b @param {Run} run */
  addWire(a, b, run) {
    this.wires.push(wire(this.joint, a, b, run));
    if (run === "tie" || run === "twist") return;
    for (const end of [a, b]) this.degree.set(end, (this.degree.get(end) ?? 0) + 1);
  }
}
