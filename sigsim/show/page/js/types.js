/* The shapes that travel between Python and the modules of the page; no code. */

/**
 * Where something stands in the board file. Python makes it and takes it back in an edit; the page
 * never looks inside.
 * @typedef {unknown} At
 */

/**
 * One thing on the line.
 * @typedef {object} Item
 * @property {"cable"|"joint"|"tap"|"split"|"box"|"loop"} kind a joint is a gap without a cable
 * @property {string} key its own on this board, kept from one answer to the next: focus follows it
 * @property {string} name what a person calls it
 * @property {At} [at] for edits of it; missing where this file does not hold it (an included board)
 * @property {At} [gap] for what is put in here: a cable or a joint in which a box can go
 * @property {number} [length] of a cable or a tap [m]
 * @property {string} [lengthText] the same as the file writes it: "15 ft"
 * @property {string} [unit] of the length as written: "m", "cm", "ft", "in"
 * @property {string} [cable] the name of its kind of cable: "lead"
 * @property {boolean} [lead] the instrument's own lead
 * @property {boolean} [wiring] its length is that of `[wiring]`, so that none is written on the line
 * @property {boolean} [unwritten] it stands in no line of the file: `[wiring]` or the layout puts it
 * @property {boolean} [laid] its length follows from the layout
 * @property {string} [ending] of a tap: "open end"
 * @property {number} [s] number of its switch; missing where it has none
 * @property {number} [on] number of its step when on
 * @property {number} [off] number of its step when off
 * @property {boolean} [ion] whether the ideal reference keeps it when on
 * @property {boolean} [ioff] whether the ideal reference keeps it when off
 * @property {number|number[]} [yon] input admittance when on: it isolates then
 * @property {number|number[]} [yoff] input admittance when off: it isolates then
 * @property {string} [bypass] "true", "buffered" or "hardwire" for what can be off
 * @property {boolean} [pickup] it wants to see the pickup
 * @property {string} [part] that it was made from
 * @property {string} [board] title of the included board that a loop holds
 * @property {string} [boardFile] its file, to be opened in a window of its own
 * @property {boolean} [turned] of a split whose inside is the way to the end listened at
 * @property {string} [end] of a split: what it ends at
 * @property {At} [endAt] of a split: for edits of what it ends at
 * @property {boolean} [openEnd] of a split that ends at nothing
 * @property {Item[]} [inside] of a loop or split, wired
 */

/**
 * A state with a button.
 * @typedef {object} Named
 * @property {string} name
 * @property {string} title
 * @property {"off"|"scene"|"worst"} kind
 * @property {number[]} on numbers of switches
 * @property {number} [board] numbers in the pool, on a page with scenes only
 * @property {number|number[]} [splits]
 * @property {number} [reference]
 * @property {number} [bare]
 */

/**
 * A board as the browser computes with it and draws it. All constants come from Python.
 * @typedef {object} BoardData
 * @property {boolean} live whether any state can be computed, or only the stored scenes
 * @property {string} title
 * @property {number} size of every array
 * @property {number} points of the grid
 * @property {number} low [Hz]
 * @property {number} high [Hz]
 * @property {[number, number, number]} drawn lowest and highest frequency drawn [Hz], how many
 * @property {{level: number, loss: number[], treble: number[]}} exact
 * @property {number[]} lossAt [Hz]
 * @property {[number|null, string][]} words
 * @property {[number, number]} trebleBand [Hz]
 * @property {number} levelSaid a change of level this large is said [dB]
 * @property {number} weakSaid a segment that loses this much by itself is said to be weak [dB]
 * @property {{search: number[], halfPower: number, leastResonance: number, silent: number}} metrics
 * @property {"ideal"|"direct"|"bare"} reference
 * @property {number|number[]} factor
 * @property {string} allOff
 * @property {string} silence why nothing comes out, where that hangs on no switch
 * @property {{s: number, on: boolean, text: string}[]} silences why, where a switch stands so
 * @property {string} instrument
 * @property {boolean} active the instrument is an active one
 * @property {At} [instrumentAt]
 * @property {string} destination
 * @property {At} [destinationAt]
 * @property {string[]} ends where one can listen; the first is the end of the chain
 * @property {string} at where one listens now
 * @property {string[]} switches their names by number
 * @property {string[]} [keeps] by what names they keep their positions from one board to the next, if not by their own
 * @property {Named[]} states all off, the scenes, the worst of all
 * @property {Item[]} chain
 * @property {number[][]} [steps]
 * @property {(number|number[])[]} [start]
 * @property {number|number[]} [load]
 * @property {number[]} [direct]
 * @property {string[]} pool
 */

