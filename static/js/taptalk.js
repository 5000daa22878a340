// Measuring on a picture: what is asked of the book. Answers to older questions than the newest are not shown.
"use strict";

let number = 0;
let guesses = 0; // likewise for the first guess
let timer = null;
let asking = null;

// A closed job has no key to save with.
function maySave(may) {
  const key = part("save");
  if (key) key.disabled = !may;
}

async function post(url, data, signal) {
  const answer = await fetch(url, {
    method: "POST", redirect: "manual", signal,
    headers: { "X-CSRFToken": cookie("csrftoken"), "HX-Request": "true" },
    body: new URLSearchParams(data),
  });
  if (answer.type === "opaqueredirect" || answer.status === 403) {
    return { sentence: (answer.status === 403 && (await answer.clone().json().catch(() => null))?.sentence) || "The book is locked, or the log-in has run out. Log in again in another tab, then go on here: the taps are kept." };
  }
  if (answer.status === 401) {
    document.dispatchEvent(new CustomEvent("log-in-needed", { cancelable: true })); // the lock of the bench asks by itself
    return { sentence: "The bench was locked. The taps are kept: go on as soon as it is open.", again: true };
  }
  const told = await answer.json().catch(() => null);
  return told ?? { sentence: "The book did not answer as it should. The taps are kept here: try again in a moment." };
}

// Each question carries a number; an answer to an older one than the newest is not shown.
function work() {
  clearTimeout(timer);
  const mine = ++number;
  maySave(false);
  if (!GROUPS.some((group) => marks.shown[group].length)) { part("result").replaceChildren(); part("tip").replaceChildren(); return; }
  part("result").classList.add("is-waiting");
  timer = setTimeout(async () => {
    asking?.abort();
    asking = new AbortController();
    let told;
    try {
      told = await post(place.dataset.work, { taps: JSON.stringify(marks.told()), guess: marks.guess ? "yes" : "" }, asking.signal);
    } catch (error) {
      if (error.name === "AbortError") return;
      told = { sentence: "No network: the taps are kept in this browser, and are worked out when it is back.", again: true };
    }
    if (mine !== number) return;
    part("result").classList.remove("is-waiting");
    tell(told.sentence ?? "");
    if (told.again) timer = setTimeout(work, 5000);
    if (told.html !== undefined) part("result").innerHTML = told.html;
    else if (!told.again) part("result").replaceChildren(); // figures of other taps are no answer to these
    if (!told.again) part("tip").innerHTML = told.tip ?? "";
    part("swap").hidden = !told.html || told.ready || Boolean(marks.guess) || !marks.enough("inner") || !marks.enough("outer");
    drawn = told.drawn ?? null;
    maySave(Boolean(told.ready) && !marks.guess);
    paint();
  }, 220);
}

async function askGuess() {
  const mine = ++guesses;
  tell("");
  part("look").disabled = true;
  say("Looking for the rim and the mark in the picture.");
  let told;
  try {
    told = await post(place.dataset.guess, { toward_shaft: marks.choices.toward_shaft });
  } catch {
    told = { sentence: "No network: no first guess. Tap the rim and both edges by hand." };
  }
  if (mine !== guesses) return;
  part("look").disabled = false;
  if (marks.count) return; // the hand was faster
  if (!told.rim) { tell(told.sentence); return; }
  marks.guess = told;
  part("offer-note").textContent = told.sentence ?? "";
  part("offer-note").hidden = !told.sentence;
  say("A first guess is shown. Accept it, or move its points.");
  show();
  work();
}

function accept() {
  marks.accept();
  cursor = null;
  changed();
}

function swapEdges() {
  marks.swap();
  say("Inner and outer edge have changed places.");
  changed();
}

function byHand() {
  marks.guess = null;
  drawn = null;
  number += 1; // an answer on its way is about the guess
  guesses += 1; // and another guess is not asked for
  part("look").disabled = false;
  part("result").replaceChildren();
  show();
  stage.focus();
}

async function save(more = {}) {
  maySave(false);
  part("asked").hidden = true;
  let told;
  try {
    told = await post(place.dataset.saveTo, {
      taps: JSON.stringify(marks.told()), ids: JSON.stringify(marks.readingIds(place.dataset.readings.split(" "))),
      by: place.dataset.person, taken_at: new Date().toISOString(),
      after_work: part("after-work")?.checked ? "yes" : "", ...more,
    });
  } catch {
    told = { sentence: "No network: nothing was saved yet. The taps are kept in this browser; press Save again when it is back." };
  }
  if (told.url) {
    marks.dropDraft();
    location.assign(told.url);
    return;
  }
  maySave(true);
  const box = part("asked");
  box.querySelector("p").textContent = told.sentence;
  box.querySelector("[data-meant]").hidden = !told.question;
  box.hidden = false;
  box.scrollIntoView({ block: "nearest" });
}
