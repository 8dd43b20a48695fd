/** A queue of numbers, the one with the least cost first. */

export class Heap {
  constructor() {
    this.size = 0;
    this.items = new Int32Array(1024);
    this.costs = new Float64Array(1024);
  }

  clear() {
    this.size = 0;
  }

  /** @param {number} item @param {number} cost */
  push(item, cost) {
    if (this.size === this.items.length) this.grow();
    const { items, costs } = this;
    let at = this.size++;
    while (at > 0) {
      const above = (at - 1) >> 1;
      if (costs[above] <= cost) break;
      items[at] = items[above];
      costs[at] = costs[above];
      at = above;
    }
    items[at] = item;
    costs[at] = cost;
  }

  /** Take out the item with the least cost. */
  pop() {
    const { items, costs } = this;
    const first = items[0];
    const last = --this.size;
    const item = items[last];
    const cost = costs[last];
    let at = 0;
    for (;;) {
      let below = 2 * at + 1;
      if (below >= last) break;
      if (below + 1 < last && costs[below + 1] < costs[below]) below++;
      if (costs[below] >= cost) break;
      items[at] = items[below];
      costs[at] = costs[below];
      at = below;
    }
    items[at] = item;
    costs[at] = cost;
    return first;
  }

  grow() {
    const items = new Int32Array(2 * this.size);
    const costs = new Float64Array(2 * this.size);
    items.set(this.items);
    costs.set(this.costs);
    this.items = items;
    this.costs = costs;
  }
}
