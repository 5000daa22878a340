// The lock of an enrolled tablet. The server keeps the time; this page tells it of hands on the glass, and covers itself.
"use strict";

{
  const cover = document.getElementById("bench-lock");
  const said = cover.querySelector("[data-lock-said]");
  const after = Number(cover.dataset.after) * 1000;
  const TELL_EVERY = Math.min(20000, after / 4);
  const SHARED = "standbook:touched"; // other pages on this tablet count too
  let touched = Date.now();
  let told = Date.now();
  let asking = false;

  const token = () => document.cookie.split("; ").find((part) => part.startsWith("csrftoken="))?.split("=")[1] ?? "";

  function post(url, data = {}) {
    return fetch(url, {
      method: "POST", redirect: "manual", body: new URLSearchParams(data),
      headers: { "X-CSRFToken": token(), "HX-Request": "true", Accept: "application/json" },
    });
  }

  function lastTouch() {
    try { return Math.max(touched, Number(localStorage.getItem(SHARED)) || 0); } catch { return touched; }
  }

  function touch() {
    if (cover.open) return;
    touched = Date.now();
    try { localStorage.setItem(SHARED, String(touched)); } catch { /* this page counts alone */ }
  }

  function show() {
    if (cover.open) return;
    document.querySelectorAll("dialog[open]").forEach((dialog) => dialog.close());
    said.textContent = "";
    cover.showModal();
    cover.querySelector("#lock-pin").focus();
  }

  // A field that is being typed in is left first: what stands in it goes into the tablet's queue.
  const leaveField = () => document.activeElement?.blur?.();
  const isClosed = (answer) => answer.type === "opaqueredirect" || answer.status === 401;

  async function look() {
    if (cover.open || asking) return;
    const idle = Date.now() - lastTouch();
    const due = idle >= after;
    if (!due && (lastTouch() <= told || Date.now() - told < TELL_EVERY)) return;
    asking = true;
    try {
      if (due) leaveField();
      else told = Date.now();
      const answer = await post(due ? cover.dataset.lock : cover.dataset.touch);
      if (due || isClosed(answer)) show();
    } catch {
      // No network: what is typed goes on waiting here. The book has locked by itself, and asks when it is back.
    } finally { asking = false; }
  }

  async function unlock(event) {
    event.preventDefault();
    const form = event.target;
    said.textContent = "";
    let answer;
    try {
      answer = await post(cover.dataset.who, new FormData(form));
      if (answer.status === 422) { said.textContent = (await answer.json()).sentence; return form.querySelector("#lock-pin").select(); }
      if (!answer.ok) { location.assign(cover.dataset.login); return; } // revoked, or not this book's any more
    } catch {
      said.textContent = "No network yet. The bench stays locked, and what was typed waits here; try again in a moment.";
      return;
    }
    const { person } = await answer.json();
    form.querySelectorAll("input").forEach((field) => { field.value = ""; });
    if (String(person) !== cover.dataset.person) { location.reload(); return; }
    told = Date.now();
    cover.close();
    touch();
    // A password makes a new log-in with a token of its own.
    document.body.setAttribute("hx-headers", JSON.stringify({ "X-CSRFToken": token() }));
    document.querySelectorAll("[name=csrfmiddlewaretoken]").forEach((field) => { field.value = token(); });
    document.dispatchEvent(new CustomEvent("log-in-renewed"));
  }

  for (const kind of ["pointerdown", "keydown", "input"]) document.addEventListener(kind, touch, { capture: true, passive: true });
  cover.addEventListener("cancel", (event) => event.preventDefault());
  cover.addEventListener("submit", unlock);
  document.body.addEventListener("bench-locked", () => { leaveField(); show(); });
  document.addEventListener("log-in-needed", (event) => { event.preventDefault(); leaveField(); show(); });
  document.addEventListener("visibilitychange", look);
  setInterval(look, Math.min(2000, after / 4));
}
