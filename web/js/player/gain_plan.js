/**
 * Gains that move along lines. Engines differ in whether a gain tells where it stands, so what is planned is
 * kept here.
 */

/** Lines from point to point, each a time and a gain. @type {WeakMap<GainNode, number[][]>} */
const plans = new WeakMap();

/** Where a gain stands. @param {GainNode} node @param {number} now */
export function gainAt(node, now) {
  const plan = plans.get(node) ?? [[0, node.gain.value]],
    k = plan.filter(([time]) => time <= now).length,
    [start, from] = plan[k - 1],
    [end, next] = plan[k] ?? [Infinity, 0];
  return from + ((next - from) * (now - start)) / (end - start);
}

/**
 * Drop what is planned, and go from point to point.
 * @param {GainNode} node @param {number[][]} plan times and gains, now first
 */
export function follow(node, plan) {
  const { gain } = node,
    [[now, value], ...points] = plan;
  plans.set(node, plan);
  gain.cancelScheduledValues(now);
  gain.setValueAtTime(value, now);
  for (const [time, to] of points) if (time < Infinity) gain.linearRampToValueAtTime(to, time);
}

/** Go to a gain. @param {GainNode} node @param {number} to @param {number} seconds */
export function ramp(node, to, seconds) {
  const now = node.context.currentTime;
  follow(node, [
    [now, gainAt(node, now)],
    [now + seconds, to],
  ]);
}
