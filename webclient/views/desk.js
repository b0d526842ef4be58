/** What every view is given: the models, and the few things on the page that they share. */

/** @import {App} from "../models/app.js" */
/** @import {Pictures} from "../core/pictures.js" */
/** @import {LookModel} from "../models/look.js" */
/** @import {Shutter} from "../models/shutter.js" */
/** @import {LivePane} from "./live-pane.js" */

/**
 * @typedef {object} Desk
 * @property {App} app
 * @property {LookModel} look
 * @property {Shutter} shutter
 * @property {Pictures} pictures
 * @property {LivePane} live
 * @property {(view: string) => void} go
 *
 * @typedef {object} View
 * @property {HTMLElement} element
 * @property {() => void} [shown]
 * @property {() => void} [hidden]
 * @property {(event: KeyboardEvent) => boolean} [key]  true when it was taken
 */

export {};
