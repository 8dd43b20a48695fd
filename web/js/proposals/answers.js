/** Bring a customer's answer, a sealed text: paste it or choose its file, and see what it says. */

import * as api from "./api.js";
import {
  arrivalInWords,
  labelOf,
  SEAL_MEANS,
  signatureInWords,
  warningsInWords,
  wishesInWords,
} from "./words.js";
import { download } from "../shared/download.js";
import { fill, h, say } from "../shared/dom.js";
import { butProgress, showProgress, variantView } from "./variants.js";

/** @import {Answer} from "../shared/types.js" */

const RECEIPT_FILE = "receipt.txt",
  RECEIPT_FOR =
    "Send the receipt back: with “Bring the receipt” the customer's page shows what you have, and the record's fingerprint.";
/** Characters; the server takes no more. */
const LONGEST_FILE = 512 * 1024;
/**
 * What is being typed about a signature in doubt, by the answer's digest: any news draws the list anew.
 * @type {Map<string, string>}
 */
const words = new Map();

/**
 * The form, and an answer that was just taken in; `update` shows what has become of it meanwhile.
 * @param {() => void} reload the proposals
 */
export function bringAnswer(reload) {
  /** @type {Answer | null} */
  let brought = null;
  const text = h("textarea", {
    rows: 4,
    spellcheck: "false",
    autocomplete: "off",
    placeholder: "presolder1.…",
    class: "sealed",
  });
  const problem = h("p", { class: "problem", role: "alert" }),
    arrived = h("p", { class: "unseen", role: "status" }), // once: what follows is drawn anew
    result = h("div", {});
  const go = h("button", { class: "main" }, "Take it in");
  const view = (/** @type {Answer} */ answer) => {
    brought = answer;
    fill(result, answerView(answer, show), h("p", { class: "small soft" }, SEAL_MEANS));
  };
  const show = (/** @type {Answer} */ answer) => {
    view(answer);
    say(arrived, [arrivalInWords(answer), signatureInWords(answer)].filter(Boolean).join(" "));
    reload();
  };
  const update = (/** @type {Answer[]} */ answers) => {
    const { again, ...before } = brought ?? {},
      now = answers.find(({ sha256 }) => sha256 === brought?.sha256);
    if (!now) return;
    if (butProgress(now) !== butProgress(before)) return view({ ...now, again });
    showProgress(result, wishesOf(now));
  };
  const take = async () => {
    say(problem, "");
    if (!text.value.trim()) {
      say(problem, "Paste the customer's answer, or choose its file.");
      text.focus();
      return;
    }
    go.disabled = true;
    try {
      show(await api.takeAnswerIn(text.value));
      text.value = "";
    } catch (error) {
      brought = null;
      fill(result);
      say(arrived, "");
      say(problem, `Not taken in. ${error instanceof Error ? error.message : error}`);
    } finally {
      go.disabled = false;
    }
  };
  /** @param {File | undefined} file */
  const read = async (file) => {
    if (!file) return;
    if (file.size > LONGEST_FILE) {
      say(problem, `${file.name} is no answer: it is too large.`);
      return;
    }
    text.value = await file.text();
    await take();
  };
  const picker = h("input", {
    type: "file",
    accept: ".txt,text/plain",
    hidden: true,
    "aria-label": "File of an answer",
    onchange: async () => {
      await read(picker.files?.[0]);
      picker.value = "";
    },
  });
  const element = h(
    "details",
    { class: "bring-answer" },
    h("summary", {}, "Bring an answer"),
    h(
      "form",
      {
        onsubmit: (/** @type {SubmitEvent} */ event) => {
          event.preventDefault();
          void take();
        },
        ondragover: (/** @type {DragEvent} */ event) => event.preventDefault(),
        ondrop: (/** @type {DragEvent} */ event) => {
          const file = event.dataTransfer?.files[0];
          if (!file) return;
          event.preventDefault();
          void read(file);
        },
      },
      h("label", { class: "field" }, h("span", {}, "The customer's answer, whole"), text),
      h(
        "p",
        { class: "small soft" },
        "Paste the text, or drop the file here. Spaces and line ends do not matter.",
      ),
      problem,
      h(
        "div",
        { class: "actions" },
        h("button", { type: "button", onclick: () => picker.click() }, "Choose a file"),
        picker,
        go,
      ),
    ),
    arrived,
    result,
  );
  return { element, update };
}

