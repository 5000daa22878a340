// Fields that save when they are left: Enter goes to the next, and nothing typed is ever lost. The bench and the log share this.
"use strict";

const surface = document.querySelector("[data-entries]");
const ALARM_AFTER = 8 * 3600 * 1000;
// What a page adds: `answered` hears what an answer tells besides its parts.
// `refused` may take a refusal that has its own place, and says whether it did.
const hooks = { answered: [], refused: [] };
const SIGN = { saved: "saved", waiting: "waiting", refused: "refused", asked: "needs a word" };

const panel = () => document.getElementById("panel");
const rowOf = (data) => document.querySelector(`[data-row="${data.position}"][data-characteristic="${data.characteristic}"]`);
const valueOf = (row) => row.querySelector("[data-value]");
const feelerOf = (row) => row.querySelector("[data-feeler]");
const nameOf = (row) => row.dataset.name ?? row.dataset.row;
// What is typed or chosen once above the fields and goes along with every reading.
const withAll = () => Object.fromEntries([...document.querySelectorAll("[data-with]")].map((field) => [field.name, field.value.trim()]));
const dataOf = (row) => ({ position: row.dataset.row, characteristic: row.dataset.characteristic });
const keyOf = (data) => [surface.dataset.place, data.position, data.characteristic, panel()?.dataset.pack ?? ""].join("|");

function showState(row, state) {
  const sign = row.querySelector("[data-kept-sign]");
  sign.className = "kept" + (state ? ` is-${state}` : "");
  sign.textContent = SIGN[state] ?? "";
}

function button(words, act, main = false) {
  const made = document.createElement("button");
  made.type = "button";
  made.textContent = words;
  made.className = main ? "primary" : "";
  made.addEventListener("click", act);
  return made;
}

function ask(box, sentence, buttons) {
  const words = document.createElement("p");
  words.textContent = sentence;
  const acts = document.createElement("p");
  acts.className = "acts";
  acts.append(...buttons);
  box.replaceChildren(words, acts);
  box.hidden = false;
}

const queue = new EntryQueue(surface.dataset.person, {
  extras: () => ({ open: panel()?.dataset.address ?? "" }),
  changed: showWaiting,
  kept: entryKept,
  refused: showRefusal,
  loginNeeded: () => {
    showWaiting();
    // On an enrolled tablet the lock of the bench asks, for a PIN too.
    const asked = !document.dispatchEvent(new CustomEvent("log-in-needed", { cancelable: true }));
    if (!asked) document.getElementById("login-again").showModal();
  },
});

// ---- saving -------------------------------------------------------------------------------------------------------

function readingOf(row, more = {}) {
  const at = panel().dataset;
  const id = makeId();
  return {
    id, url: surface.dataset.save, key: keyOf(dataOf(row)), about: surface.dataset.about ?? "",
    data: {
      client_id: id, by: surface.dataset.person, ...dataOf(row),
      value: valueOf(row).value.trim(), unit: row.dataset.unit ?? surface.dataset.unit, foot_feeler: feelerOf(row)?.value.trim() ?? "",
      instrument: document.getElementById("instrument")?.value ?? at.instrument ?? "", pack: at.pack ?? "", set: row.dataset.set ?? "", taken_at: new Date().toISOString(), ...withAll(), ...more,
    },
  };
}

function send(row, more = {}) {
  const input = valueOf(row);
  const refused = queue.entries.find((entry) => entry.refusal && entry.key === keyOf(dataOf(row)));
  if (refused) queue.drop(refused.id);
  const entry = readingOf(row, more);
  input.dataset.kept = entry.id;
  input.dataset.keptText = entry.data.value;
  input.dataset.keptFeeler = entry.data.foot_feeler;
  row.querySelector("[data-asked]").hidden = true;
  showState(row, "waiting");
  return queue.add(entry);
}

function leave(row) {
  const input = valueOf(row);
  const text = input.value.trim();
  const feeler = feelerOf(row)?.value.trim() ?? "";
  const kept = input.dataset.kept;
  if (!text || (text === input.dataset.keptText && feeler === input.dataset.keptFeeler)) {
    if (kept && text) { dropUnanswered(row); row.querySelector("[data-asked]").hidden = true; }
    return;
  }
  const entry = kept && queue.find(kept);
  if (kept && !entry?.refusal) return askWhy(row, kept);
  send(row);
}

