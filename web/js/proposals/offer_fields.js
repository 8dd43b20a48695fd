/** The fields of an offer at the bench: title, wirings with their sounds and terms, takes, days. */

import { changeSound, hearFirst, nameOf, repeatSound, toggleWay, withoutSound } from "./offering.js";
import { placeOf } from "../session/session.js";
import { plainName, takeLine } from "../shared/words.js";
import { h } from "../shared/dom.js";
import { onTravel } from "../shared/units.js";

/** @import {Known} from "./offering.js" */
/** @import {Offer} from "./offer.js" */
/** @import {Session} from "../session/session.js" */
/** @import {Alternative, Commission, Offering, Sound} from "../shared/types.js" */

const WAYS_NOTE =
  "The page plays all sounds in the same way, equally loud at first; the customer may switch. A file has the first way alone. The record of a sign-off says how each sound was heard.";

const FARTHEST = [
  ["", "not heard"],
  ["parts", "heard beside the sounds, one cable for all"],
  ["cables", "heard beside the sounds, each with its player's cable"],
];
const FARTHEST_NOTE =
  "The customer hears behind the link how far two guitars of this wiring may differ, at every sound, with one gain. Nobody signs for one of them. A file leaves them out. They are ready last.";

/** @param {Session} session @param {Offer} offer */
export function offerFields({ get }, offer) {
  const { takes, commission } = get(),
    { wirings } = offer.now();
  const set = (/** @type {Partial<Offering>} */ change) => ({ ...offer.now(), ...change });
  const undo = stepButton("Undo", offer.undo),
    redo = stepButton("Redo", offer.redo);
  const showSteps = () => {
    undo.disabled = !offer.canUndo();
    redo.disabled = !offer.canRedo();
  };
  offer.onSettled(showSteps);
  showSteps();
  return [
    textField(
      "Title the customer sees",
      "title",
      { required: true, value: offer.now().title },
      offer,
      (title) => set({ title }),
    ),
    ...wirings.map((one) => wiringFields(commission, offer, one)),
    moreWirings(commission, offer),
    h(
      "fieldset",
      { class: "ticks" },
      h("legend", {}, "Takes"),
      ...takes.map((one) =>
        h(
          "label",
          {},
          h("input", {
            type: "checkbox",
            "data-at": `take ${one.id}`,
            checked: offer.now().takes.includes(one.id),
            disabled: one.state === "broken",
            onchange: () => {
              const { takes: before } = offer.now(),
                others = before.filter((id) => id !== one.id);
              offer.step(set({ takes: others.length < before.length ? others : [...before, one.id] }));
            },
          }),
          h("span", { class: "words" }, one.name, " ", h("small", { class: "soft" }, takeLine(one))),
        ),
      ),
    ),
    ...waysFields(get().ways, offer, (ways) => set({ ways })),
    textField(
      "Days until the link expires",
      "days",
      { type: "number", min: 1, max: 365, required: true, value: offer.now().days },
      offer,
      (days) => set({ days }),
    ),
    h("div", { class: "row" }, undo, redo),
  ];
}

/**
 * The ways in which the customer may hear the sounds, and which comes first.
 * @param {{name: string, about: string}[]} there  empty before the chain has come
 * @param {Offer} offer @param {(ways: string[]) => Offering} changed
 */
function waysFields(there, offer, changed) {
  const { ways } = offer.now(),
    shown = there.length ? there : ways.map((name) => ({ name, about: "" }));
  const first = h(
    "select",
    { "data-at": "heard first", onchange: () => offer.step(changed(hearFirst(ways, first.value))) },
    ...ways.map((name) => h("option", { value: name }, name)),
  );
  return [
    h(
      "fieldset",
      { class: "ticks" },
      h("legend", {}, "How the customer hears it"),
      ...shown.map(({ name, about }) =>
        h(
          "label",
          {},
          h("input", {
            type: "checkbox",
            "data-at": `way ${name}`,
            checked: ways.includes(name),
            onchange: () => offer.step(changed(toggleWay(ways, name))),
          }),
          h("span", { class: "words" }, name, " ", h("small", { class: "soft" }, about)),
        ),
      ),
      h("p", { class: "soft small" }, WAYS_NOTE),
    ),
    ways.length > 1 && h("label", { class: "field" }, h("span", {}, "Heard first"), first),
  ];
}

/** @param {string} name @param {() => void} act */
const stepButton = (name, act) =>
  h("button", { type: "button", class: "small", "data-at": name, onclick: act }, name);

