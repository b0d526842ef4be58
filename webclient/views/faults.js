/** Shows what went wrong in the page itself. Loaded first and needs nothing else. */

const bar = /** @type {HTMLElement} */ (document.getElementById("faults"));

/** @param {unknown} fault */
function show(fault) {
  const says = fault instanceof Error ? fault.message : String(fault);
  bar.textContent = `Fault in the page: ${says}. Reload the page; what was kept is safe.`;
  bar.hidden = false;
}

window.addEventListener("error", (event) => show(event.error ?? event.message));
window.addEventListener("unhandledrejection", (event) => show(event.reason));
