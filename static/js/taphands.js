// Measuring on a picture: fingers and keys on it, the choices beside it, and the beginning.
"use strict";

const pointers = new Map();
let lastTap = null;

function at(event) {
  const box = stage.getBoundingClientRect();
  return [event.clientX - box.left - stage.clientLeft, event.clientY - box.top - stage.clientTop];
}

function grab(found, from) {
  if (marks.guess) accept();
  marks.choose(found.group, found.index);
  const [x, y] = view.toScreen(marks.point);
  Object.assign(finger, { off: [x - from[0], y - from[1]] });
}

function startDrag() {
  marks.remember();
  finger.dragging = true;
}

function pressed(event) {
  if (!view || (event.pointerType === "mouse" && event.button !== 0)) return;
  event.preventDefault();
  stage.focus({ preventScroll: true });
  stage.setPointerCapture(event.pointerId);
  const from = at(event);
  pointers.set(event.pointerId, from);
  if (pointers.size > 1) { letGo(); finger = { pinch: true }; return; }
  finger = { from, last: from, touch: event.pointerType !== "mouse", moved: false };
  const found = marks.near(view.toPicture(from), REACH / view.scale);
  if (found) grab(found, from);
  else if (!marks.guess) finger.hold = setTimeout(() => holdDown(from), HOLD);
  cursor = null;
  show();
}

// A finger that rests places a point at once, to be moved under the loupe before it is let go.
function holdDown(from) {
  if (!put(view.toPicture(from))) return;
  Object.assign(finger, { off: [0, 0], dragging: true, held: true });
  show();
}

function moved(event) {
  if (!pointers.has(event.pointerId)) return;
  const before = pointers.get(event.pointerId), now = at(event);
  pointers.set(event.pointerId, now);
  if (finger?.pinch) { pinch(event.pointerId, before, now); return; }
  if (!finger) return;
  if (!finger.moved && Math.hypot(now[0] - finger.from[0], now[1] - finger.from[1]) > (finger.off ? 3 : TAP)) {
    finger.moved = true;
    clearTimeout(finger.hold);
    if (finger.off && !finger.dragging) startDrag();
  }
  if (finger.dragging) {
    marks.move(view.toPicture([now[0] + finger.off[0], now[1] + finger.off[1]]));
    drawn = null;
    paint();
  } else if (finger.moved) {
    view.pan(now[0] - finger.last[0], now[1] - finger.last[1]);
  }
  finger.last = now;
}

function pinch(id, before, now) {
  const other = [...pointers].find(([each]) => each !== id)?.[1];
  if (!other) return;
  const apart = (one) => Math.hypot(one[0] - other[0], one[1] - other[1]);
  const middle = (one) => [(one[0] + other[0]) / 2, (one[1] + other[1]) / 2];
  const [from, to] = [middle(before), middle(now)];
  view.pan(to[0] - from[0], to[1] - from[1]);
  if (apart(before) > 0) view.zoom(apart(now) / apart(before), to);
}

function letGo() {
  clearTimeout(finger?.hold);
  const was = finger;
  finger = null;
  return was;
}

function lifted(event) {
  if (!pointers.delete(event.pointerId)) return;
  if (finger?.pinch) { if (!pointers.size) finger = null; return; }
  const was = letGo();
  if (!was) return;
  if (event.type === "pointercancel") { show(); return; }
  if (was.dragging) { looking = true; lastTap = null; sayPoint(); changed(); return; }
  if (!was.moved) tapped(was, event.timeStamp);
}

function tapped(was, time) {
  const again = lastTap && time - lastTap.time < TWICE && Math.hypot(was.from[0] - lastTap.at[0], was.from[1] - lastTap.at[1]) < REACH;
  if (again) {
    if (lastTap.placed) { marks.undo(); marks.undone = []; changed(); } else show();
    lastTap = null;
    view.fit();
    return;
  }
  lastTap = { time, at: was.from, placed: false };
  if (was.off) { looking = true; sayPoint(); show(); return; }
  if (marks.guess) { tell("A first guess is on the picture: accept it, move one of its points, or start by hand."); return; }
  lastTap.placed = put(view.toPicture(was.from));
}

