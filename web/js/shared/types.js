/**
 * Types shared by the page's modules, as in the server's answers. No code.
 *
 * @typedef {{path: string[], value: string | null}} Edit  Null removes the place. Items of lists are
 *   addressed by their number in the version.
 * @typedef {{version: string, edits: Edit[]}} Draft
 * @typedef {{position: string, knobs: Record<string, number>, switches: Record<string, string>}} Setting
 * @typedef {Draft & Setting} Slot  A sound to compare: a wiring with its edits and its setting.
 *
 * @typedef {{kind: "coil", name: string, turned?: boolean, out_of_phase?: boolean}} CoilLeaf
 * @typedef {{kind: "series" | "parallel" | "mesh", members: Tree[]}} Joined
 * @typedef {CoilLeaf | Joined} Tree
 *
 * @typedef {{finding: string, severity: string, text: string, lugs: string[], positions: string[]}} Finding
 * @typedef {object} Facts  Facts of one position at the current knobs.
 * @property {string} position
 * @property {string} label
 * @property {Tree[]} connection
 * @property {string} connection_text
 * @property {string[]} coils
 * @property {number | null} hum_db
 * @property {"none" | "little" | "hums" | "silent"} hum
 * @property {number | null} level_db
 * @property {number | null} clean_level_db  LU, through clean, up to a constant
 * @property {{frequency_hz: number}[]} resonances  the loudest coil's first
 * @property {number | null} brightness_hz
 * @property {number | null} meter_ohm
 * @property {string[]} words
 * @property {{position: string, distance_db: number, largest_db: number, level_db: number,
 *   heard: string, clean: {distance_db: number, level_db: number}} | null} nearest  the position most like
 *   it; `clean` as heard so, timbre weighted by loudness
 * @property {Finding[]} findings
 *
 * @typedef {object} HumRecord  Rooms and mains of hum.
 * @property {{name: string, about: string, microtesla: number}[]} rooms
 * @property {{hz: number, wave: number[], partials: number[][]}[]} mains  volts in 1 m² at 1 µT: a wave that
 *   repeats, and the same as pairs of frequency and rms
 *
 * @typedef {object} Field  A value of a part that can be edited.
 * @property {string} name
 * @property {string} value
 * @property {string} form
 * @property {string} [dimension]
 * @property {string[]} [choices]
 * @property {string} [about]
 * @property {string} [default]
 * @property {string} [inherited]  the value of the library's part, which a value of its own replaces
 * @property {string[]} path
 * @property {boolean} [required]
 * @property {boolean} [brackets]  a list, shown without its brackets
 * @property {string[][]} [remove]  places to remove when it is cleared
 * @property {{down: string | null, up: string | null} | null} [steps]
 *
 * @typedef {{fields: Field[], remove: string[][], network?: any}} Item  An item of a list: its values, the
 *   places to remove with it; of a sketched position its network.
 * @typedef {{name: string, items: Item[], add: Field}} List  A new item starts with the value of `add`, if it
 *   has one.
 * @typedef {{name: string, kind: string, like?: string, fields: Field[], lists?: List[], terminals: string[],
 *   swaps: string, balance?: {note: string, level_db: number}[]}} Part
 *   like: the library's part that its other values come from, or empty. swaps: what
 *   "swap leads" exchanges, or empty
 * @typedef {{name: string, about: string, fields: Field[], lists: List[]}} Around  Settings outside the
 *   parts.
 * @typedef {{name: string, at_mm: number | null, winding?: string, magnet?: string}} CoilPlace
 * @typedef {object} Check
 * @property {boolean} ok
 * @property {string[]} missing  what an unfinished wiring lacks: a jack, a coil. It is not ok, but its parts
 *   are given
 * @property {Problem[]} problems
 * @property {Finding[]} findings
 * @property {Part[]} parts
 * @property {string[][]} joints  terminals such as volume.2, by joint
 * @property {Around[]} around
 * @property {{position: string, label: string, sound?: string}[]} positions  sound: the same for
 *   every way to write one sound
 * @property {{name: string, about?: string, detent?: boolean}[]} knobs  detent: it clicks at 5
 * @property {{name: string, positions: string[], jack?: boolean}[]} switches  jack: its positions are plugs
 * @property {CoilPlace[]} coils
 * @property {string[]} [strings]  notes, lowest first
 * @property {string | null} selector
 * @property {number} hum_cancelling_db  hum cancels if no more of it is left
 *
 * @typedef {{do: "add", what: string, name?: string, like?: string} | {do: "remove", part: string}
 *   | {do: "rename", part: string, to: string} | {do: "solder", terminals: [string, string], run?:
 *   boolean} | {do: "unsolder", terminal: string}
 *   | {do: "unsolder wire", ends: [string, string], with_first: string[]} | {do: "swap leads", part: string}
 *   | {do: "choose", part: string, like: string} | {do: "gang", part: string, to: string | null}
 *   | {do: "couple", coils: [string, string], coefficient: string | null}
 *   | {do: "take values", coils: Record<string, {resistance: string, inductance: string, capacitance: string,
 *   eddy: {share: string, corner: string}[]}>, comment: string, coefficient?: string}
 *   | {do: "take sensitivities", coils: Record<string, {sensitivity: number, string_balance?: number[],
 *   comment: string}>, against: Record<string, {sensitivity: number, string_balance: number[]}>}
 *   | {do: "place", part: string, how: "moved" | "turned" | "tidied", places: Record<string, [number, number,
 *   number?]>}} Change  A thing to do to a draft;
 *   server/README.md says what each means.
 * @typedef {{edits: Edit[], name: string, notes: string[], part: string, missing: string[]}} Changed  All
 *   edits of the draft, what was done and what followed in words, the part to look at.
 * @typedef {{name: string, title: string, about: string, strokes: string, size: [number, number], count:
 *   number}} Addition  count: how often its drawing stands side by side
 *
 * @typedef {{where: string, got: string, allowed: string, hint?: string}} Problem
 * @typedef {{together_db: (number | null)[], coils: Record<string, (number | null)[]>}} Curves
 * @typedef {{frequencies_hz: number[], settings: Curves[]}} Response
 * @typedef {{frequencies_hz: number[], curves: {value: number, together_db: (number | null)[]}[], evenness:
 *   number[]}} Fan
 *
 * @typedef {{name: string, kind: string, about: string, pair: string, coupling: number,
 *   fields: Record<string, string>}} LibraryPart
 * @typedef {{id: string, name: string, kind: string, seconds: number | null, coil_places: string, warnings:
 *   string[], state?: "waiting" | "ready" | "broken", problems?: Problem[]}} Take
 * @typedef {{id: string, number: number, note: string, created: string}} Version
 * @typedef {{id: string, name: string, file?: string | null, versions: Version[]}} WiringRow
 * @typedef {{id: string, title: string, client: string, archived: string | null, state: Record<string, any>,
 *   wirings: WiringRow[]}} Commission
 * @typedef {{id: string, title: string, client: string, created: string, changed: string, archived: string |
 *   null, wirings: {id: string, name: string, version: string}[]}} CommissionRow
 * @typedef {{name: string, title: string, about: string, scale: string, coils: {name: string, like:
 *   string}[]}} Starter
 * @typedef {{name: string, title: string, strings: string[]}} StringSet
 * @typedef {{instrument?: {scale?: string, set?: string}, coils?: Record<string, string>}} Fitting
 *   Differences from a starter.
 * @typedef {object} Sound  A position at a knob setting.
 * @property {string} position
 * @property {boolean} on  offered
 * @property {boolean} more  the same position once more, with other knobs
 * @property {Record<string, number> | null} knobs  null: as the bench has them
 * @property {string} label  empty: found from position and knobs
 *
 * @typedef {object} Alternative  A wiring that is offered.
 * @property {string} version
 * @property {string} name  what the customer reads; the workshop's own name stays in the workshop
 * @property {string} price
 * @property {string} when_ready
 * @property {string[] | null} kept  parts that the instrument has; null: its pickups
 * @property {"" | "parts" | "cables"} [farthest]  whether the farthest two of ten guitars are heard besides,
 *   with one cable or each with its player's
 * @property {Sound[]} sounds
 *
 * @typedef {object} Offering
 * @property {string} title
 * @property {string} days
 * @property {string[]} takes
 * @property {string[]} ways  in which it may be heard, the one heard first at the start
 * @property {Alternative[]} wirings
 *
 * @typedef {object} Wished  What became of a wish.
 * @property {number | null} [sound]  the one with its settings
 * @property {number | null} [making]  rendered share of it
 * @property {string} [label]  of that sound
 * @property {string} [problem]  why it could not be made
 *
 * @typedef {SaidByCustomer & Wished} CustomerSaid
 * @typedef {object} SaidByCustomer  A note, or a wish for knobs.
 * @property {string} [id]
 * @property {number | null} number
 * @property {string} [text]
 * @property {Record<string, number>} [knobs]
 * @property {number} [place]
 * @property {string} [when]
 * @property {boolean} [taken_back]
 * @property {{id: string, text: string, when: string}[]} [replies]
 *
 * @typedef {object} Proposal
 * @property {string} id
 * @property {string} title
 * @property {string} [created]
 * @property {string | null} [expires]
 * @property {boolean | string | null} [revoked]
 * @property {string | null} [seen]
 * @property {string[]} [ways]  in which it may be heard, the one heard first at the start
 * @property {number[]} [favourites]
 * @property {CustomerSaid[]} [comments]
 * @property {CustomerSaid[]} [wishes]
 * @property {number} [place]  newest of what was said
 * @property {number} [looked]  up to which place the workshop has seen
 * @property {number} [unread]  how much of the customer's came after that
 * @property {{label: string, name: string, date: string} | null} [signoff]  label: of what was chosen
 * @property {number} [ready]  rendered share of its clips
 * @property {string[]} [failed]
 * @property {{wiring: number, cables: boolean, making: number | null, problem: string}[]} [farthest]  of the
 *   wirings that have them
 * @property {{number: number, name: string}[]} [wirings]
 * @property {"open" | "signed" | "expired" | "revoked"} [state]
 * @property {number} [after]
 * @property {{number: number, label: string}[]} [items]
 * @property {Answer[]} [answers]  newest first
 *
 * @typedef {{label: string, name: string, date: string, state: "signed" | "signed before" | "second" |
 *   "waiting"}} AnswerSignature  waiting: for a word from the customer
 * @typedef {{kind: string, asks: boolean, [fact: string]: any}} AnswerWarning  asks: a signature waits
 * @typedef {object} Answer  what came back as a sealed text
 * @property {string} sha256
 * @property {string} proposal
 * @property {string} commission
 * @property {string} commission_title
 * @property {string} title
 * @property {string} sent
 * @property {string} written  by the customer's clock
 * @property {string} received
 * @property {{number: number, label: string}[]} items
 * @property {number[]} favourites
 * @property {{number: number | null, text: string}[]} notes
 * @property {({number: number, knobs: Record<string, number>} & Wished)[]} wishes
 * @property {"open" | "signed" | "expired" | "revoked"} [state]  of its proposal
 * @property {number[]} heard
 * @property {AnswerSignature | null} signature
 * @property {AnswerWarning[]} warnings
 * @property {boolean} [again]  it was taken in before
 *
 * @typedef {{right: number, chance: number, heard: boolean, drawn: string, answers: string}} BlindScore
 *   drawn, answers: A or B per trial
 * @typedef {object} BlindTest
 * @property {string} id
 * @property {"making" | "open" | "done" | "given up" | "failed"} state
 * @property {string} problem
 * @property {string} created
 * @property {string | null} ended
 * @property {string} take_name
 * @property {Slot[]} sounds
 * @property {string} way  in which both are heard, by name
 * @property {string} heard  that way in words
 * @property {number} trials
 * @property {number} needed
 * @property {{largest_db: number, heard: string} | null} computed  of the two sounds, once it is done
 * @property {number} answered
 * @property {BlindScore | null} score  only after the last answer
 * @property {{number: number, clips: Record<"A" | "B" | "X", string>} | null} [trial]  the current trial and
 *   the addresses of its clips
 * @typedef {{tests: BlindTest[], lengths: {trials: number, needed: number}[], longest_s: number,
 *   measure: {computed: string, tests: number, shown: number}[]}} BlindTests
 */
export {};
