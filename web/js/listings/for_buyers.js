/** What an instrument's page says to buyers: one field of the form for each of the listing file. */

import { bringPicture, pictureAddress } from "./api.js";
import { fill, h, say, uid } from "../shared/dom.js";
import { plainName } from "../shared/words.js";

/** @import {FormField} from "./words.js" */

const LONGEST_SIDE = 1600,
  QUALITY = 0.85;
/** What a field's text may look like. @type {Record<string, string>} */
const EXAMPLES = { price: "1450 EUR", link: "https://shop.example/sounds" };

/**
 * @param {FormField[]} fields @param {string} name of the instrument
 * @param {Record<string, string>} sale changed in place @param {() => void} changed
 */
export function buyersView(fields, name, sale, changed) {
  const summary = h("summary", { class: "small soft" });
  const show = () => {
    const said = fields.filter((field) => sale[field.name]?.trim()).map((field) => field.name);
    summary.textContent = said.length ? `For buyers: ${said.join(", ")}` : "For buyers: nothing yet";
  };
  /** @param {string} field @param {string} text */
  const set = (field, text) => {
    if (text.trim()) sale[field] = text;
    else delete sale[field];
    show();
    changed();
  };
  show();
  return h(
    "details",
    { class: "for-buyers" },
    summary,
    ...fields.map((field) =>
      field.form === "picture"
        ? pictureField(field, name, sale[field.name] ?? "", (text) => set(field.name, text))
        : textField(field, sale[field.name] ?? "", (text) => set(field.name, text)),
    ),
  );
}

/** @param {FormField} field @param {string} value @param {(text: string) => void} set */
export function textField({ name, form, about, usual }, value, set) {
  const attributes = {
    value,
    placeholder: usual || (EXAMPLES[form] ?? ""),
    oninput: () => set(input.value),
  };
  /** @type {HTMLInputElement | HTMLTextAreaElement} */
  const input =
    form === "paragraph"
      ? h("textarea", { ...attributes, rows: 4, maxlength: 4000 })
      : h("input", {
          ...attributes,
          type: "text",
          inputmode: form === "link" ? "url" : "text",
          maxlength: 200,
        });
  return h(
    "label",
    { class: "field" },
    h("span", {}, plainName(name), " ", h("small", { class: "soft" }, about)),
    input,
  );
}

/**
 * @param {FormField} field @param {string} instrument @param {string} picture its name, or empty
 * @param {(picture: string) => void} set
 */
function pictureField({ name, about }, instrument, picture, set) {
  const shown = h("div", { class: "row" }),
    problem = h("p", { class: "problem", role: "alert" }),
    words = uid("picture");
  const file = h("input", {
    type: "file",
    accept: "image/jpeg,image/png,image/webp",
    "aria-labelledby": words,
    onchange: async () => {
      const chosen = file.files?.[0];
      if (!chosen) return;
      say(problem, "");
      file.disabled = true;
      try {
        draw((await bringPicture(await shrink(chosen))).picture);
      } catch (error) {
        say(problem, error instanceof Error ? error.message : String(error));
      }
      file.disabled = false;
      file.value = "";
    },
  });
  /** @param {string} kept */
  function draw(kept) {
    if (kept !== picture) set(kept);
    picture = kept;
    fill(
      shown,
      kept && h("img", { src: pictureAddress(kept), alt: `Picture of ${instrument}`, width: 120 }),
      kept && h("button", { type: "button", class: "small", onclick: () => draw("") }, "Remove the picture"),
    );
  }
  draw(picture);
  return h(
    "div",
    { class: "field" },
    h("span", { id: words }, plainName(name), " ", h("small", { class: "soft" }, about.split(", from")[0])),
    file,
    shown,
    problem,
  );
}

/**
 * A picture in base 64, as large as a page shows it: a phone's photograph is ten times as much.
 * @param {File} file @returns {Promise<string>}
 */
async function shrink(file) {
  let picture;
  try {
    picture = await createImageBitmap(file);
  } catch {
    throw new Error(`“${file.name}” is no picture that this browser can open: JPEG, PNG or WebP.`);
  }
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height)),
    canvas = h("canvas", {
      width: Math.max(Math.round(scale * picture.width), 1),
      height: Math.max(Math.round(scale * picture.height), 1),
    }),
    pen = /** @type {CanvasRenderingContext2D} */ (canvas.getContext("2d"));
  pen.fillStyle = "white";
  pen.fillRect(0, 0, canvas.width, canvas.height);
  pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  return canvas.toDataURL("image/jpeg", QUALITY).split(",")[1];
}