/**
 * A line of text: kept while it is typed, one step of undo once it is left.
 * @param {string} label @param {string} at the name of its place @param {Record<string, unknown>} props
 * @param {Offer} offer @param {(value: string) => Offering} changed
 */
function textField(label, at, props, offer, changed) {
  const input = h("input", {
    type: "text",
    maxlength: 200,
    ...props,
    "data-at": at,
    oninput: () => offer.type(changed(input.value)),
    onchange: () => offer.settle(changed(input.value)),
  });
  return h("label", { class: "field" }, h("span", {}, label), input);
}

/**
 * A wiring: its terms, its positions, its parts.
 * @param {Commission} commission @param {Offer} offer @param {Alternative} wiring
 */
function wiringFields(commission, offer, wiring) {
  const { version } = wiring,
    { wirings } = offer.now(),
    known = offer.known.get(version);
  const changed = (/** @type {Partial<Alternative>} */ change) => ({
    ...offer.now(),
    wirings: offer.now().wirings.map((one) => (one.version === version ? { ...one, ...change } : one)),
  });
  const terms = (
    /** @type {"name" | "price" | "when_ready"} */ key,
    /** @type {string} */ label,
    example = "",
  ) =>
    textField(label, `${version} ${key}`, { value: wiring[key], placeholder: example }, offer, (value) =>
      changed({ [key]: value }),
    );
  const several = wirings.length > 1;
  return h(
    "fieldset",
    { class: "ticks offered" },
    h("legend", {}, several ? nameOfVersion(commission, version) : "Positions"),
    several &&
      h(
        "div",
        { class: "row" },
        h(
          "div",
          { class: "spread" },
          terms("name", "What the customer calls it", "With the larger capacitor"),
        ),
        h(
          "button",
          {
            type: "button",
            class: "small",
            "aria-label": `Take ${nameOfVersion(commission, version)} out`,
            onclick: () =>
              offer.step({
                ...offer.now(),
                wirings: offer.now().wirings.filter((one) => one.version !== version),
              }),
          },
          "Take out",
        ),
      ),
    known
      ? h(
          "div",
          { class: "offered-sounds" },
          ...wiring.sounds.map((sound, k) =>
            soundRow(offer, known, wiring, sound, k, (sounds) => changed({ sounds })),
          ),
        )
      : h("p", { class: "soft small", role: "status" }, "Reading its positions…"),
    h(
      "div",
      { class: "terms" },
      terms("price", "Price, in words", "180, strings included"),
      terms("when_ready", "When it is ready, in words", "two weeks after you sign"),
    ),
    farthestField(offer, wiring, (farthest) => changed({ farthest })),
    known && keptFields(offer, known, wiring, (kept) => changed({ kept })),
  );
}

/**
 * Whether the customer also hears what tolerances do.
 * @param {Offer} offer @param {Alternative} wiring
 * @param {(farthest: Alternative["farthest"]) => Offering} changed
 */
function farthestField(offer, { version, farthest = "" }, changed) {
  const note = h("p", { class: "soft small" }, FARTHEST_NOTE);
  const select = h(
    "select",
    {
      "data-at": `${version} farthest`,
      onchange: () => {
        note.hidden = !select.value;
        offer.settle(changed(/** @type {Alternative["farthest"]} */ (select.value)));
      },
    },
    ...FARTHEST.map(([value, label]) => h("option", { value, selected: value === farthest }, label)),
  );
  note.hidden = !farthest;
  return h(
    "div",
    {},
    h("label", { class: "field" }, h("span", {}, "Built ten times, the farthest two"), select),
    note,
  );
}

/** @param {Commission} commission @param {string} version */
function nameOfVersion(commission, version) {
  const found = placeOf(commission, version);
  return found ? `${found.wiring.name}, version ${found.version.number}` : "A wiring";
}

/**
 * A position with its knobs.
 * @param {Offer} offer @param {Known} known @param {Alternative} wiring @param {Sound} sound
 * @param {number} k @param {(sounds: Sound[]) => Offering} changed
 */
