/** The form for a new listing, with its plan. The browser remembers the form for the next listing. */

import * as api from "./api.js";
import { examineTakes, listCommissions, listTakes } from "../shared/lists.js";
import { latest } from "../shared/latest.js";
import { FORMATS, NAMES, planInWords, recallForm, orderOf } from "./words.js";
import { plainName, takeLine } from "../shared/words.js";
import { choice, h, say } from "../shared/dom.js";
import { instrumentsView } from "./instruments.js";
import { textField } from "./for_buyers.js";
import { settingsView } from "./settings.js";
import { toast } from "../shared/notices.js";

/** @import {Form, FormField, FormFields, ListingPlan} from "./words.js" */
/** @import {CommissionRow, Take} from "../shared/types.js" */

const SHELF = "presolder.listing";
const SPACING_MS = 250;

/** @param {string | null} from a commission to start with @param {AbortSignal} signal */
export async function newListingView(from, signal) {
  const [commissions, takes, fields] = await Promise.all([
    listCommissions("", false),
    listTakes(),
    api.listFormFields(),
  ]);
  const form = recall(commissions, takes, from);
  const newest = new Map(
    commissions.flatMap(({ wirings }) =>
      wirings.map(({ id, version }) => /** @type {[string, string]} */ ([id, version])),
    ),
  );
  const planned = h("p", { class: "spread", role: "status" }),
    problem = h("p", { class: "problem", role: "alert" }),
    go = h("button", { class: "main" }, "Start");
  const plan = latest(
    async () => {
      const { order, problem: wrong } = orderOf(form, newest);
      /** @type {ListingPlan | undefined} */
      let found;
      if (order.wirings.length && order.takes.length) found = await api.planListing(order, signal);
      say(planned, wrong || (found ? planInWords(found) : ""));
      planned.classList.toggle("soft", Boolean(wrong));
      go.disabled = Boolean(wrong) || !found?.clips;
      say(problem, "");
      instruments.show(new Map((found?.instruments ?? []).map((one) => [one.version, one])));
      if (found) settings.show(hasOf(found));
    },
    {
      spacing: SPACING_MS,
      failed: (error) => {
        if (!signal.aborted) {
          go.disabled = true;
          say(planned, error instanceof Error ? error.message : String(error));
        }
      },
    },
  );
  const changed = () => {
    keep(form);
    plan();
  };
  const instruments = instrumentsView(commissions, fields.sale, form, changed),
    settings = settingsView(form, changed);
  const element = h(
    "form",
    {
      class: "new-listing",
      onsubmit: async (/** @type {Event} */ event) => {
        event.preventDefault();
        go.disabled = true;
        try {
          const { order } = orderOf(form, newest);
          await api.startListing(order);
          toast(`“${order.title}” is in the queue. It runs in the background.`);
          location.hash = "#/listings";
        } catch (error) {
          say(problem, error instanceof Error ? error.message : String(error));
          go.disabled = false;
        }
      },
    },
    titleField(form, changed),
    instruments.element,
    takesField(takes, form, changed, signal),
    settings.element,
    filesField(form, changed),
    hearingField(fields, form, changed),
    loudnessField(aboutOf(fields, "limit"), form, changed),
    namesField(form, changed),
    webFields(fields.listing, form, changed),
    h("div", { class: "start" }, planned, go, problem),
  );
  plan();
  return h(
    "main",
    { class: "view narrow", id: "main" },
    h(
      "div",
      { class: "list-head" },
      h("h1", {}, "New listing"),
      h("a", { class: "button", href: "#/listings" }, "Back to the listings"),
    ),
    commissions.some(({ wirings }) => wirings.length)
      ? element
      : h(
          "div",
          { class: "empty" },
          h("h2", {}, "No wirings yet"),
          h("p", { class: "soft" }, "A listing renders the wirings of your commissions."),
          h("a", { class: "button main", href: "#/" }, "To the commissions"),
        ),
  );
}

/** Knobs and switches of the chosen instruments. @param {ListingPlan} plan */
function hasOf({ instruments }) {
  /** @type {Record<string, string[]>} */
  const switches = {};
  for (const one of instruments)
    for (const [name, stands] of Object.entries(one.switches))
      switches[name] = [...new Set([...(switches[name] ?? []), ...stands])];
  return { knobs: [...new Set(instruments.flatMap(({ knobs }) => knobs))], switches };
}