function put(point, select = true) {
  if (point.some((value, axis) => value < 0 || value > marks.size[axis])) { say("That is beside the picture."); return false; }
  if (!marks.add(point, select)) {
    tell(`${GROUP_NAMES[marks.active]} has ${MOST_POINTS} points, and more would tell nothing new. Remove one first.`);
    return false;
  }
  looking = select;
  const count = marks.groups[marks.active].length;
  say(`${GROUP_NAMES[marks.active]}, point ${count} placed, ${where(point)}`);
  changed();
  return true;
}

// ---- keys ---------------------------------------------------------------------------------------------------------

function nudge([dx, dy], size) {
  if (marks.guess) accept();
  looking = true;
  if (marks.point) {
    marks.remember();
    marks.move([marks.point[0] + dx * size, marks.point[1] + dy * size]);
    view.show(marks.point);
    sayPoint();
    changed();
    return;
  }
  cursor ??= view.toPicture([view.width / 2, view.height / 2]);
  cursor = marks.within([cursor[0] + dx * size, cursor[1] + dy * size]);
  view.show(cursor);
  sayPoint();
  paint();
}

function tapHere() {
  if (marks.selected || marks.guess) return;
  cursor ??= marks.within(view.toPicture([view.width / 2, view.height / 2]));
  put(cursor, false);
  looking = true;
  paint();
}

function back(way) {
  if (!(way === "undo" ? marks.undo() : marks.redo())) { say(`Nothing to ${way}.`); return; }
  say(`${way === "undo" ? "Undone" : "Done again"}. ${GROUPS.map((group) => `${GROUP_NAMES[group]} ${marks.groups[group].length}`).join(", ")}.`);
  changed();
}

function removePoint() {
  if (!marks.remove()) return;
  say("Point removed.");
  changed();
}

function chooseGroup(group) {
  marks.active = group;
  if (marks.selected?.group !== group) marks.selected = null;
  say(`${GROUP_NAMES[group]}: ${marks.groups[group].length} points, at least ${ENOUGH[group]}.`);
  show();
}

const middle = () => (marks.point ?? cursor) ? view.toScreen(marks.point ?? cursor) : undefined;

function keyed(event) {
  if (!view || event.target !== stage) return;
  const way = { ArrowLeft: "left", ArrowRight: "right", ArrowUp: "up", ArrowDown: "down" }[event.key];
  const letter = event.key.toLowerCase();
  const acts = {
    Delete: removePoint, Backspace: removePoint, Enter: tapHere, " ": tapHere, "+": () => view.zoom(1.25, middle()),
    "=": () => view.zoom(1.25, middle()), "-": () => view.zoom(0.8, middle()), 0: () => view.fit(),
    1: () => chooseGroup("rim"), 2: () => chooseGroup("inner"), 3: () => chooseGroup("outer"),
    Escape: () => { marks.selected = null; looking = Boolean(cursor); say("No point is chosen."); show(); },
  };
  if (event.ctrlKey || event.metaKey) {
    if (letter === "z") back(event.shiftKey ? "redo" : "undo");
    else if (letter === "y") back("redo");
    else return;
  } else if (way) {
    nudge(WAYS[way], event.shiftKey ? 10 : event.altKey ? 0.1 : 1);
  } else if (event.key === "Tab") {
    // Through the points, and then on: the hand is never held here.
    if (marks.guess || !marks.count || !marks.step(event.shiftKey ? -1 : 1)) { show(); return; }
    looking = true;
    view.show(marks.point);
    sayPoint();
    show();
  } else if (acts[event.key]) {
    acts[event.key]();
  } else {
    return;
  }
  event.preventDefault();
}

// ---- what lies where, and the rim's diameter ----------------------------------------------------------------------

