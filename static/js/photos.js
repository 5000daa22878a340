// Photos on their way into the book: kept in this browser with their bytes, sent one at a time until the book says that it
// has them. A picture under way survives a reload; sending one twice is harmless: each carries an id that was made here.
"use strict";

{
  const place = document.querySelector("[data-photos]");
  const part = (name) => place.querySelector(`[data-photos-${name}]`);
  const STALLED = 90000; // nothing moved for so long: begin again
  const LOGIN_LOOK = 15000;
  const SHOWN_KEPT = 4;
  const KIND_WORDS = "Send the picture as JPEG, PNG, WebP or HEIC.";

  const mostBytes = Number(place.dataset.mostBytes);
  const percent = (share) => `${Math.floor(100 * share)} %`;
  const megabytes = (bytes) => (bytes < 1e6 ? `${Math.max(1, Math.round(bytes / 1e3))} kB` : `${(bytes / 1e6).toFixed(1)} MB`);
  const pictures = (count) => `${count} picture${count === 1 ? "" : "s"}`;

  // ---- what waits ---------------------------------------------------------------------------------------------------

  let store = null;
  try { store = idbKeyval.createStore("standbook-photos", "pictures"); } catch { /* then nothing is kept, and the page says so */ }
  let canKeep = store !== null;
  let entries = []; // in the order in which they were taken; those refused stay until they are answered
  let sending = null; // the entry under way
  let loginNeeded = false;
  let offline = false;
  let failures = 0;
  let timer = null;
  let counter = 0;
  let batch = { count: 0, bytes: 0, bytesDone: 0, done: 0 };

  const waiting = () => entries.filter((entry) => !entry.refusal && !entry.answer);
  const refused = () => entries.filter((entry) => entry.refusal);

  // What is only of this page does not go into the store.
  const stored = ({ id, order, person, url, name, size, blob, about, data, refusal }) =>
    ({ id, order, person, url, name, size, blob, about, data, refusal });

  async function keep(entry) {
    if (!canKeep) return;
    try { await idbKeyval.set(entry.id, stored(entry), store); } catch { canKeep = false; }
  }

  async function forget(entry) {
    if (!canKeep) return;
    try { await idbKeyval.del(entry.id, store); } catch { canKeep = false; }
  }

  async function load() {
    if (canKeep) {
      try {
        const found = (await idbKeyval.values(store)).filter((entry) => entry.person === place.dataset.person);
        const known = new Set(entries.map((entry) => entry.id));
        entries = [...found.filter((entry) => !known.has(entry.id)), ...entries].sort((a, b) => a.order - b.order);
      } catch { canKeep = false; }
    }
    countAnew();
    show();
    pump();
  }

  function countAnew() {
    const left = waiting();
    batch = { count: left.length, bytes: left.reduce((sum, entry) => sum + entry.size, 0), bytesDone: 0, done: 0 };
  }

  // ---- taking in ----------------------------------------------------------------------------------------------------

  async function whyNot(file) {
    if (file.size === 0) return `${file.name} is empty: no byte of it is there. Choose it again, or take it anew.`;
    if (file.size > mostBytes) return `${file.name} is larger than ${mostBytes / 1e6} MB, which is the most for one photo. Set the camera to a smaller picture, or send it as JPEG.`;
    let head;
    try { head = new Uint8Array(await file.slice(0, 32).arrayBuffer()); } catch { return `${file.name} cannot be read on this device. Choose it again, or take it anew.`; }
    const text = String.fromCharCode(...head);
    const known = text.startsWith("\xff\xd8\xff") || text.startsWith("\x89PNG") || (text.startsWith("RIFF") && text.slice(8, 12) === "WEBP")
      || (text.slice(4, 8) === "ftyp" && /hei[cxms]/.test(text.slice(8)));
    return known ? "" : `${file.name} is no picture that the book keeps. ${KIND_WORDS}`;
  }

  function takenAt(file) {
    const now = Date.now();
    const told = file.lastModified > Date.UTC(2000, 0, 2) && file.lastModified <= now ? file.lastModified : now;
    return new Date(told).toISOString();
  }

  const fieldsNow = () => Object.fromEntries([...place.querySelectorAll("[data-photo-field]")].map((field) => [field.dataset.photoField, field.value.trim()]));

  async function take(files) {
    const fields = fieldsNow();
    for (const file of files) {
      const id = makeId();
      const name = file.name || "picture.jpg";
      const entry = {
        id, order: Date.now() + (counter++ % 1000) / 1000, person: place.dataset.person, url: place.dataset.upload, name, size: file.size, blob: file,
        about: [place.dataset.about, fields.position].filter(Boolean).join(" "),
        data: { client_id: id, by: place.dataset.person, ...fields, taken_at: takenAt(file) },
      };
      const sentence = await whyNot(file);
      if (sentence) {
        entries.push({ ...entry, blob: null, refusal: { sentence, final: true } });
        show();
        continue;
      }
      if (!waiting().length) countAnew();
      entries.push(entry);
      batch.count += 1;
      batch.bytes += entry.size;
      show();
      await keep(entry); // on this device first: a closed tab then loses nothing
      show();
      pump();
    }
  }

  function again(entry, more = {}) {
    Object.assign(entry, { refusal: undefined, data: { ...entry.data, ...more } });
    batch.count += 1;
    batch.bytes += entry.size;
    keep(entry);
    show();
    pump();
  }

  function remove(entry) {
    if (entry === sending) { entry.removed = true; entry.request?.abort(); }
    if (!entry.refusal && !entry.answer) { batch.count -= 1; batch.bytes -= entry.size; }
    entries = entries.filter((other) => other !== entry);
    forget(entry);
    show();
  }

  // ---- sending ------------------------------------------------------------------------------------------------------

  function later() {
    clearTimeout(timer);
    timer = setTimeout(pump, Math.min(30000, 1000 * 2 ** Math.min(failures++, 6)));
  }

  function pump() {
    if (sending || loginNeeded) return;
    const entry = waiting()[0];
    if (!entry) return;
    clearTimeout(timer);
    sending = entry;
    entry.loaded = 0;
    show();
    send(entry);
  }

  function send(entry) {
    const form = new FormData();
    for (const [name, value] of Object.entries(entry.data)) form.append(name, value);
    form.append("photo", entry.blob, entry.name);
    const request = new XMLHttpRequest();
    entry.request = request;
    let stall = null;
    const moving = () => { clearTimeout(stall); stall = setTimeout(() => request.abort(), STALLED); };
    const over = (what) => { clearTimeout(stall); delete entry.request; sending = null; what(); };
    request.open("POST", entry.url);
    request.setRequestHeader("X-CSRFToken", cookie("csrftoken"));
    request.setRequestHeader("Accept", "application/json");
    request.upload.onprogress = (event) => {
      moving();
      entry.loaded = event.lengthComputable ? event.loaded / event.total : 0;
      showProgress();
    };
    request.onload = () => over(() => answered(entry, request));
    request.onerror = request.onabort = () => over(() => { offline = !entry.removed; show(); if (entry.removed) pump(); else later(); });
    moving();
    request.send(form);
  }

  function answered(entry, request) {
    offline = false;
    let answer = null;
    try { answer = JSON.parse(request.responseText); } catch { /* a page, not an answer */ }
    if ((request.status === 403 && !answer?.sentence) || (request.status === 200 && !answer)) {
      loginNeeded = true;
      document.dispatchEvent(new CustomEvent("log-in-needed", { cancelable: true })); // the lock of the bench asks by itself
      setTimeout(lookForLogin, LOGIN_LOOK);
      return show();
    }
    if (request.status === 200) {
      batch.done += 1;
      batch.bytesDone += entry.size;
      Object.assign(entry, { answer, blob: null });
      forget(entry);
      const old = entries.filter((other) => other.answer).slice(0, -SHOWN_KEPT);
      entries = entries.filter((other) => !old.includes(other));
      document.body.dispatchEvent(new CustomEvent("photo-kept", { detail: { ...answer, fields: entry.data } }));
    } else if (request.status >= 400 && request.status < 500) {
      const sentences = { 404: "This job is not in the book any more.", 413: `${entry.name} is too large for the server.` };
      entry.refusal = answer?.sentence ? answer : { sentence: sentences[request.status] ?? `${entry.name} was not taken. Send it again; if that does not help, take it anew.` };
      batch.count -= 1;
      batch.bytes -= entry.size;
      keep(entry);
    } else {
      show();
      return later();
    }
    failures = 0;
    show();
    pump();
  }

  // ---- what is seen -------------------------------------------------------------------------------------------------

  function key(words, act, main = false) {
    const made = document.createElement("button");
    made.type = "button";
    made.textContent = words;
    made.className = main ? "primary" : "";
    made.addEventListener("click", act);
    return made;
  }

  function line(tag, text, className) {
    const made = document.createElement(tag);
    made.textContent = text;
    made.className = className;
    return made;
  }

  function stateOf(entry) {
    if (entry.answer) return "in the book";
    if (entry.refusal) return entry.refusal.question ? "needs a word" : "refused";
    if (entry !== sending) return "waiting";
    if (entry.loaded >= 1) return "sent, being looked at";
    return `sending, ${percent(entry.loaded)}`;
  }

  function keysOf(entry) {
    if (entry.answer) {
      const link = line("a", "Open", "button");
      link.href = entry.answer.page;
      return [link];
    }
    const name = (words) => { const made = document.createElement("span"); made.className = "hidden-word"; made.textContent = ` ${entry.name}`; words.append(made); return words; };
    const out = name(key(entry.refusal ? "Remove" : "Do not send", () => remove(entry)));
    if (!entry.refusal || entry.refusal.final) return [out];
    if (entry.refusal.question) return [name(key("Keep it twice", () => again(entry, { sure: "yes" }))), out];
    return [name(key("Send it again", () => again(entry))), out];
  }

  function row(entry) {
    const made = document.createElement("li");
    made.className = `take-item is-${entry.answer ? "kept" : entry.refusal ? "refused" : "waiting"}`;
    made.dataset.photo = entry.id;
    const name = line("span", "", "name");
    // A name that runs the other way turns nothing around but itself.
    name.append(line("bdi", entry.name, ""), line("small", ` ${entry.about}, ${megabytes(entry.size)}`, ""));
    const state = line("span", "", "state-words");
    state.append(line("span", stateOf(entry), "words"));
    if (!entry.answer && !entry.refusal) {
      const bar = document.createElement("progress");
      bar.max = 100;
      bar.value = entry === sending ? 100 * entry.loaded : 0;
      bar.setAttribute("aria-label", entry.name);
      state.append(bar);
    }
    const acts = document.createElement("span");
    acts.className = "acts";
    acts.append(...keysOf(entry));
    made.append(name, state, acts);
    if (entry.refusal) made.append(line("p", entry.refusal.sentence, "said"));
    return made;
  }

  function words() {
    const left = waiting().length;
    const told = [];
    if (left) told.push(`${batch.done} of ${pictures(batch.count)} in the book`);
    else if (batch.done) told.push(`${pictures(batch.done)} ${batch.done === 1 ? "is" : "are"} in the book`);
    if (left && loginNeeded) told.push("your log-in has ended, nothing is lost");
    else if (left && offline) told.push("no network: they wait here and go in when it is back");
    if (refused().length) told.push(`${refused().length} not taken, see below`);
    if (left && !canKeep) told.push("this browser keeps nothing: closing the page loses what is not yet in the book");
    return told.join("; ");
  }

  function show() {
    const focused = document.activeElement?.closest?.("[data-photo]")?.dataset.photo;
    part("list").replaceChildren(...entries.map(row));
    if (focused) part("list").querySelector(`[data-photo="${focused}"] :is(button, a)`)?.focus();
    part("state").hidden = entries.length === 0;
    const told = words();
    if (part("words").textContent !== told) part("words").textContent = told;
    part("login").hidden = !loginNeeded;
    showProgress();
  }

  function showProgress() {
    const total = part("total");
    const left = waiting().length > 0;
    const share = batch.bytes ? Math.min(1, (batch.bytesDone + (sending ? sending.size * sending.loaded : 0)) / batch.bytes) : 1;
    total.hidden = !left;
    total.value = 100 * share;
    part("share").textContent = left ? `(${percent(share)} sent)` : "";
    const mine = sending && part("list").querySelector(`[data-photo="${sending.id}"]`);
    if (!mine) return;
    mine.querySelector(".words").textContent = stateOf(sending);
    mine.querySelector("progress").value = 100 * sending.loaded;
  }

  // ---- log-in renewed in place --------------------------------------------------------------------------------------

  function loggedIn() {
    loginNeeded = false;
    failures = 0;
    show();
    pump();
  }

  // The page of the log-in sends on whoever is logged in: perhaps that was done in another place.
  async function lookForLogin() {
    if (!loginNeeded) return;
    try {
      if ((await fetch(place.dataset.login, { redirect: "manual" })).type === "opaqueredirect") return loggedIn();
    } catch { /* no network: look again */ }
    setTimeout(lookForLogin, LOGIN_LOOK);
  }

  async function logIn() {
    const dialog = part("dialog");
    const said = part("login-error");
    said.textContent = "";
    try {
      const page = new DOMParser().parseFromString(await (await fetch(place.dataset.login)).text(), "text/html");
      const token = page.querySelector("[name=csrfmiddlewaretoken]")?.value ?? "";
      const body = new URLSearchParams({ username: place.dataset.username, password: dialog.querySelector("input").value, csrfmiddlewaretoken: token });
      const answer = await fetch(place.dataset.login, { method: "POST", body, redirect: "manual" });
      if (answer.status === 403 || answer.status === 429) { said.textContent = "Too many wrong passwords: this name is closed for a quarter of an hour. The pictures wait here."; return; }
      if (answer.type !== "opaqueredirect") { said.textContent = "That password does not open the book. Type it again."; return; }
    } catch { said.textContent = "No network yet. The pictures wait here; try again in a moment."; return; }
    dialog.querySelector("input").value = "";
    dialog.close();
    loggedIn();
  }

  place.addEventListener("change", (event) => {
    if (!event.target.matches("[data-photo-input]")) return;
    const files = [...event.target.files];
    event.target.value = ""; // the same picture may be chosen once more
    take(files);
  });
  place.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.id !== "photos-password") return;
    event.preventDefault();
    logIn();
  });
  part("login").addEventListener("click", () => part("dialog").showModal());
  part("login-now").addEventListener("click", logIn);
  part("login-later").addEventListener("click", () => part("dialog").close());
  document.addEventListener("log-in-renewed", () => { if (loginNeeded) loggedIn(); });
  window.addEventListener("online", () => { failures = 0; clearTimeout(timer); pump(); });
  window.addEventListener("focus", () => { if (loginNeeded) lookForLogin(); else pump(); });
  window.addEventListener("beforeunload", (event) => { if (!canKeep && waiting().length) event.preventDefault(); });

  load();
}