/** @param {Form} form @param {() => void} changed */
function titleField(form, changed) {
  const input = h("input", {
    type: "text",
    maxlength: 200,
    value: form.title,
    placeholder: "Listing",
    oninput: () => {
      form.title = input.value;
      changed();
    },
  });
  return h("label", { class: "field" }, h("span", {}, "Name"), input);
}

/**
 * A box to tick, with its words.
 * @param {string[]} chosen changed in place @param {string} value @param {() => void} changed
 * @param {...(Node | string)} words
 */
function tick(chosen, value, changed, ...words) {
  const box = h("input", {
    type: "checkbox",
    checked: chosen.includes(value),
    onchange: () => {
      const place = chosen.indexOf(value);
      if (box.checked && place < 0) chosen.push(value);
      else if (!box.checked && place >= 0) chosen.splice(place, 1);
      changed();
    },
  });
  return h("label", {}, box, h("span", { class: "words" }, ...words));
}

/** @param {Take[]} takes @param {Form} form @param {() => void} changed @param {AbortSignal} signal */
function takesField(takes, form, changed, signal) {
  const rows = new Map(takes.map((one) => [one.id, one])),
    lines = new Map(takes.map((one) => [one.id, h("small", { class: "soft" }, takeLine(one))]));
  examineTakes({
    takes: () => [...rows.values()],
    found: (row) => {
      rows.set(row.id, row);
      const line = lines.get(row.id);
      if (line) say(line, takeLine(row));
    },
    signal,
  }).catch(reportError);
  return h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Takes"),
    h(
      "div",
      { class: "ticks" },
      ...takes.map((one) =>
        tick(form.takes, one.id, changed, one.name, " ", /** @type {HTMLElement} */ (lines.get(one.id))),
      ),
    ),
  );
}

/** @param {Form} form @param {() => void} changed */
const filesField = (form, changed) =>
  h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Files"),
    h(
      "div",
      { class: "ticks" },
      ...FORMATS.map(({ format, label, about }) =>
        tick(form.formats, format, changed, label, " ", h("small", { class: "soft" }, about)),
      ),
    ),
  );

/** What a field of the listing file does, in words. @param {FormFields} fields @param {string} field */
const aboutOf = ({ hearing }, field) => hearing.find(({ name }) => name === field)?.about ?? "";

/** @param {string} limiting what a limiter does @param {Form} form @param {() => void} changed */
function loudnessField(limiting, form, changed) {
  const lufs = h("input", {
    type: "text",
    inputmode: "decimal",
    maxlength: 6,
    value: form.lufs,
    "aria-label": "LUFS",
    oninput: () => {
      form.lufs = lufs.value;
      changed();
    },
  });
  const about = h("p", { class: "soft small" }),
    wanted = h("label", { class: "lufs" }, lufs, h("span", {}, "LUFS"));
  const box = h("input", {
      type: "checkbox",
      checked: form.limit,
      onchange: () => {
        form.limit = box.checked;
        changed();
      },
    }),
    limit = h(
      "label",
      {},
      box,
      h("span", { class: "words" }, "Limiter ", h("small", { class: "soft" }, limiting)),
    );
  const show = () => {
    wanted.hidden = limit.hidden = !form.matched;
    about.textContent = form.matched
      ? "Every clip is equally loud, so that you compare sounds, not levels. The page names clips whose peaks prevent it."
      : "One gain for all clips of an instrument keeps the true differences between its positions.";
  };
  const way = choice(
    "Loudness",
    [
      { value: "matched", label: "Equally loud" },
      { value: "wired", label: "As wired" },
    ],
    form.matched ? "matched" : "wired",
    (value) => {
      form.matched = value === "matched";
      show();
      changed();
    },
  );
  show();
  return h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Loudness"),
    h("div", { class: "row" }, way.element, wanted),
    h("div", { class: "ticks" }, limit),
    about,
  );
}