const wayKey = place.dataset.wayKept; // the camera is mostly held alike along one head

function chooseWay(name, way) {
  marks.choices[name] = way;
  if (name === "toward_shaft" && !SQUARE_TO[way].includes(marks.choices.toward_front)) marks.choices.toward_front = "";
  try { localStorage.setItem(wayKey, JSON.stringify({ toward_shaft: marks.choices.toward_shaft, toward_front: marks.choices.toward_front })); } catch { /* asked again next time */ }
  changed();
  if (marks.guess && name === "toward_shaft") askGuess(); // which edge is the inner one hangs on it
}

// Asked of every picture anew: the camera leans otherwise each time, and a wrong side is worse than none.
function chooseStem(way) {
  marks.choices.stem_at = way;
  changed();
}

function startChoices() {
  const field = part("diameter");
  let way = null;
  try { way = JSON.parse(localStorage.getItem(wayKey) ?? "null"); } catch { /* asked anew */ }
  for (const name of ["toward_shaft", "toward_front"]) if (!marks.choices[name] && way?.[name] in WAYS) marks.choices[name] = way[name];
  if (!marks.choices.rim_diameter.text) marks.choices.rim_diameter = { text: field.value, unit: field.dataset.unit };
  field.value = marks.choices.rim_diameter.text;
  field.dataset.unit = marks.choices.rim_diameter.unit;
  part("diameter-unit").textContent = marks.choices.rim_diameter.unit;
  field.addEventListener("input", () => {
    marks.choices.rim_diameter = { text: field.value, unit: field.dataset.unit };
    changed();
  });
}

// ---- beginning ----------------------------------------------------------------------------------------------------

const PRESSES = {
  undo: () => back("undo"), redo: () => back("redo"), remove: removePoint,
  clear: () => { marks.clear(); say("All points are off. Undo brings them back."); changed(); },
  "zoom-in": () => view.zoom(1.5, middle()), "zoom-out": () => view.zoom(1 / 1.5, middle()), fit: () => view.fit(),
  "tap-here": tapHere, step: () => { step = STEPS[(STEPS.indexOf(step) + 1) % STEPS.length]; show(); },
  accept, swap: swapEdges, "by-hand": byHand, look: askGuess, save: () => save(), meant: () => save({ sure: "yes" }),
};

place.addEventListener("click", (event) => {
  const key = event.target.closest("button");
  if (!key || !view) return;
  const { group, shaft, front, stem, nudge: way } = key.dataset;
  if (group) chooseGroup(group);
  else if (shaft) chooseWay("toward_shaft", shaft);
  else if (front) chooseWay("toward_front", front);
  else if (stem !== undefined) chooseStem(stem);
  else if (way) nudge(WAYS[way], step);
  else for (const [name, act] of Object.entries(PRESSES)) if (key.matches(`[data-${name}]`)) act();
});

stage.addEventListener("pointerdown", pressed);
stage.addEventListener("pointermove", moved);
stage.addEventListener("pointerup", lifted);
stage.addEventListener("pointercancel", lifted);
stage.addEventListener("contextmenu", (event) => event.preventDefault());
stage.addEventListener("wheel", (event) => { event.preventDefault(); view?.zoom(1.0015 ** -event.deltaY, at(event)); }, { passive: false });
stage.addEventListener("keydown", keyed);
window.addEventListener("online", () => { if (marks.count) work(); });

function start(picture) {
  view = new TapView(stage.querySelector("canvas"), picture, marks.size);
  new ResizeObserver(() => { view.resize(); view.fit(); }).observe(stage);
  part("loading").hidden = true;
  show();
  if (marks.count) work();
  else if (place.dataset.closed !== "yes") askGuess();
  place.dataset.started = "yes";
}

startChoices();
show();
const picture = new Image();
picture.src = place.dataset.picture;
picture.decode().then(() => start(picture), () => { part("loading").textContent = "The picture does not load. Look whether the network is there, and open this page again."; });