// A value that is in the book is never overwritten: say what the new one is.
// The question is kept like a refused entry until it is answered: leaving the page loses nothing.
function askWhy(row, kept) {
  dropUnanswered(row);
  const entry = readingOf(row);
  entry.refusal = {
    why: kept, offers: [],
    sentence: `${nameOf(row)} is in the book as ${valueOf(row).dataset.keptText}. What is ${valueOf(row).value.trim()}?`,
  };
  queue.hold(entry);
  showWhy(entry, row);
}

function showWhy(entry, row) {
  const { why, sentence } = entry.refusal;
  valueOf(row).value = entry.data.value;
  if (feelerOf(row)) feelerOf(row).value = entry.data.foot_feeler ?? "";
  showState(row, "asked");
  const answer = (more) => { queue.drop(entry.id); send(row, more); };
  const because = (reason) => button(reason, () => answer({ corrects: why, reason }));
  ask(row.querySelector("[data-asked]"), sentence, [
    because("Typed wrong before"), because("Gauge was not seated"),
    button("A second reading", () => answer({})),
    button("Leave it as it was", () => { queue.drop(entry.id); restore(row); }),
  ]);
}

function dropUnanswered(row) {
  const held = queue.entries.find((entry) => entry.refusal?.why && entry.key === keyOf(dataOf(row)));
  if (held) queue.drop(held.id);
}

function restore(row) {
  const input = valueOf(row);
  input.value = input.dataset.keptText;
  if (feelerOf(row)) feelerOf(row).value = input.dataset.keptFeeler;
  row.querySelector("[data-asked]").hidden = true;
  showState(row, queue.find(input.dataset.kept) ? "waiting" : "saved");
}

function entryKept(entry, answer) {
  const row = entry.data.position && rowOf(entry.data);
  if (row && valueOf(row)?.dataset.kept === entry.id && valueOf(row).value.trim() === entry.data.value) showState(row, "saved");
  if (entry.refresh) return reopen();
  apply(answer);
}

// Put each part of an answer in its place. Fields are not among the parts, so a slow answer never writes into one.
function apply(answer) {
  const parts = document.createElement("template");
  parts.innerHTML = answer;
  const told = parts.content.querySelector("#answer-for")?.dataset;
  const stand = told?.address;
  const focused = document.activeElement?.id;
  for (const part of [...parts.content.children]) {
    const place = document.getElementById(part.id);
    if (!place || (stand !== panel()?.dataset.address && part.id !== "next")) continue;
    place.replaceWith(part);
    htmx.process(part);
  }
  hooks.answered.forEach((hear) => hear(told));
  if (focused && document.activeElement?.id !== focused) document.getElementById(focused)?.focus();
}

function reopen() {
  const here = document.querySelector("[data-here]").dataset.here;
  if (document.getElementById("board")) htmx.ajax("GET", here, { target: "#board" });
  else location.assign(here);
}

// ---- refusals -----------------------------------------------------------------------------------------------------

function showRefusal(entry) {
  const { sentence, offers, question } = entry.refusal;
  const again = (more) => {
    queue.drop(entry.id); // in one breath with the adding below: nobody sees "all saved" in between
    const id = makeId();
    const data = { ...entry.data, ...more, client_id: id };
    const row = rowOf(data);
    if (row && valueOf(row)) {
      valueOf(row).value = data.value;
      Object.assign(valueOf(row).dataset, { kept: id, keptText: data.value, keptFeeler: data.foot_feeler });
      row.querySelector("[data-asked]").hidden = true;
      showState(row, "waiting");
    }
    queue.add({ ...entry, id, data, refusal: undefined });
  };
  if (hooks.refused.some((hear) => hear(entry))) return;
  if (entry.refusal.why) {
    const place = entry.key === keyOf(entry.data) && rowOf(entry.data);
    return place ? showWhy(entry, place) : listRefused();
  }
  const field = entry.refusal.field in entry.data ? entry.refusal.field : "value";
  const above = document.querySelector(`[data-with][name="${field}"]`);
  const take = (offer) => { if (above) above.value = offer; again({ [field]: offer }); };
  const buttons = entry.data.value === undefined ? [] : offers.map((offer) => button(offer, () => take(offer), true));
  if (question) buttons.push(button("Yes, it is meant", () => again({ sure: "yes" })));
  const row = entry.data.position && entry.key === keyOf(entry.data) && rowOf(entry.data);
  // What stood in the way may be gone: a log opened again, or mended where it is typed above the fields.
  if (!question) buttons.push(button("Send it again", () => again(row ? withAll() : {})));
  if (row) {
    const input = valueOf(row);
    input.value = entry.data.value ?? input.value;
    if (feelerOf(row)) feelerOf(row).value = entry.data.foot_feeler ?? "";
    Object.assign(input.dataset, { kept: entry.id, keptText: entry.data.value ?? "", keptFeeler: entry.data.foot_feeler ?? "" });
    showState(row, question ? "asked" : "refused");
    buttons.push(button("Clear the field", () => { queue.drop(entry.id); reopen(); }));
    ask(row.querySelector("[data-asked]"), sentence, buttons);
  } else {
    listRefused();
  }
}

