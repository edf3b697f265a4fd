/* The shapes of what the server says when it is asked for something else than a step; no code. */

/** @import { Carrier } from "./store.js" */
/** @import { Answer, At, Fault, GapOffer, Worth } from "./types.js" */

/**
 * A part that can be chosen.
 * @typedef {object} PartOffer
 * @property {string} part its name in a board file
 * @property {string} kind "stage", "cable", "instrument", "destination" or "pickup"
 * @property {string} summary
 * @property {string} role what a player calls such a thing ("fuzz"); "" for none
 * @property {boolean} isolates
 * @property {string[]} [aliases] what players may call it
 */

/** @typedef {{value: string, words: string}} Choice */

/**
 * Something of a thing that may be changed by `{"do": "set", at, keys: {KEY: VALUE}}`.
 * @typedef {object} Field
 * @property {string} key of the board file
 * @property {string} words what a player calls it
 * @property {"knob"|"text"|"choice"|"switch"} kind a knob runs from 0 to 10
 * @property {string|boolean|null} value as written; null where none is
 * @property {string} [standard] what holds while none is written
 * @property {Choice[]} [choices]
 */

/**
 * A figure of a thing with where it comes from.
 * @typedef {object} Figure
 * @property {string} key of the board file
 * @property {string} words what it is
 * @property {string} value as written, with its unit
 * @property {string} source
 * @property {string} [tolerance]
 */

/**
 * One thing from nearby.
 * @typedef {object} Details
 * @property {Field[]} fields what may be changed, the knobs first
 * @property {Figure[]} figures
 * @property {string[]} [offers] words of `do` that this thing allows beside the usual ones: "loop-around", "loop-away"
 * @property {string} [part]
 * @property {string[]} [cables] names of the file's kinds of cable, for a cable
 */

/**
 * The board file as text.
 * @typedef {object} FileText
 * @property {string} text
 * @property {number[]} changed lines that differ from what is saved, from 1
 * @property {string} saved
 */

/**
 * A piece of a document.
 * @typedef {object} Block
 * @property {"heading"|"text"|"list"|"table"|"folded"} kind
 * @property {string} [text] of a heading
 * @property {string} [title] of what is folded away
 * @property {string[]} [lines] of a text, a list or what is folded away
 * @property {boolean} [quiet]
 * @property {string} [caption] of a table, as all that follows
 * @property {string[]} [columns]
 * @property {number[]} [numbers] columns of numbers
 * @property {string[][]} [rows]
 * @property {number[]} [groups] rows that are headings of those below
 * @property {number[]} [bars] a share of 1 for each row
 */

/** @typedef {{id: string, title: string, blocks: Block[]}} Section */

/**
 * What a board is made from where there is none.
 * @typedef {object} Answers
 * @property {string} instrument a part
 * @property {string} destination a part; "" for the usual amp
 * @property {{name: string, part: string}[]} pedals in the order of the signal; a name may be "", a part too
 * @property {string} lead length as a person writes it
 * @property {string} toAmp
 */

/**
 * What stands beside the document, in answers and in what windows hear.
 * @typedef {object} Beside
 * @property {string} disk "same", or what happened to the file outside
 * @property {string} draft why unsaved work cannot be kept; "" where it can
 * @property {{when: string}|null} offer unsaved work of an earlier time
 */

/**
 * A file that is no board.
 * @typedef {object} Broken
 * @property {string} text
 * @property {Fault[]} faults
 * @property {string} file its name
 * @property {number} revision
 */

/**
 * @typedef {object} Asking
 * @property {() => Promise<Answer|{start: object}|{broken: Broken}>} document
 * @property {(listener: (news: Partial<Beside> & {revision?: number}) => void) => () => void} events ends it when called
 * @property {(on: string[], signal?: AbortSignal) => Promise<{list: Worth[]}>} worth
 * @property {(part: string, on: string[], signal?: AbortSignal) => Promise<{gaps: GapOffer[]}>} gaps
 * @property {() => Promise<PartOffer[]>} parts
 * @property {(at: At) => Promise<Details>} details
 * @property {() => Promise<FileText>} text
 * @property {() => string} kept the text as it was last known here, for when the server is gone
 * @property {(which: "now"|"saved", on: string[]) => Promise<string>} listen address of a sound
 * @property {(file: File) => Promise<unknown>} upload
 * @property {(choice: "keep"|"take") => Promise<unknown>} conflict of a file that was changed outside
 * @property {(choice: "take"|"drop") => Promise<unknown>} draft of unsaved work that was offered
 * @property {() => Promise<{sign: string, text: string}[]>} difference " " in both, "-" in the file, "+" here
 * @property {(answers: Answers) => Promise<Answer>} create
 * @property {(name: string) => Promise<Section>} panel
 * @property {() => string} sheetURL
 * @property {(file: string) => Promise<string>} included address of the page of a board in a loop
 * @property {() => void} leave
 */

/** @typedef {Carrier & Asking} Server */

export {};
