/** The sign-off: choose the wiring, enter name and date, check everything once more, then sign. */

import { ApiError } from "../shared/http.js";
import { day, termsOf, today, wiringOf } from "./words.js";
import { partsView, soundsOfWiring, termsView } from "./contents.js";
import { counted } from "../shared/words.js";
import { openDialog } from "../shared/dialog.js";
import { fill, h, say } from "../shared/dom.js";
import { remember, recall } from "./memory.js";
import { signedAlready, whyNot } from "./refusals.js";

/** @import {Item, OfferedWiring} from "./words.js" */
/** @import {Page} from "./page.js" */

const FILE_MEANS = [
  "Your signature goes into your answer. Nothing is sent by itself: send the answer to the workshop afterwards.",
  "Until you have sent it you can take it back. Then it is final; if you change your mind, talk to the workshop.",
  "The answer holds the wiring you choose, your name and the date. Anyone who has this page could type a name: the workshop may ask you to confirm it.",
];
const MEANS = [
  "The workshop sees it at once and may start to build this wiring.",
  "It is final: you can sign only once, and nobody can change the record afterwards. If you change your mind, talk to the workshop.",
  "The record holds the wiring with its sounds, parts, price and date as shown here, your name and the day.",
];
const PLAYED = "Your signature tells which sounds were played here, and in which way.";
const NOT_TURNED =
  "You choose the sounds as offered. They do not include knobs you turned on this page: wish for those settings instead, and the workshop can make them a sound.";

/** @typedef {NonNullable<import("./source.js").Source["signOff"]>} SignOff */

/**
 * @param {Page} page @param {SignOff} signOff
 * @param {import("./news.js").News | null} news null in a file
 */
export function openSigning(page, signOff, news) {
  const { offer, number } = page.get();
  const heard = offer.favourites.length === 1 ? offer.favourites[0] : number,
    before = Number(recall("choice")),
    known = offer.wirings.some((one) => one.number === before);
  const form = {
    wiring: known ? before : wiringOf(offer.wirings, heard).number,
    name: recall("name"),
    date: today(),
  };
  let then = () => {};
  const inside = (/** @type {() => void} */ close) => {
    const place = h("div", {});
    const toForm = () => fill(place, formStep(page, form, toCheck));
    const toCheck = () => {
      const leave = (/** @type {() => void} */ act) => {
        // once the dialog has given the focus back
        then = act;
        close();
      };
      const unheard = (/** @type {Item[]} */ items, /** @type {number[]} */ shown) =>
        news?.unheard(items, shown, leave);
      fill(place, checkStep(page, signOff, form, { back: toForm, close, unheard }));
      place.querySelector("input")?.focus();
    };
    toForm();
    return place;
  };
  openDialog("Choose and sign off", inside, { closed: () => then() });
}

/** The wiring that is being signed for, and its sounds. @param {Page} page @param {Form} form */
function chosenOf({ get, item }, form) {
  const { wirings } = get().offer,
    wiring = wirings.find(({ number }) => number === form.wiring) ?? wirings[0];
  return { wiring, items: wiring.sounds.map(item) };
}

/** @typedef {{wiring: number, name: string, date: string}} Form */

/** @param {Page} page @param {Form} form @param {() => void} next */
function formStep(page, form, next) {
  const { get } = page,
    { wirings } = get().offer;
  const ready = get().offer.takes.map(({ id }) => id);
  const complete = (/** @type {Item} */ one) => ready.every((id) => one.clips[id]);
  const name = h("input", {
    type: "text",
    required: true,
    maxlength: 120,
    autocomplete: "name",
    value: form.name,
    oninput: () => {
      form.name = name.value;
      remember("name", name.value);
    },
  });
  const date = h("input", {
    type: "date",
    required: true,
    value: form.date,
    oninput: () => {
      form.date = date.value;
    },
  });
  const problem = h("p", { class: "problem", role: "alert" });
  return h(
    "form",
    {
      novalidate: true,
      onsubmit: (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        const missing = !chosenOf(page, form).items.every(complete)
          ? "Its sounds are not ready yet. Wait a moment."
          : !name.value.trim()
            ? "Type your name."
            : !date.value
              ? "Enter today's date."
              : "";
        say(problem, missing);
        if (!missing) next();
        else if (!name.value.trim()) name.focus();
      },
    },
    wirings.length > 1 &&
      h(
        "fieldset",
        { class: "choices" },
        h("legend", {}, "Which wiring do you choose?"),
        ...wirings.map((one) => wiringChoice(one, form)),
      ),
    h("label", { class: "field" }, h("span", {}, "Your name"), name),
    h("label", { class: "field" }, h("span", {}, "Today's date"), date),
    problem,
    h("div", { class: "actions" }, h("button", { type: "submit", class: "main" }, "Continue")),
    h("p", { class: "soft small" }, "The next step shows everything once more. Nothing is signed yet."),
  );
}

