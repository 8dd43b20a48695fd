/** The answer of a page that is a file: what it holds, and the ways to send its sealed text. */

import { answerInWords, isEmpty, knobsInWords, mailAddress } from "./words.js";
import { inDigits } from "../answers/digits.js";
import { qrCode } from "../answers/qr.js";
import { receiptView } from "./receipt_view.js";
import { openDialog } from "../shared/dialog.js";
import { download } from "../shared/download.js";
import { fill, h, s, say } from "../shared/dom.js";

/** @import {AnswerBox} from "./source.js" */
/** @import {Page} from "./page.js" */

const FILE = "answer.txt",
  QUIET = 4;
const WAYS =
  "Copy the text into a message to the workshop, or send it in another way. It says what you marked, wrote and signed, sealed so that the workshop sees if it was changed on its way.";
const NO_PROOF =
  "The seal does not show who you are: anyone who has this page could make an answer. The workshop may ask you to confirm it.";

/** @param {Page} page */
export function answerView(page) {
  const { source, get, on } = page,
    { answer } = source;
  if (!answer) return null;
  const sending = sendingView(answer, get().offer.title),
    holds = h("p", {}),
    wishes = h("ul", { class: "wishes" });
  function show() {
    const said = { .../** @type {AnswerBox} */ (answer).said(), favourites: get().offer.favourites };
    say(holds, answerInWords(said));
    sending.hidden = isEmpty(said);
    fill(wishes, ...get().offer.wishes.map(wishRow));
    wishes.hidden = said.wishes.length === 0;
  }
  /** @param {import("./words.js").Wish} wish */
  const wishRow = ({ id, number, knobs }) =>
    h(
      "li",
      { class: "row" },
      h("span", {}, `Sound ${number} with ${knobsInWords(knobs)}`),
      h(
        "button",
        {
          type: "button",
          class: "quiet",
          "aria-label": `Take back the wish for sound ${number}`,
          onclick: () => source.say({ kind: "unwish", about: id }),
        },
        "Take back",
      ),
    );
  on(["offer"], show);
  show();
  return h(
    "section",
    { class: "your-answer", "aria-labelledby": "your-answer" },
    h("h2", { id: "your-answer" }, "Your answer"),
    holds,
    wishes,
    sending,
    receiptView(page),
    h("p", { class: "soft small" }, WAYS),
    h("p", { class: "soft small" }, NO_PROOF),
  );
}

/** @param {AnswerBox} answer @param {string} title */
function sendingView(answer, title) {
  const status = h("p", { class: "small", role: "status" });
  const text = h("textarea", { rows: 4, readonly: true, hidden: true, "aria-label": "Your answer as text" });
  /** @param {string} label @param {(sealed: string) => unknown} send @param {string} [kind] */
  const way = (label, send, kind = "") =>
    h(
      "button",
      {
        type: "button",
        class: kind,
        onclick: async () => {
          try {
            text.value = await answer.seal();
            await send(text.value);
          } catch (error) {
            // the reader closed it
            if (error instanceof DOMException && error.name === "AbortError") return;
            say(status, `Not done: ${error instanceof Error ? error.message : error}`);
          }
        },
      },
      label,
    );
  const copy = async (/** @type {string} */ sealed) => {
    try {
      await navigator.clipboard.writeText(sealed);
      say(status, "Copied. Paste it into a message to the workshop.");
    } catch {
      text.hidden = false;
      text.select();
      say(status, "Copy the marked text below into a message to the workshop.");
    }
  };
  const mail = (/** @type {string} */ sealed) => {
    const address = mailAddress(title, sealed);
    if (address) location.href = address;
    say(
      status,
      address ? "Your mail program has the text." : "Too long for this way: save it, and attach the file.",
    );
  };
  const save = (/** @type {string} */ sealed) => {
    download(FILE, sealed, "text/plain");
    say(status, `Saved as ${FILE}. Attach it to a message to the workshop.`);
  };
  return h(
    "div",
    { class: "sending" },
    h(
      "div",
      { class: "ways" },
      way("Copy", copy, "main"),
      "share" in navigator &&
        way("Share", (sealed) => navigator.share({ title: `Answer to ${title}`, text: sealed })),
      way("Mail", mail),
      way("Save", save),
      way("QR code", (sealed) => showCode(sealed, status)),
    ),
    status,
    text,
  );
}

/** @param {string} sealed @param {HTMLElement} status */
function showCode(sealed, status) {
  const code = qrCode(inDigits(sealed));
  if (!code) {
    say(status, "Too long for a QR code: copy it, or save it as a file.");
    return;
  }
  const size = code.rows.length + 2 * QUIET;
  const dark = code.rows
    .map((row, y) => row.map((is, x) => (is ? `M${x + QUIET} ${y + QUIET}h1v1h-1z` : "")).join(""))
    .join("");
  openDialog("Your answer as a QR code", () =>
    h(
      "div",
      {},
      s(
        "svg",
        {
          class: "qr",
          viewBox: `0 0 ${size} ${size}`,
          role: "img",
          "aria-label": "Your answer as a QR code",
        },
        s("rect", { width: size, height: size, fill: "#fff" }),
        s("path", { d: dark, fill: "#000", "shape-rendering": "crispEdges" }),
      ),
      h("p", { class: "small" }, "Let the workshop scan this, and paste the text into “Bring an answer”."),
    ),
  );
}