/**
 * What the server says of the document after each step.
 * @typedef {object} Answer
 * @property {number} revision
 * @property {string} title
 * @property {string} file its name
 * @property {boolean} unsaved
 * @property {string|null} undo the last step in words
 * @property {string|null} redo
 * @property {string} words of what was just done; "" for nothing
 * @property {BoardData} board
 * @property {BoardData} [saved] the board as the file on disk has it; comes at load and after saving
 * @property {string} variant that is shown; "" as written
 * @property {{name: string, words: string}[]} variants
 * @property {string[]} cautions
 */

/**
 * A change of the board.
 * @typedef {object} Edit
 * @property {string} do a word of EDITS in sigsim/live/edits
 * @property {At} [at]
 * @property {At} [gap]
 * @property {string} [length] as a person writes it: "15 ft"
 * @property {string} [part]
 * @property {string} [name]
 * @property {number} [by] boxes of its level to go past, earlier is negative
 * @property {string} [join] steps that follow each other with the same word here are one
 * @property {string[]} [on] names of switches
 * @property {Record<string, string|boolean|null>} [keys]
 * @property {string} [text] the whole file
 * @property {"box"|"loop"|"split"|"tap"|"cable"} [kind] of what is put in; a box where none is said
 * @property {string} [to] another name
 */

/**
 * What is wrong, in the words of the command line.
 * @typedef {object} Fault
 * @property {string} text all of it in one line
 * @property {string} what
 * @property {string} [where]
 * @property {string} [found]
 * @property {string} [accepted]
 * @property {string} [nearest]
 * @property {number} [line] of the file, from 1
 * @property {Fault[]} [faults] all that is wrong, where the whole text was sent
 */

/**
 * The numbers and responses of one state.
 * @typedef {object} Found
 * @property {Response1} N now
 * @property {Response1} R its reference
 * @property {Response1} B the same state with no cable at all: the zero line
 * @property {number} level [dB]
 * @property {number[]} losses [dB]
 * @property {number} treble [dB]
 * @property {number} withLead [dB]
 * @property {number} direct treble loss against the lead straight into the destination [dB]
 * @property {string} word
 * @property {number|null} corner [Hz]
 * @property {{frequency: number, height: number}|null} resonance
 * @property {number|null} referenceCorner
 * @property {{frequency: number, height: number}|null} referenceResonance
 * @property {{frequency: number, height: number}|null} bareResonance
 */

/** @typedef {{re: Float64Array, im: Float64Array, by: {re: Float64Array, im: Float64Array}}} Response1 */

/**
 * How a thing on the line is drawn in a state.
 * @typedef {object} Drawn
 * @property {boolean} heard it is in the signal (not in a loop that is out)
 * @property {boolean} hot it hangs on the pickup
 * @property {boolean} isolates now
 * @property {number} weak what its segment loses by itself [dB], where that is `weakSaid` or more; else 0
 */

/**
 * What the strip says in a state.
 * @typedef {object} Summary
 * @property {number} wire all cables of the way [m]
 * @property {number} beside cables of taps and splits [m]
 * @property {number} onPickup cables up to the first isolator's input [m]
 * @property {number} boxes stages and loops up to and with the first isolator's input
 * @property {{name: string, db: number}[]} weak which output drives its cable weakly
 */

/**
 * The page's model of one board.
 * @typedef {object} Model
 * @property {BoardData} data
 * @property {(on: Set<number>) => Found} state
 * @property {(named: Named) => Found} stored
 * @property {(response: Response1) => number[]} curve [dB] at `drawn`
 * @property {(response: Response1, hertz: number) => number} at [dB]
 * @property {number[]} drawn [Hz]
 * @property {(on: Set<number>) => string} heard a name that equal states share
 * @property {(on: Set<number>) => Map<string, Drawn>} line by key
 * @property {(on: Set<number>) => Summary} summary
 */

/**
 * Something worth trying in the state that is shown.
 * @typedef {object} Worth
 * @property {string} words "a buffer after bilge fuzz"
 * @property {Edit} edit
 * @property {number} now [dB]
 * @property {number} then [dB]
 * @property {number} worst of all states after it [dB]
 * @property {boolean} withLead whether these are the numbers with the lead
 */

/**
 * A gap with a buffer in hand.
 * @typedef {object} GapOffer
 * @property {string} key of the cable or joint
 * @property {number|null} then treble loss of the state shown [dB]; null where the loop is out
 * @property {number|null} worst [dB]
 * @property {string} refused why not; "" where it may
 * @property {string} says "the loop is out" or ""
 * @property {Edit} [edit]
 */

export {};