function soundRow(offer, known, wiring, sound, k, changed) {
  const stop = known.stops.find(({ position }) => position === sound.position),
    at = `${wiring.version} ${k}`,
    which = sound.more ? `${sound.position}, once more,` : sound.position;
  const sounds = () =>
    offer.now().wirings.find(({ version }) => version === wiring.version)?.sounds ?? wiring.sounds;
  const mine = (/** @type {Partial<Sound>} */ change) => changed(changeSound(sounds(), k, change));
  const label = h("input", {
    type: "text",
    maxlength: 200,
    value: nameOf(sound, known),
    "data-at": `${at} label`,
    "aria-label": `Name of ${which} for the customer`,
    oninput: () => offer.type(mine({ label: label.value })),
    onchange: () => offer.settle(mine({ label: label.value })),
  });
  return h(
    "div",
    { class: sound.more ? "row offered-sound more" : "row offered-sound" },
    h(
      "label",
      {},
      h("input", {
        type: "checkbox",
        checked: sound.on,
        "data-at": `${at} on`,
        onchange: () => offer.settle(mine({ on: !sounds()[k].on })),
      }),
      h("span", {}, sound.position),
      h("span", { class: "unseen" }, `Show ${nameOf(sound, known)}`),
    ),
    h("div", { class: "spread" }, label),
    !sound.more && h("small", { class: "soft words" }, stop?.words ?? ""),
    h(
      "div",
      { class: "row offered-knobs" },
      ...Object.entries(sound.knobs ?? known.knobs).map(([name, value]) =>
        knobField(`${at} ${name}`, name, which, value, (to) => {
          offer.settle(mine({ knobs: { ...(sounds()[k].knobs ?? known.knobs), [name]: to } }));
          label.value = nameOf(sounds()[k], known);
        }),
      ),
      Object.keys(known.knobs).length > 0 &&
        h(
          "button",
          {
            type: "button",
            class: "small quiet",
            "data-at": `${at} more`,
            "aria-label": `${sound.position} with other knobs too`,
            onclick: () => offer.step(changed(repeatSound(sounds(), k, known))),
          },
          "Other knobs too",
        ),
      sound.more &&
        h(
          "button",
          {
            type: "button",
            class: "small quiet",
            "aria-label": `Remove ${nameOf(sound, known)}`,
            onclick: () => offer.step(changed(withoutSound(sounds(), k))),
          },
          "Remove",
        ),
    ),
  );
}

/**
 * @param {string} at @param {string} name @param {string} which @param {number} value
 * @param {(value: number) => void} set
 */
function knobField(at, name, which, value, set) {
  const input = h("input", {
    type: "number",
    min: 0,
    max: 10,
    step: 0.1,
    value: String(value),
    "data-at": at,
    "aria-label": `${plainName(name)} of ${which}`,
    onchange: () => set(input.value === "" ? value : onTravel(Number(input.value))),
  });
  return h("label", { class: "small" }, h("span", { class: "soft" }, plainName(name)), input);
}

/**
 * The parts that the instrument has; all others are bought.
 * @param {Offer} offer @param {Known} known @param {Alternative} wiring
 * @param {(kept: string[]) => Offering} changed
 */
function keptFields(offer, { parts, coils }, wiring, changed) {
  const kept = wiring.kept ?? coils;
  return h(
    "details",
    {
      class: "kept",
      open: offer.unfolded.has(wiring.version),
      ontoggle: (/** @type {Event} */ event) => {
        if (/** @type {HTMLDetailsElement} */ (event.currentTarget).open) offer.unfolded.add(wiring.version);
        else offer.unfolded.delete(wiring.version);
      },
    },
    h("summary", {}, `${parts.length - kept.length} of ${parts.length} parts are bought, the rest is there`),
    ...parts.map((name) =>
      h(
        "label",
        {},
        h("input", {
          type: "checkbox",
          checked: !kept.includes(name),
          "data-at": `${wiring.version} part ${name}`,
          onchange: () =>
            offer.step(
              changed(parts.filter((one) => (one === name ? !kept.includes(name) : kept.includes(one)))),
            ),
        }),
        h("span", {}, `${plainName(name)} is bought`),
      ),
    ),
  );
}

/**
 * Another version or wiring of the commission as an alternative.
 * @param {Commission} commission @param {Offer} offer
 */
function moreWirings({ wirings }, offer) {
  const there = offer.now().wirings.map(({ version }) => version);
  const groups = wirings.map(({ name, versions }) => ({
    name,
    versions: versions.filter(({ id }) => !there.includes(id)),
  }));
  if (groups.every(({ versions }) => !versions.length)) return null;
  const select = h(
    "select",
    {
      "data-at": "more wirings",
      onchange: () => {
        if (!select.value) return;
        offer.add(select.value);
      },
    },
    h("option", { value: "" }, "Choose a wiring…"),
    ...groups
      .filter(({ versions }) => versions.length)
      .map(({ name, versions }) =>
        h(
          "optgroup",
          { label: name },
          ...versions.map(({ id, number, note }) =>
            h("option", { value: id }, [`Version ${number}`, note].filter(Boolean).join(": ")),
          ),
        ),
      ),
  );
  return h("label", { class: "field" }, h("span", {}, "Another wiring as an alternative"), select);
}
