/**
 * Where the customer's page has its proposal from, and where what the customer does goes. No code.
 *
 * @import {Comment, Offer, SignOff} from "./words.js"
 * @import {Head} from "../player/clips.js"
 * @import {OfferedKnob} from "../shared/types.js"
 * @import {Said} from "../answers/composing.js"
 *
 * @typedef {object} Source
 * @property {boolean} isFile  whether the page is a file that holds everything and reaches nobody
 * @property {() => boolean} keeps  whether what the customer does is still there after a reload
 * @property {string} guard  address of the worklet that keeps peaks below the ceiling
 * @property {() => Promise<Offer>} getOffer
 * @property {(file: string) => Promise<ArrayBuffer>} getClip  the bytes of a file that the offer names
 * @property {(file: string) => Promise<Head> | null} getHead  null for a file that comes whole
 * @property {(file: string) => Promise<string>} getPicture  an address that an image can show
 * @property {(numbers: number[]) => Promise<{numbers: number[]}>} setFavourites
 * @property {(number: number | null, text: string) => Promise<Comment>} sendComment
 * @property {((form: {number: number, name: string, date: string}) => Promise<SignOff>) | null} signOff  null
 *   where nothing can be signed
 * @property {string | null} record  address of the signed record
 * @property {AnswerBox | null} answer  of a file, where the customer sends by hand; null where the page sends
 * @property {LiveSource | null} live  null where the knobs cannot be turned
 *
 * @typedef {object} AnswerBox  What goes into an answer, and its sealed text.
 * @property {() => Said} said
 * @property {() => Promise<string>} seal  the same text as long as nothing changes
 * @property {(number: number, knobs: Record<string, number> | null) => void} wish  null takes it back
 * @property {(number: number, take: string) => void} noteHeard
 * @property {() => void} unsign  takes the signature out again
 *
 * @typedef {object} LiveSource  The knobs of an offered sound, by its number.
 * @property {string} player  address of the worklet that plays live
 * @property {(number: number) => Promise<{knobs: OfferedKnob[], strings: number, longest_s: number}>}
 *   getKnobs
 * @property {(number: number, form: {take: string, knobs: Record<string, number>, id: number}) =>
 *   Promise<ArrayBuffer>} getFilters
 * @property {(number: number, take: string, onProgress: (share: number) => void) => Promise<Float32Array[]>}
 *   getStems  several megabytes, so with progress: the share received, 0 to 1
 */

export {};
