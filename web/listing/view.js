// The page: what is chosen, what is heard, what is shown of it.

const page = JSON.parse(document.getElementById("data").textContent);
const byId = (id) => document.getElementById(id);
const player = createPlayer();
const top_db = axisTop(page.clips);
const unique = (values) => [...new Set(values)];
const remembered = "presolder-volume";

const state = { take: page.clips[0].take, group: page.clips[0].group, position: page.clips[0].position };

/** Clips of the chosen take and knobs: those a flip leads to. */
const currentSet = () => page.clips.filter((one) => one.take === state.take && one.group === state.group);
const currentClip = () => currentSet().find((one) => one.position === state.position) ?? currentSet()[0];

/** Stands of the knobs that a take was rendered with. */
const groupsOf = (take) => unique(page.clips.filter((one) => one.take === take).map((one) => one.group));

function radio(name, value, checked, words) {
  const label = document.createElement("label");
  label.className = "pick";
  const input = document.createElement("input");
  Object.assign(input, { type: "radio", name, value, checked });
  label.append(input, ...words);
  return label;
}

function word(tag, text) {
  const node = document.createElement(tag);
  node.textContent = text;
  return node;
}

const number = (value, digits, unit) =>
  value === null ? "none" : `${value.toFixed(digits).replace("-", "−")} ${unit}`;

function fillChips(id, values, current) {
  const box = byId(id);
  box.hidden = values.length < 2;
  box
    .querySelector(".chips")
    .replaceChildren(...values.map((value) => radio(id, value, value === current, [word("span", value)])));
}

function positionRow(clip) {
  const words = [word("b", clip.position), word("span", clip.label || `Position ${clip.position}`)];
  if (!page.matched) words.push(word("i", number(clip.loudness_lufs, 1, "LUFS")));
  return radio("positions", clip.position, clip === currentClip(), words);
}

function fillPositions() {
  byId("positions")
    .querySelector(".rows")
    .replaceChildren(...currentSet().map(positionRow));
}

function fact(name, text) {
  return [word("dt", name), word("dd", text)];
}

function show() {
  const clip = currentClip();
  byId("places").textContent = `Coil places: ${clip.places}.`;
  byId("heading").textContent = `${clip.position}  ${clip.label}`.trim();
  byId("stands").textContent = clip.stands.replaceAll(" ", ", ").replaceAll("=", " ");
  showPlot();
  const off =
    clip.design_error_db < 0.001 ? "less than 0.001 dB" : `${clip.design_error_db.toFixed(3)} dB at most`;
  const filters = clip.meets ? off : `${off}: more than they should`;
  byId("facts").replaceChildren(
    ...fact("Level", clip.level),
    ...fact("Loudness", number(clip.loudness_lufs, 1, "LUFS")),
    ...fact("True peak", number(clip.true_peak_dbtp, 1, "dBTP")),
    ...fact("Filters off the circuit by", filters),
  );
  byId("end").textContent = `${clip.seconds.toFixed(1)} s`;
  drawWave();
}

function showPlot() {
  const box = byId("plot");
  box.replaceChildren(drawPlot(page.hz, currentClip(), currentSet(), top_db, box.clientWidth));
}

function drawWave() {
  const canvas = byId("wave");
  const buffer = player.bufferOf(currentClip());
  const scale = window.devicePixelRatio || 1;
  canvas.width = canvas.clientWidth * scale;
  canvas.height = canvas.clientHeight * scale;
  const pen = canvas.getContext("2d");
  const style = getComputedStyle(document.documentElement);
  const samples = buffer ? buffer.getChannelData(0) : new Float32Array(1);
  const columns = Math.max(Math.floor(canvas.width / (3 * scale)), 1);
  const heights = Array.from({ length: columns }, (_, i) => {
    let most = 0;
    const stop = Math.floor(((i + 1) * samples.length) / columns);
    for (let k = Math.floor((i * samples.length) / columns); k < stop; k += 7)
      most = Math.max(most, Math.abs(samples[k]));
    return most;
  });
  const peak = Math.max(...heights, 1e-6);
  const played = player.length ? player.place() / player.length : 0;
  heights.forEach((height, i) => {
    const tall = Math.max((height / peak) * canvas.height, scale);
    pen.fillStyle = style.getPropertyValue(i / columns < played ? "--copper" : "--other");
    pen.fillRect(i * 3 * scale, (canvas.height - tall) / 2, 2 * scale, tall);
  });
}

function say(text) {
  byId("status").textContent = text;
}

async function sound(act) {
  const clip = currentClip();
  if (!player.bufferOf(clip)) say("Loading …");
  try {
    await act(clip, currentSet());
    say(player.playing ? `Playing: ${clip.take}, position ${clip.position} ${clip.label}` : "");
  } catch (error) {
    player.pause();
    say(`Not played: ${error.message}`);
  }
  showPlaying();
  drawWave();
}

function showPlaying() {
  byId("play").classList.toggle("on", player.playing);
  byId("play").setAttribute("aria-label", player.playing ? "Pause" : "Play");
}

function toggle() {
  if (player.playing) {
    player.pause();
    say("");
    showPlaying();
  } else {
    sound((clip, set) => player.play(clip, set));
  }
}

function follow() {
  const at = player.place();
  if (player.playing && player.length) {
    byId("seek").value = String(Math.round((1000 * at) / player.length));
    byId("now").textContent = `${at.toFixed(1)} s`;
    drawWave();
  }
  requestAnimationFrame(follow);
}

function chosen(event) {
  state[{ takes: "take", groups: "group", positions: "position" }[event.target.name]] = event.target.value;
  const groups = groupsOf(state.take);
  if (!groups.includes(state.group)) state.group = groups[0];
  state.position = currentClip().position;
  if (event.target.name === "takes") fillChips("groups", groups, state.group);
  if (event.target.name !== "positions") fillPositions();
  show();
  if (player.playing) sound((clip, set) => player.choose(clip, set));
}

function keyed(event) {
  const onControl = event.target.closest("button, a, summary, input[type=range]");
  if (event.key === " " && !onControl && !event.ctrlKey && !event.metaKey && !event.altKey) {
    event.preventDefault();
    toggle();
  }
}

function recall() {
  try {
    const kept = Number(localStorage.getItem(remembered) ?? "40");
    return kept >= 0 && kept <= 100 ? kept : 40;
  } catch {
    return 40; // a page opened as a file may have no memory
  }
}

function setVolume() {
  const value = byId("volume").value;
  player.setVolume(Number(value) / 100);
  try {
    localStorage.setItem(remembered, value);
  } catch {
    // no memory, no harm
  }
}

function start() {
  byId("listen").hidden = false;
  document.querySelector(".files").open = false;
  byId("volume").value = String(recall());
  player.setVolume(recall() / 100);
  fillChips("takes", unique(page.clips.map((one) => one.take)), state.take);
  fillChips("groups", groupsOf(state.take), state.group);
  fillPositions();
  show();
  for (const id of ["takes", "groups", "positions"]) byId(id).addEventListener("change", chosen);
  byId("play").addEventListener("click", toggle);
  byId("volume").addEventListener("input", setVolume);
  byId("seek").addEventListener("change", (event) => {
    const to = (Number(event.target.value) / 1000) * (player.length || currentClip().seconds);
    sound((clip, set) => player.seek(to, clip, set));
  });
  document.addEventListener("keydown", keyed);
  window.addEventListener("resize", () => {
    drawWave();
    showPlot();
  });
  follow();
}

start();
