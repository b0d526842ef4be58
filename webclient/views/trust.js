/** The page that leads a phone to trust this computer; who trusts it already is sent on at once. */

const ONWARD = ["/", "/handset"];
const say = /** @type {HTMLElement} */ (document.getElementById("trust-state"));
const on = /** @type {HTMLAnchorElement} */ (document.getElementById("trust-on"));
const file = /** @type {HTMLAnchorElement} */ (document.getElementById("trust-file"));
const fingerprint = /** @type {HTMLElement} */ (document.getElementById("trust-fingerprint"));

const wanted = new URLSearchParams(location.search).get("to") ?? "";
const secure = `https://${location.host}`;
// The code of a scanned address stands in the fragment, and goes along.
on.href = secure + (ONWARD.includes(wanted) ? wanted : "/") + location.hash;

/** Whether this browser already trusts the computer: it then gets an answer over HTTPS. */
async function isTrusted() {
  try {
    await fetch(`${secure}/trusted`, { mode: "no-cors", cache: "no-store", signal: AbortSignal.timeout(5000) });
    return true;
  } catch {
    return false;
  }
}

async function lead() {
  const answer = await fetch("/trust.json", { cache: "no-store" });
  const facts = await answer.json();
  fingerprint.textContent = facts.fingerprint;
  if (!facts.secure) {
    say.textContent = "This service runs without --secure. Start it with standclear serve --secure, then open this page again.";
    file.hidden = true;
    return;
  }
  if (await isTrusted()) {
    say.textContent = "This browser trusts the computer beside the set.";
    if (location.protocol === "http:" && ONWARD.includes(wanted)) location.replace(on.href);
  }
}

void lead();
