/** The proposal of a page that is a file: everything is in it or beside it, and nothing leaves it. */

import { createKept } from "./kept.js";
import { createPieces } from "./pieces.js";
import { operationOf } from "../customer/operation.js";
import { answerDigest, readReceipt } from "./receipt.js";
import { sealAnswer } from "../answers/composing.js";

/** @import {Offer, Offered, Served} from "../customer/words.js" */
/** @import {Kept} from "./kept.js" */
/** @import {Operation} from "../customer/operation.js" */
/** @import {AnswerBox, Source} from "../customer/source.js" */
/**
 * @typedef {object} Sent  What the workshop wrote into the file.
 * @property {string} id  of the proposal
 * @property {Offered & Pick<Served, "comments">} offer  its clips and pictures are names of pieces
 * @property {import("./pieces.js").Folder | null} folder  of the pieces, or null if they are in the page
 * @property {Record<string, string[]>} voices  by take: the piece with the voice of each sound, in order
 * @property {string} guard  the worklet that keeps peaks below the ceiling, as an address
 * @property {string} convolver  the worklet that filters where the browser's convolver is coarse
 * @property {{proposal: string, sent: string, secret: string}} answer  what its answers are sealed with
 */

/** What a page knows that reaches nobody. */
const ALONE = { marks: [], elsewhere: [], place: 0, looked: 0, unread: 0, after: 0, unsent: 0, refused: [] };
const HAD = /** @type {const} */ ({ state: "sent", why: "" });

/** @param {Sent} sent @returns {Source} */
export function fileSource({ id, offer, folder, voices, guard, convolver, answer }) {
  const { readFile, getHead, getText } = createPieces(folder),
    nothing = { comments: [], wishes: [], heard: [], sign: null, sealed: null, receipt: null };
  const kept = createKept(id, { favourites: offer.favourites, ...nothing });
  /** @type {(offer: Offer) => void} */
  let tell = () => {};
  const signed = () => {
    const { sign, receipt } = kept.get(),
      wiring = offer.wirings.find(({ number }) => number === sign?.number);
    if (receipt?.sign) return receipt.sign;
    return sign?.of === "wiring" && wiring
      ? { ...sign, of: sign.of, label: wiring.name, sha256: "" }
      : offer.signoff;
  };
  /** What was written here, not by the link before the file was made. */
  const own = () =>
    kept
      .get()
      .comments.filter(
        ({ when, text }) => !offer.comments.some((one) => one.when === when && one.text === text),
      );
  const current = () => {
    const { favourites, wishes } = kept.get();
    return {
      ...offer,
      ...ALONE,
      favourites,
      comments: [...offer.comments.map((one) => ({ ...one, ...HAD })), ...own().map(inOffer)],
      wishes: wishes.map((wish) => ({ ...inOffer(wish), taken_back: false, sound: null, making: null })),
      signoff: signed(),
    };
  };
  return {
    isFile: true,
    keeps: kept.keeps,
    guard,
    device: "",
    getOffer: async () => current(),
    onOffer(listener) {
      tell = listener;
    },
    inWay: null,
    unsent: () => [],
    waitForNews: null,
    readFile,
    getHead,
    getPicture: async (name) => `data:image/svg+xml,${encodeURIComponent(await getText(name))}`,
    say(said) {
      kept.set(keptWith(kept.get(), operationOf(said)));
      tell(current());
    },
    send: () => {},
    sayAgain: () => {},
    giveUp: () => {},
    noteHeard(number, take) {
      const { heard } = kept.get();
      if (heard.some((one) => one.number === number && one.take === take)) return;
      kept.set({ heard: [...heard, { number, take }] });
    },
    async signOff({ wiring, name, date }) {
      kept.set({ sign: { of: "wiring", number: wiring, name, date, when: new Date().toISOString() } });
      return /** @type {import("../customer/words.js").SignOff} */ (signed());
    },
    answer: answerBox(kept, own, answer),
    record: null,
    receipt: null,
    live: {
      convolver,
      turnsWith: (take) => take in voices,
      getVoice: async (number, take) =>
        JSON.parse(await getText(voices[take][offer.items.findIndex((one) => one.number === number)])),
    },
  };
}

/**
 * What the file keeps once something more is said.
 * @param {Kept} kept @param {Operation} operation
 * @returns {Partial<Kept>}
 */
function keptWith({ favourites, comments, wishes }, operation) {
  const { id, written: when } = operation;
  switch (operation.kind) {
    case "favourite":
      return { favourites: [...new Set([...favourites, operation.number])].sort((a, b) => a - b) };
    case "unfavourite":
      return { favourites: favourites.filter((one) => one !== operation.number) };
    case "note":
      return { comments: [...comments, { id, number: operation.number, text: operation.text, when }] };
    case "wish":
      return { wishes: [...wishes, { id, number: operation.number, knobs: operation.knobs, when }] };
    case "unwish":
      return { wishes: wishes.filter((one) => one.id !== operation.about) };
  }
}

/**
 * What is kept, as the offer shows it.
 * @template {{when: string}} One @param {One} one
 */
const inOffer = (one) => ({
  ...one,
  device: "",
  place: 0,
  replies: [],
  state: /** @type {const} */ ("here"),
  why: "",
});

/**
 * The answer, which a file's customer sends by hand.
 * @param {ReturnType<typeof createKept>} kept @param {() => Kept["comments"]} own
 * @param {Sent["answer"]} answer
 * @returns {AnswerBox}
 */
function answerBox(kept, own, answer) {
  return {
    said() {
      const { favourites, wishes, heard, sign } = kept.get();
      return {
        favourites,
        notes: own(),
        wishes,
        heard,
        // a file sent before signed for a sound
        sign: sign?.of === "wiring" ? sign : null,
      };
    },
    async seal() {
      const said = this.said(),
        of = JSON.stringify(said),
        { sealed } = kept.get();
      // the workshop sees that it is the same answer
      if (sealed?.of === of) return sealed.text;
      const text = await sealAnswer(answer, said);
      kept.set({ sealed: { of, text } });
      return text;
    },
    unsign() {
      kept.set({ sign: null });
    },
    async bring(text) {
      const receipt = await readReceipt(text, answer);
      kept.set({ receipt });
    },
    async receipt() {
      const { receipt, sealed } = kept.get();
      if (!receipt) return null;
      const isSame = sealed !== null && written(JSON.parse(sealed.of)) === written(this.said());
      return { ...receipt, isLast: isSame && (await answerDigest(sealed.text)) === receipt.answer };
    },
  };
}

/**
 * What the customer did on purpose; what was listened to goes along.
 * @param {import("../answers/composing.js").Said} said
 */
const written = ({ favourites, notes, wishes, sign }) => JSON.stringify([favourites, notes, wishes, sign]);
