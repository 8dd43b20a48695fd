import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import test from "node:test";

/** The chain as the server sends it; see reference/make_chain_cases.py. */
const { chain } = JSON.parse(readFileSync(new URL("reference/chain_cases.json", import.meta.url), "utf8"));
const CAUTION = "Start quiet.";
/** Longer than the page waits before it asks again, ms. */
const LATER_MS = 5000;

/** An element that knows its words. */
class Fake {
  /** @type {(Fake | string)[]} */
  kids = [];
  /** @type {Record<string, (event?: unknown) => void>} */
  on = {};
  options = [];
  append(/** @type {(Fake | string)[]} */ ...kids) {
    this.kids.push(...kids);
  }
  replaceChildren() {}
  setAttribute() {}
  toggleAttribute() {}
  querySelector() {}
  showModal() {}
  remove() {}
  addEventListener(/** @type {string} */ name, /** @type {() => void} */ act) {
    this.on[name] = act;
  }
  get childElementCount() {
    return 0;
  }
  /** @returns {string} */
  get textContent() {
    return this.kids.map((kid) => (kid instanceof Fake ? kid.textContent : kid)).join("");
  }
}
/** @type {Fake[]} */
let elements = [];
const create = () => {
  const element = new Fake();
  elements.push(element);
  return element;
};
Object.assign(globalThis, {
  window: globalThis,
  location: { protocol: "http:", host: "127.0.0.1" },
  document: { createElement: create, createElementNS: create, body: new Fake(), activeElement: null },
  Node: Fake,
  SVGElement: class {},
  WebSocket: class {
    close() {}
  },
});
const { createSession } = await import("../../web/js/session/session.js");
const { followSound } = await import("../../web/js/bench/hearing.js");
const { wayView } = await import("../../web/js/bench/way_view.js");

/** Let requests be answered. */
const settle = async () => {
  for (let turn = 0; turn < 10; turn++) await new Promise((done) => setImmediate(done));
};

/**
 * Open a bench that was last heard in driven.
 * @param {import("node:test").TestContext} t
 * @param {(() => Response | Promise<Response>)[]} answers  to the requests for the chain, one after another
 */
async function openBench(t, answers) {
  t.mock.timers.enable({ apis: ["setTimeout"] });
  elements = [];
  let asked = 0;
  Object.assign(globalThis, {
    fetch: async (/** @type {string} */ path) =>
      path === "/api/chain"
        ? answers[Math.min(asked++, answers.length - 1)]()
        : new Response("{}", { status: 404 }),
  });
  const slots = [{ version: "", edits: [], position: "", knobs: {}, switches: {} }];
  const session = createSession(/** @type {any} */ ({ id: "c", wirings: [] }), { way: "driven", slots });
  t.after(session.close);
  followSound(session);
  await settle();
  return {
    session,
    asked: () => asked,
    said: () => elements.map(({ textContent }) => textContent).join("\n"),
  };
}
const sent = () => Response.json({ ...chain, caution: CAUTION });
/** @param {number} status */
const refused = (status) => () =>
  Response.json({ problems: [{ where: "the chain", got: "", allowed: "", hint: "" }] }, { status });
const names = chain.ways.map((/** @type {{name: string}} */ { name }) => name);

const away = {
  "does not answer": () => Promise.reject(new TypeError("no network")),
  stumbles: refused(502),
};
for (const [what, failing] of Object.entries(away))
  test(`a server that ${what} is asked for the chain again, and the way stays`, async (t) => {
    const { session, asked } = await openBench(t, [failing, failing, sent]);
    for (const times of [1, 2]) {
      assert.equal(asked(), times);
      assert.equal(session.get().ways.length, 0);
      t.mock.timers.tick(LATER_MS);
      await settle();
    }
    assert.deepEqual(
      session.get().ways.map(({ name }) => name),
      names,
    );
    assert.equal(session.get().way, "driven");
  });

test("where the chain is refused the guitar is heard direct, and the page says so", async (t) => {
  const { session, asked, said } = await openBench(t, [refused(404)]);
  assert.equal(session.get().way, "direct");
  assert.match(said(), /You hear the guitar direct.*the chain\./);
  t.mock.timers.tick(LATER_MS);
  await settle();
  assert.equal(asked(), 1);
});

test("the dialog about the ways shows the server's cautions", async (t) => {
  const { session, said } = await openBench(t, [sent]);
  wayView(session);
  assert.doesNotMatch(said(), new RegExp(CAUTION));
  elements.find(({ textContent }) => textContent === "?")?.on.click();
  assert.match(said(), new RegExp(CAUTION));
});