/** @param {FormFields} fields @param {Form} form @param {() => void} changed */
function hearingField(fields, form, changed) {
  const { ways, rooms } = fields;
  if (!ways.some(({ name }) => name === form.through)) form.through = ways[0].name;
  const about = h("p", { class: "soft small" });
  const show = () =>
    say(about, `${plainName(form.through)}: ${ways.find(({ name }) => name === form.through)?.about}.`);
  const way = choice(
    "Heard",
    ways.map(({ name }) => ({ value: name, label: plainName(name) })),
    form.through,
    (value) => {
      form.through = value;
      show();
      changed();
    },
  );
  show();
  if (!rooms.some(({ name }) => name === form.hum.room)) form.hum.room = "";
  const mains = h(
    "select",
    {
      "aria-label": "Mains frequency",
      onchange: () => {
        form.hum.mains = Number(mains.value);
        changed();
      },
    },
    ...fields.mains.map(({ hz, about: words }) => h("option", { value: String(hz) }, words)),
  );
  if (!fields.mains.some(({ hz }) => hz === form.hum.mains)) form.hum.mains = fields.mains[0].hz;
  mains.value = String(form.hum.mains);
  mains.hidden = !form.hum.room;
  const room = h(
    "select",
    {
      "aria-label": "Hum",
      title: aboutOf(fields, "hum"),
      onchange: () => {
        form.hum.room = room.value;
        mains.hidden = !form.hum.room;
        changed();
      },
    },
    h("option", { value: "" }, "no hum"),
    ...rooms.map(({ name, about: words }) => h("option", { value: name }, `hum of ${words}`)),
  );
  room.value = form.hum.room;
  return h(
    "fieldset",
    { class: "sheet choose" },
    h("legend", {}, "Heard"),
    h("div", { class: "row" }, way.element),
    about,
    h("div", { class: "row hum-choice" }, room, mains),
  );
}

/** @param {Form} form @param {() => void} changed */
function namesField(form, changed) {
  const input = h("input", {
    type: "text",
    maxlength: 200,
    value: form.names,
    spellcheck: "false",
    oninput: () => {
      form.names = input.value;
      changed();
    },
  });
  return h(
    "details",
    { class: "sheet", open: form.names !== NAMES },
    h("summary", {}, "Names of the files"),
    h("label", { class: "field" }, h("span", {}, "Pattern"), input),
    h(
      "p",
      { class: "soft small" },
      "In braces: wiring, instrument, take, position, label, clips (the setting) and number. The server adds the file's ending.",
    ),
  );
}

/** @param {FormField[]} fields @param {Form} form @param {() => void} changed */
function webFields(fields, form, changed) {
  /** @param {FormField} field */
  const row = (field) => {
    const key = /** @type {keyof Form["web"]} */ (field.name);
    return textField(field, form.web[key], (text) => {
      form.web[key] = text;
      changed();
    });
  };
  return h(
    "details",
    { class: "sheet", open: fields.some(({ name }) => form.web[/** @type {keyof Form["web"]} */ (name)]) },
    h("summary", {}, "Tags and the web"),
    ...fields.map(row),
  );
}

/** @param {CommissionRow[]} commissions @param {Take[]} takes @param {string | null} from */
function recall(commissions, takes, from) {
  /** @type {unknown} */
  let kept = null;
  try {
    kept = JSON.parse(localStorage.getItem(SHELF) ?? "null");
  } catch {
    /* not written by this page, or damaged */
  }
  const form = recallForm(kept),
    there = commissions.flatMap(({ wirings }) => wirings);
  form.takes = form.takes.filter((id) => takes.some((one) => one.id === id));
  form.wirings = Object.fromEntries(
    Object.entries(form.wirings).filter(([id]) => there.some((one) => one.id === id)),
  );
  form.sales = Object.fromEntries(
    Object.entries(form.sales).filter(([id]) => there.some((one) => one.id === id)),
  );
  const first = commissions.find(({ id }) => id === from);
  if (first) form.wirings = Object.fromEntries(first.wirings.map(({ id }) => [id, form.wirings[id] ?? []]));
  if (first && !kept) form.title = first.title;
  return form;
}

/** @param {Form} form */
function keep(form) {
  try {
    localStorage.setItem(SHELF, JSON.stringify(form));
  } catch {
    /* private windows have no storage */
  }
}
