// The response plot: every position's curve, the chosen one in front.

const PLOT = {
  width: 640,
  least: 280,
  height: 320,
  left: 42,
  right: 10,
  top: 14,
  bottom: 28,
  span: 48,
  step: 12,
};
const MARKS_HZ = [50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000];
const WIDE_MARKS_HZ = [50, 200, 1000, 5000, 20000];
const SVG = "http://www.w3.org/2000/svg";

function shape(name, attributes, text) {
  const node = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) node.setAttribute(key, value);
  if (text !== undefined) node.textContent = text;
  return node;
}

const plotX = (hz) => PLOT.left + (Math.log10(hz / 20) / 3) * (PLOT.width - PLOT.left - PLOT.right);

function plotY(level, top) {
  const share = Math.min(Math.max((top - level) / PLOT.span, 0), 1);
  return PLOT.top + share * (PLOT.height - PLOT.top - PLOT.bottom);
}

/** Highest level of the axis, dB, the same for all curves of a page. */
function axisTop(clips) {
  const highest = Math.max(...clips.map((clip) => Math.max(...clip.levels_db)));
  return PLOT.step * Math.ceil((highest + 2) / PLOT.step);
}

function path(hz, levels, top) {
  let text = "";
  hz.forEach((f, i) => {
    if (levels[i] < top - PLOT.span) return;
    text += `${text === "" ? "M" : "L"}${plotX(f).toFixed(1)} ${plotY(levels[i], top).toFixed(1)}`;
  });
  return text;
}

function grid(svg, top) {
  for (let level = top - PLOT.span; level <= top; level += PLOT.step) {
    const y = plotY(level, top);
    svg.append(shape("line", { class: "grid", x1: PLOT.left, x2: PLOT.width - PLOT.right, y1: y, y2: y }));
    const text = level > 0 ? `+${level}` : `${level}`.replace("-", "−");
    svg.append(shape("text", { x: PLOT.left - 6, y: y + 4, "text-anchor": "end" }, text));
  }
  for (const hz of MARKS_HZ) {
    const x = plotX(hz);
    svg.append(shape("line", { class: "grid", x1: x, x2: x, y1: PLOT.top, y2: PLOT.height - PLOT.bottom }));
    if (PLOT.width < 480 && !WIDE_MARKS_HZ.includes(hz)) continue;
    const text = hz < 1000 ? `${hz}` : `${hz / 1000} k`;
    const anchor = hz === 20000 ? "end" : "middle";
    svg.append(shape("text", { x, y: PLOT.height - 10, "text-anchor": anchor }, text));
  }
  svg.append(shape("text", { x: PLOT.left + 6, y: PLOT.top + 14 }, "dB re EMF over Hz"));
}

/** An SVG of one clip's curve in front of those of its set, as wide as the room there is: its letters keep their size. */
function drawPlot(hz, mine, set, top, room) {
  PLOT.width = Math.max(room, PLOT.least);
  const name = `Response of position ${mine.position}: ${mine.label}`;
  const svg = shape("svg", { viewBox: `0 0 ${PLOT.width} ${PLOT.height}`, role: "img", "aria-label": name });
  grid(svg, top);
  for (const clip of set) {
    if (clip !== mine) svg.append(shape("path", { d: path(hz, clip.levels_db, top) }));
  }
  svg.append(shape("path", { class: "mine", d: path(hz, mine.levels_db, top) }));
  return svg;
}