function sendAgain(entry, more = {}) {
  queue.drop(entry.id);
  // The same number again: it was never written, and the readings of a refused pack name it.
  queue.add({ ...entry, data: { ...entry.data, ...more }, refusal: undefined });
}

// Every refused entry that has no place on this screen, one below the other: none is left without a way out.
function listRefused() {
  const box = document.getElementById("stray");
  const hasPlace = (entry) => entry.key === "pack|" + panel()?.dataset.stand
    || (entry.data.position && entry.key === keyOf(entry.data) && rowOf(entry.data));
  const orphans = queue.refused.filter((entry) => !hasPlace(entry));
  box.replaceChildren(...orphans.map((entry) => {
    const part = document.createElement("div");
    const what = [entry.about, entry.data.position, entry.data.value ?? entry.data.pieces].filter(Boolean).join(", ");
    if (entry.refusal.why) {
      const because = (reason) => button(reason, () => { sendAgain(entry, { corrects: entry.refusal.why, reason }); listRefused(); });
      ask(part, `${entry.about}: ${entry.refusal.sentence}`, [
        because("Typed wrong before"), because("Gauge was not seated"),
        button("A second reading", () => { sendAgain(entry); listRefused(); }),
        button("Forget it", () => { queue.drop(entry.id); listRefused(); }),
      ]);
      return part;
    }
    const meant = entry.refusal.question ? [button("Yes, it is meant", () => { sendAgain(entry, { sure: "yes" }); listRefused(); })] : [];
    ask(part, `${what}: ${entry.refusal.sentence}`, [
      ...meant, button("Send it again", () => { sendAgain(entry); listRefused(); }),
      button("Forget this entry", () => { queue.drop(entry.id); listRefused(); }),
    ]);
    return part;
  }));
  box.hidden = orphans.length === 0;
}

function showWaiting() {
  if (!queue.loaded) return; // nobody knows yet what waits from before
  const bar = document.getElementById("waiting");
  const waiting = queue.waiting.length;
  const unanswered = queue.refused.filter((entry) => entry.refusal.why).length;
  const refused = queue.refused.length - unanswered;
  const old = queue.oldest !== null && Date.now() - queue.oldest > ALARM_AFTER;
  const words = [];
  if (waiting) words.push(`${waiting} not yet saved`);
  if (unanswered) words.push(`${unanswered} ${unanswered === 1 ? "waits" : "wait"} for a word`);
  if (refused) words.push(`${refused} refused`);
  if (old) words.push("waiting for over 8 hours: find the network, or copy them to a file");
  if (!queue.canKeep) words.push("this browser keeps nothing: stay on the page until all is saved");
  bar.querySelector("[data-waiting-words]").textContent = words.join(", ") || "All saved";
  bar.classList.toggle("is-waiting", waiting + refused + unanswered > 0);
  bar.classList.toggle("is-alarm", old || !queue.canKeep);
  bar.querySelector("[data-export]").hidden = waiting + refused + unanswered === 0;
  bar.querySelector("[data-login-open]").hidden = !queue.loginNeeded;
  bar.querySelector("[data-list-refused]").hidden = refused + unanswered === 0;
}

