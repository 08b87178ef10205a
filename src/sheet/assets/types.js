// What the program sends and takes, as types only.

/**
 * @typedef {{ row: string, field: string, from: number|null, to: number|null, message: string, hint: string|null, line: number|null }} Problem
 * @typedef {{ kind: string, parameters: string[] }} Kind
 * @typedef {{ name: string, label: string, unit: string|null }} Name
 * @typedef {{ name: string, shape: string }} FunctionName
 * @typedef {{ name: string, value: number }} Parameter
 * @typedef {{ at: number, parameter: string }} Handle
 *
 * @typedef {object} Row
 * @property {string} id
 * @property {string} section
 * @property {"input"|"choice"|"path"|"working"|"result"} sort
 * @property {string} name
 * @property {string|null} label
 * @property {string|null} group
 * @property {string|null} unit
 * @property {string|null} base
 * @property {boolean} base_editable
 * @property {string|null} kind
 * @property {Parameter[]} parameters
 * @property {string|null} given
 * @property {Handle[]} handles
 * @property {[number, number][]} shape
 * @property {string|null} formula
 * @property {string|null} p10
 * @property {string|null} p50
 * @property {string|null} p90
 * @property {string|null} span
 * @property {number|null} span_share
 * @property {string|null} source
 * @property {string|null} as_of
 * @property {string|null} note
 * @property {string[]} reads
 * @property {string[]} read_by
 * @property {boolean} first_view
 *
 * @typedef {object} State
 * @property {number} version
 * @property {string} title
 * @property {string|null} question
 * @property {string} currency
 * @property {string} file
 * @property {boolean} unsaved
 * @property {boolean} can_undo
 * @property {boolean} can_redo
 * @property {Problem[]} problems
 * @property {string[]} cautions
 * @property {Kind[]} kinds
 * @property {Name[]} names
 * @property {FunctionName[]} functions
 * @property {Row[]} rows
 *
 * @typedef {{ id: string, p10: string|null, p50: string|null, p90: string|null, span: string|null, span_share: number|null }} RowAnswer
 * @typedef {{ id: string, label: string, base: string|null, p10: string|null, p50: string|null, p90: string|null, share: string|null }} Result
 * @typedef {{ name: string, title: string, finding: string|null, svg: string }} Chart
 * @typedef {{ name: string, sentences: string[], odds: string|null, results: Result[] }} Pin
 *
 * @typedef {object} Answer
 * @property {number} version
 * @property {number} runs
 * @property {number} of
 * @property {boolean} last
 * @property {boolean} stale
 * @property {string[]} sentences
 * @property {string|null} odds
 * @property {string|null} odds_of
 * @property {string|null} cautions
 * @property {RowAnswer[]} rows
 * @property {Result[]} results
 * @property {Chart[]} charts
 * @property {Pin[]} pins
 * @property {string[]} notes
 *
 * @typedef {{ op: "set", row: string, field: string, value: string }} SetEdit
 * @typedef {{ op: "add", section: string, after: string|null, name: string, label: string }} AddEdit
 * @typedef {{ op: "delete", row: string }} DeleteEdit
 * @typedef {{ op: "move", row: string, before: string|null }} MoveEdit
 * @typedef {SetEdit|AddEdit|DeleteEdit|MoveEdit} Edit
 *
 * @typedef {{ message: string, hint: string|null, edit: number }} Refused
 * @typedef {"first"|"workings"} View
 */

export {};