/**
 * What an answer says.
 * @param {Answer} answer
 * @param {(answer: Answer) => void} signed called once it is recorded, or a wish becomes a sound
 */
export function answerView(answer, signed) {
  const { favourites, notes, signature } = answer;
  const named = (/** @type {number | null} */ number) => labelOf(answer, number);
  return h(
    "section",
    { class: "answer", "aria-label": `Answer to ${answer.title}` },
    h("p", { class: "small soft" }, arrivalInWords(answer)),
    signature &&
      h("p", { class: signature.state.startsWith("signed") ? "ok" : "warn" }, signatureInWords(answer)),
    ...warningsInWords(answer).map((text) => h("p", { class: "warn small" }, text)),
    favourites.length > 0 && h("p", {}, `Favourites: ${favourites.map(named).join(", ")}`),
    answer.wishes.length > 0 && h("ul", { class: "wishes" }, ...wishViews(answer, signed)),
    notes.length > 0 &&
      h(
        "ul",
        {},
        ...notes.map(({ number, text }) =>
          h("li", { class: "words" }, h("span", { class: "soft" }, `${named(number)}: `), text),
        ),
      ),
    signature?.state === "waiting" && confirmForm(answer, signed),
    receiptButtons(answer),
  );
}

/** The wishes, each with its key. @param {Answer} answer */
export const wishesOf = ({ sha256, wishes }) =>
  wishes.map((wish, place) => ({ ...wish, key: `${sha256} ${place}` }));

/** @param {Answer} answer @param {(answer: Answer) => void} asked */
const wishViews = (answer, asked) =>
  wishesInWords(answer).map((text, place) =>
    h(
      "li",
      {},
      h("p", {}, text),
      variantView(answer, answer.wishes[place], wishesOf(answer)[place].key, `“${text}”`, async () =>
        asked(await api.makeAnsweredSound(answer.sha256, place)),
      ),
    ),
  );

/**
 * Record a signature in doubt, with the word of the customer.
 * @param {Answer} answer @param {(answer: Answer) => void} signed
 */
function confirmForm({ sha256 }, signed) {
  const word = h("input", {
    type: "text",
    required: true,
    maxlength: 200,
    value: words.get(sha256) ?? "",
    oninput: () => words.set(sha256, word.value),
  });
  const problem = h("p", { class: "problem", role: "alert" });
  return h(
    "form",
    {
      onsubmit: async (/** @type {SubmitEvent} */ event) => {
        event.preventDefault();
        try {
          const answer = await api.signAfterAsking(sha256, word.value.trim());
          words.delete(sha256);
          signed(answer);
        } catch (error) {
          say(problem, error instanceof Error ? error.message : String(error));
        }
      },
    },
    h(
      "label",
      { class: "field" },
      h("span", {}, "How the customer confirmed it, as “by telephone on 3 March”; the record holds this"),
      word,
    ),
    problem,
    h("div", { class: "actions" }, h("button", {}, "Record the signature")),
  );
}

/** Send the customer a receipt, which the file shows. @param {Answer} answer */
function receiptButtons({ sha256 }) {
  const status = h("p", { class: "small soft", role: "status" }, RECEIPT_FOR),
    text = h("textarea", { rows: 3, readonly: true, hidden: true, class: "sealed", "aria-label": "Receipt" });
  /** @param {string} label @param {(receipt: string) => unknown} send */
  const way = (label, send) =>
    h(
      "button",
      {
        type: "button",
        class: "small",
        onclick: async () => {
          try {
            await send((await api.getReceipt(sha256)).receipt);
          } catch (error) {
            say(status, `Not done: ${error instanceof Error ? error.message : error}`);
          }
        },
      },
      label,
    );
  const copy = async (/** @type {string} */ receipt) => {
    try {
      await navigator.clipboard.writeText(receipt);
      say(status, "Copied. Paste it into a message to the customer.");
    } catch {
      text.value = receipt;
      text.hidden = false;
      text.select();
      say(status, "Copy the marked text below into a message to the customer.");
    }
  };
  const save = (/** @type {string} */ receipt) => {
    download(RECEIPT_FILE, receipt, "text/plain");
    say(status, `Saved as ${RECEIPT_FILE}. Attach it to a message to the customer.`);
  };
  return h(
    "div",
    { class: "receipt" },
    h("div", { class: "row" }, way("Copy the receipt", copy), way("Save the receipt", save)),
    status,
    text,
  );
}