/** @param {OfferedWiring} wiring @param {Form} form */
const wiringChoice = (wiring, form) =>
  h(
    "label",
    { class: "choosable" },
    h("input", {
      type: "radio",
      name: "choice",
      value: wiring.number,
      checked: wiring.number === form.wiring,
      onchange: () => {
        form.wiring = wiring.number;
        remember("choice", String(wiring.number));
      },
    }),
    h(
      "span",
      { class: "about" },
      h("b", {}, wiring.name),
      h(
        "span",
        { class: "soft small" },
        [counted(wiring.sounds.length, "sound"), ...termsOf(wiring).map(([, text]) => text)].join(" · "),
      ),
    ),
  );

/**
 * @param {Page} page @param {SignOff} signOff @param {Form} form
 * @param {{back: () => void, close: () => void, unheard: (items: Item[], shown: number[]) =>
 *   {why: string, ways: HTMLElement[]} | null | undefined}} ways
 */
function checkStep(page, signOff, form, { back, close, unheard }) {
  const { source, get, setOffer } = page,
    { wiring, items } = chosenOf(page, form),
    // as shown here, whatever comes meanwhile
    sounds = items.map(({ number }) => number),
    problem = h("p", { class: "problem", role: "alert" }),
    first = h("div", { class: "ways" });
  const meant = h("input", { type: "checkbox", required: true });
  const sign = h("button", { type: "submit", class: "main" }, "Sign off");
  return h(
    "form",
    {
      novalidate: true,
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        if (!meant.checked) {
          say(problem, "Tick the box to confirm.");
          meant.focus();
          return;
        }
        sign.disabled = true;
        say(problem, "");
        try {
          setOffer({ signoff: await signOff({ ...form, name: form.name.trim(), sounds }) });
          remember("choice", "");
          close();
          document.querySelector(/** @type {"section"} */ ("section.record"))?.focus();
        } catch (error) {
          if (error instanceof ApiError && error.status === 409) {
            const now = await source.getOffer().catch(() => null);
            if (now) setOffer(now);
          }
          const { signoff } = get().offer,
            came = signoff ? null : unheard(chosenOf(page, form).items, sounds),
            why = signoff ? signedAlready(signoff) : (came?.why ?? whyNot(error, "sign"));
          say(problem, `Not signed: ${why}`);
          fill(first, ...(came?.ways ?? []));
          // the buttons stand before the end of what scrolls
          problem.scrollIntoView({ block: "center" });
          sign.disabled = false;
        }
      },
    },
    drawingOf(page, items[0]),
    h(
      "dl",
      { class: "facts" },
      h("dt", {}, "You choose"),
      h("dd", {}, h("b", {}, wiring.name)),
      h("dt", {}, "With its sounds"),
      h("dd", {}, soundsOfWiring(items)),
      ...termsView(wiring),
      ...partsView(wiring),
      h("dt", {}, "Name"),
      h("dd", {}, form.name.trim()),
      h("dt", {}, "Date"),
      h("dd", {}, day(form.date)),
    ),
    h(
      "div",
      { class: "means" },
      h("h3", {}, "What signing means"),
      h(
        "ul",
        {},
        ...[
          ...(source.isFile ? FILE_MEANS : MEANS),
          ...(get().offer.ways[1] || get().way !== "direct" ? [PLAYED] : []),
          ...(source.live ? [NOT_TURNED] : []),
        ].map((one) => h("li", {}, one)),
      ),
    ),
    h("label", { class: "meant" }, meant, h("span", {}, get().offer.statement)),
    problem,
    first,
    h("div", { class: "actions" }, h("button", { type: "button", onclick: back }, "Back"), sign),
  );
}

/** The drawing of a wiring, as one of its sounds shows it. @param {Page} page @param {Item} item */
function drawingOf({ source }, { number, label, picture }) {
  if (!picture) return null;
  const image = h("img", {
    class: "built-picture",
    alt: `The wiring at sound ${number}, ${label}. ${picture.words}`,
  });
  source.getPicture(picture.file).then(
    (address) => (image.src = address),
    // its words say the same
    () => image.remove(),
  );
  return image;
}
