// Measuring the mark on its picture: fingers, keys, and talk with the book. Every change is worked out at once; nothing
// is in the book before it is saved, and what is tapped waits in this browser until then.
"use strict";

const place = document.querySelector("[data-taps]");
const stage = document.getElementById("stage");
const part = (name) => place.querySelector(`[data-${name}]`);
const TAP = 8; // a finger that moved less than this has tapped
const HOLD = 350; // ms until a finger that rests places a point under the loupe
const REACH = 24; // a tap this near to a point takes that point
const TWICE = 320; // ms between the taps of a double tap
const STEPS = [1, 10, 0.1];
const SQUARE_TO = { left: ["up", "down"], right: ["up", "down"], up: ["left", "right"], down: ["left", "right"] };
const WAYS = { left: [-1, 0], right: [1, 0], up: [0, -1], down: [0, 1] };

const read = (text) => (text ? JSON.parse(text) : null);
const marks = new TapMarks(place.dataset.draft, [Number(place.dataset.width), Number(place.dataset.height)], read(place.dataset.kept));
let view = null;
let cursor = null; // where a key would place a point
let finger = null; // what the hand is doing on the picture
let step = STEPS[0];
let drawn = null; // what the book worked out of the taps, to be drawn
let looking = false; // the loupe beside the chosen point
let canKeep = true;

// ---- what is shown ------------------------------------------------------------------------------------------------

function say(words) { part("said").textContent = words; }

function where(point) { return `${Math.round(point[0] * 10) / 10} across, ${Math.round(point[1] * 10) / 10} down`; }

function sayPoint() {
  if (!marks.point) return cursor && say(`Cross hair at ${where(cursor)}. ${GROUP_NAMES[marks.active]} is next.`);
  const { group, index } = marks.selected;
  say(`${GROUP_NAMES[group]}, point ${index + 1} of ${marks.groups[group].length}, ${where(marks.point)}`);
}

function show() {
  for (const key of place.querySelectorAll("[data-group]")) {
    const group = key.dataset.group, count = marks.shown[group].length;
    key.setAttribute("aria-pressed", String(group === marks.active));
    key.querySelector("[data-count]").textContent = count;
    key.querySelector("[data-enough]").textContent = marks.enough(group) ? "enough" : `at least ${ENOUGH[group]}`;
    key.classList.toggle("is-enough", marks.enough(group));
  }
  part("undo").disabled = !marks.done.length;
  part("redo").disabled = !marks.undone.length;
  part("remove").disabled = !marks.selected;
  part("clear").disabled = !marks.count;
  part("tap-here").disabled = Boolean(marks.selected);
  part("step").textContent = `Step ${step} px`;
  part("offer").hidden = !marks.guess;
  part("look").hidden = Boolean(marks.guess) || marks.count > 0 || place.dataset.closed === "yes";
  showChoices();
  paint();
}

function showChoices() {
  const { toward_shaft: shaft, toward_front: front, stem_at: stem } = marks.choices;
  for (const key of place.querySelectorAll("[data-shaft]")) key.setAttribute("aria-pressed", String(key.dataset.shaft === shaft));
  for (const key of place.querySelectorAll("[data-front]")) {
    key.setAttribute("aria-pressed", String(key.dataset.front === front));
    key.disabled = !shaft || !SQUARE_TO[shaft].includes(key.dataset.front);
  }
  for (const key of place.querySelectorAll("[data-stem]")) key.setAttribute("aria-pressed", String(key.dataset.stem === stem));
}

function paint() {
  if (!view) return;
  const point = finger?.dragging ? marks.point : marks.point ?? cursor;
  const inHand = finger?.dragging && marks.point;
  view.scene = {
    points: marks.shown, selected: marks.selected, active: marks.active, guessed: Boolean(marks.guess), drawn,
    cursor: marks.selected ? null : cursor,
    loupe: inHand ? { point, finger: finger.touch } : looking && point ? { point } : null,
  };
  view.draw();
}

// Something was changed: shown, kept, and worked out anew.
function changed() {
  drawn = null;
  canKeep = marks.keepDraft();
  if (!canKeep) tell("This browser keeps nothing: stay on this page until the mark is saved.");
  show();
  work();
}

function tell(words) {
  const box = part("told");
  box.textContent = words;
  box.hidden = !words;
}

// Come back to by the browser's own key, this is the page of before: whether its mark was saved since is asked anew.
window.addEventListener("pageshow", (event) => {
  const back = event.persisted || performance.getEntriesByType("navigation")[0]?.type === "back_forward";
  if (back && navigator.onLine) location.reload();
});
