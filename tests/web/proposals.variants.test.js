/** A wish that becomes a sound, as the bench shows it while it is made. */

import assert from "node:assert/strict";
import { beforeEach, test } from "node:test";
import { find, press, settle, tell } from "./page_help.js";
import { bringAnswer } from "../../web/js/proposals/answers.js";
import { farthestViews, proposalsList } from "../../web/js/proposals/list.js";
import { variantView } from "../../web/js/proposals/variants.js";

const page = () => globalThis.document.body;
const shares = () =>
  page()
    .querySelectorAll(".making")
    .map((one) => [one.children[0].textContent, one.children[1].value]);
const answer = (/** @type {number | null} */ making, more = {}) => ({
  sha256: "a1",
  title: "Yours",
  sent: "2026-03-01T10:00:00Z",
  written: "2026-03-02T10:00:00Z",
  received: "2026-03-03T10:00:00Z",
  items: [{ number: 1, label: "Neck" }],
  favourites: [],
  notes: [],
  wishes: [{ number: 1, knobs: { tone: 3 }, sound: null, making, label: "", problem: "", ...more }],
  signature: null,
  warnings: [],
  state: "open",
});

beforeEach(() => {
  page().replaceChildren();
  globalThis.IntersectionObserver = class {
    observe() {}
    disconnect() {}
  };
});

test("a refusal stands beside the button, where a dialog does not hide it", async () => {
  const refuse = async () => Promise.reject(new Error("this proposal: got 40 sounds already."));
  page().append(variantView({ state: "open" }, {}, "w", "“tone 3”", refuse));
  press(page(), "Make it a sound");
  await settle();
  const told = find(page(), "p", "role", "alert");
  assert.equal(told.textContent, "this proposal: got 40 sounds already.");
  assert.equal(told.parent, find(page(), "button").parent);
  press(page(), "Make it a sound");
  assert.equal(told.textContent, "", "gone while it is asked again");
});

test("progress changes its bar and words alone, and is not read aloud", async () => {
  globalThis.fetch = async () => ({ ok: true, status: 200, json: async () => answer(0) });
  const { element, update } = bringAnswer(() => {});
  page().append(element);
  find(page(), "textarea").value = "presolder1.x";
  tell(find(page(), "form"), "submit");
  await settle();
  const status = find(page(), "p", "role", "status"),
    words = status.textContent,
    [view] = page().querySelectorAll(".answer"),
    button = find(view, "button");
  assert.match(words, /^An answer to “Yours”/);
  button.focus();
  update([answer(0.25)]);
  update([answer(0.5)]);
  assert.deepEqual(shares(), [["Making the sound: 50 %", 0.5]]);
  assert.equal(find(page(), "button", "class", "small"), button);
  assert.equal(globalThis.document.activeElement, button);
  assert.equal(status.textContent, words);
  for (let at = button; at; at = at.parent) assert.notEqual(at.getAttribute("role"), "status");
  update([answer(null, { sound: 4, label: "Neck, turned to tone 3" })]);
  assert.deepEqual(shares(), []);
  assert.match(page().textContent, /It is sound 4, “Neck, turned to tone 3”\./);
});

test("the list of proposals is not drawn anew for progress", () => {
  const wish = (/** @type {number} */ making) => ({ id: "w", number: 1, knobs: { tone: 3 }, making });
  const row = (/** @type {number} */ making, title = "Yours") => ({
    id: "p",
    title,
    created: "2026-03-01T10:00:00Z",
    state: "open",
    items: [{ number: 1, label: "Neck" }],
    after: Math.round(100 * making),
    wishes: [wish(making)],
    answers: [answer(making / 2)],
  });
  let proposals = [row(0.2)],
    show = () => {};
  const session = {
    get: () => ({ proposals }),
    on: (_, then) => {
      show = then;
      return () => {};
    },
  };
  page().append(proposalsList(session, () => {}, () => {}).element); // prettier-ignore
  const [drawn] = page().querySelectorAll(".proposal");
  proposals = [row(0.8)];
  show();
  assert.equal(page().querySelectorAll(".proposal")[0], drawn);
  assert.deepEqual(shares(), [
    ["Making the sound: 80 %", 0.8],
    ["Making the sound: 40 %", 0.4],
  ]);
  proposals = [row(0.8, "Hers")];
  show();
  assert.notEqual(page().querySelectorAll(".proposal")[0], drawn);
});

test("the farthest two that were not made are tried again while the link is open", async () => {
  const asked = [];
  globalThis.fetch = async (path, { method }) => {
    asked.push(`${method} ${path}`);
    return new Response("{}", { status: 200 });
  };
  const row = {
    ...{ id: "p", wirings: [{ number: 1, name: "Bright" }] },
    farthest: [{ wiring: 1, making: null, problem: "no room" }],
    state: "open",
  };
  let reloads = 0;
  const [view] = farthestViews(row, () => (reloads += 1));
  assert.match(view.textContent, /“Bright” were not made: no room/);
  press(view, "Try again");
  assert.throws(() => press(view, "Try again"), /is disabled/);
  await settle();
  assert.deepEqual([asked, reloads], [["POST /api/proposals/p/farthest/1"], 1]);
  const [ended] = farthestViews({ ...row, state: "expired" }, () => {});
  assert.throws(() => press(ended, "Try again"), /is hidden/);
});