// After the panel is opened anew: put back what was typed for it and is not in the book yet.
function putBack() {
  for (const entry of queue.entries) {
    const row = entry.data.position && entry.key === keyOf(entry.data) && rowOf(entry.data);
    if (!row) continue;
    if (entry.refusal) { showRefusal(entry); continue; }
    const input = valueOf(row);
    input.value = entry.data.value;
    if (feelerOf(row)) feelerOf(row).value = entry.data.foot_feeler;
    Object.assign(input.dataset, { kept: entry.id, keptText: entry.data.value, keptFeeler: entry.data.foot_feeler });
    showState(row, "waiting");
  }
}

let typing = null; // what is under the hand while the board is brought anew

// ---- hands on the keys --------------------------------------------------------------------------------------------

document.addEventListener("change", (event) => {
  if (typing) return; // the field goes because the board comes anew, not because the hand left it
  const row = event.target.closest("[data-row]");
  if (row && (event.target.matches("[data-value]") || event.target.matches("[data-feeler]"))) leave(row);
});

document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !event.target.matches?.("[data-value], [data-feeler], [data-pieces]")) return;
  event.preventDefault(); // Enter moves on; it never submits and never signs
  if (event.target.matches("[data-pieces]")) { panel().querySelector("[data-fit-typed]")?.focus(); return; }
  const row = event.target.closest("[data-row]");
  if (row && event.target.matches("[data-value]")) leave(row);
  const fields = [...panel().querySelectorAll("[data-value], [data-feeler]")];
  const after = fields.slice(fields.indexOf(event.target) + 1);
  const next = event.target.matches("[data-feeler]") ? after[0] : after.find((field) => field.matches("[data-value]"));
  if (next) { next.focus(); next.select(); } else document.querySelector("#act [data-fit], #go-next")?.focus();
});

document.addEventListener("click", (event) => {
  const hit = event.target.closest("button");
  if (!hit) return;
  const row = hit.closest("[data-row]");
  if (hit.matches("[data-again]")) {
    readAgain(row);
  } else if (hit.matches("[data-more]")) {
    offerMore(row);
  } else if (hit.matches("[data-take-back]")) {
    takeBack(row);
  } else if (hit.matches("[data-login-open]")) {
    document.getElementById("login-again").showModal();
  } else if (hit.matches("[data-list-refused]")) {
    listRefused();
    document.querySelector("[data-asked]:not([hidden]), [data-pack-asked]:not([hidden]), #stray")?.scrollIntoView({ block: "center" });
  } else if (hit.matches("[data-export]")) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([queue.export()], { type: "text/csv" }));
    link.download = "not-yet-saved.csv";
    link.click();
    URL.revokeObjectURL(link.href);
  }
});

// An empty field beside what is in the book: what is typed next is one more reading of the same set.
function readAgain(row) {
  const input = valueOf(row);
  Object.assign(input.dataset, { kept: "", keptText: "", keptFeeler: "" });
  input.value = "";
  row.querySelector("[data-asked]").hidden = true;
  showState(row, "");
  input.focus();
}

// Something was changed since: what is read now is a new set, and what was found before stays in the book.
function readAfterWork(row) {
  row.dataset.set = Number(row.dataset.set || 0) + 1;
  readAgain(row);
}

function offerMore(row) {
  if (!valueOf(row).dataset.kept) return;
  const box = row.querySelector("[data-asked]");
  ask(box, `${nameOf(row)}, in the book as ${valueOf(row).dataset.keptText}:`, [
    button("Read it once more", () => readAgain(row)), button("Read it after work", () => readAfterWork(row)),
    button("Take it back", () => takeBack(row)), button("Leave it", () => { restore(row); }),
  ]);
  box.querySelector("button").focus();
}

function takeBack(row) {
  const kept = valueOf(row).dataset.kept;
  if (!kept) return; // the field was emptied a moment ago: there is nothing here to take back
  const because = (reason) => button(reason, () => {
    const id = makeId();
    row.querySelector("[data-asked]").hidden = true;
    showState(row, "waiting");
    queue.add({ id, url: surface.dataset.strike, key: "strike|" + kept, refresh: true, data: { client_id: id, by: surface.dataset.person, corrects: kept, reason } });
  });
  ask(row.querySelector("[data-asked]"), `Take back ${valueOf(row).dataset.keptText} of ${nameOf(row)}? It stays in the book, struck out. Why?`, [
    because("Wrong valve"), because("Gauge was not seated"), because("Typed wrong"), button("Keep it", () => restore(row)),
  ]);
}

