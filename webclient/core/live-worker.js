/** The live view in a worker: the page's own thread stays free for the thumb. */

/** @import {Order} from "./live-view.js" */

import { LiveView } from "./live-view.js";

const view = new LiveView((report, transfer = []) => self.postMessage(report, { transfer }));

self.addEventListener("message", (/** @type {MessageEvent<Order>} */ message) => {
  view.obey(message.data);
});