// A gauge that types like a keyboard while no field is chosen: offer what it sent, do not drop it.
let stray = "";
let strayAt = 0;
const FEW_FIELDS = 8; // more than these are not offered at once: the next empty ones are
document.addEventListener("keydown", (event) => {
  if (event.target.closest?.("input, select, textarea, dialog") || event.ctrlKey || event.metaKey || event.altKey) return;
  if (Date.now() - strayAt > 1500) stray = "";
  strayAt = Date.now();
  if (/^[0-9.,+\-A-Z]$/.test(event.key)) stray += event.key;
  if (event.key !== "Enter" || !/\d[.,]?\d/.test(stray)) return;
  event.preventDefault();
  const sent = stray;
  stray = "";
  const box = document.getElementById("stray");
  const rows = [...panel().querySelectorAll("[data-row]")];
  const empty = rows.filter((row) => !valueOf(row).value);
  const into = (rows.length > FEW_FIELDS ? empty.slice(0, FEW_FIELDS) : rows).map((row) =>
    button(nameOf(row), () => { valueOf(row).value = sent; box.hidden = true; leave(row); valueOf(row).focus(); }));
  ask(box, `${sent} came while no field was chosen. Where does it belong?`, [...into, button("Forget it", () => { box.hidden = true; })]);
}, true);

// ---- log-in renewed in place --------------------------------------------------------------------------------------

document.querySelector("[data-login-later]").addEventListener("click", () => document.getElementById("login-again").close());
document.querySelector("[data-login-now]").addEventListener("click", async () => {
  const dialog = document.getElementById("login-again");
  const said = dialog.querySelector("[data-login-error]");
  said.textContent = "";
  try {
    const page = new DOMParser().parseFromString(await (await fetch(surface.dataset.login)).text(), "text/html");
    const token = page.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
    const body = new URLSearchParams({ username: surface.dataset.username, password: dialog.querySelector("input").value, csrfmiddlewaretoken: token });
    const answer = await fetch(surface.dataset.login, { method: "POST", body, redirect: "manual" });
    if (answer.status === 403 || answer.status === 429) { said.textContent = "Too many wrong passwords: this name is closed for a quarter of an hour. What you typed waits here."; return; }
    if (answer.type !== "opaqueredirect") { said.textContent = "That password does not open the book. Type it again."; return; }
  } catch { said.textContent = "No network yet. What you typed waits here; try again in a moment."; return; }
  dialog.querySelector("input").value = "";
  dialog.close();
  queue.loggedIn();
});

document.addEventListener("log-in-renewed", () => queue.loggedIn());
window.addEventListener("online", () => { queue.failures = 0; queue.pump(); });
window.addEventListener("focus", () => { queue.pump(); });
window.addEventListener("beforeunload", (event) => { if (!queue.canKeep && queue.entries.length) event.preventDefault(); });
function focusFirst() {
  const at = panel()?.dataset.focus;
  const row = at && document.querySelector(`[data-row="${at}"]`);
  const waits = (each) => !valueOf(each).value && !("optional" in valueOf(each).dataset);
  const first = row || [...document.querySelectorAll("[data-row]")].find(waits);
  if (first && !location.hash) valueOf(first)?.focus({ preventScroll: !document.getElementById("board") });
}

// What is being typed while the board is brought anew stays: in its field, with the hand still on it.
document.addEventListener("htmx:beforeSwap", (event) => {
  const field = event.detail.target?.id === "board" ? document.activeElement : null;
  const row = field?.closest?.("[data-row]");
  typing = row && field.value !== (field.dataset.keptText ?? row.dataset.keptFeeler ?? "") ? { id: field.id, value: field.value } : null;
});
document.addEventListener("htmx:afterSwap", (event) => {
  if (event.detail.target?.id !== "board") return;
  putBack();
  const carried = typing;
  typing = null;
  const field = carried && document.getElementById(carried.id);
  if (!field) return focusFirst();
  field.value = carried.value;
  field.focus();
});
document.addEventListener("htmx:sendError", () => {
  const box = document.getElementById("stray");
  ask(box, "No network: what is open here can still be read. It waits on this tablet and goes in when the network is back.", [button("Understood", () => { box.hidden = true; })]);
});
setInterval(showWaiting, 60000);

queue.load().then(() => { putBack(); if (queue.refused.length) listRefused(); focusFirst(); });
