// The pad on which somebody signs: strokes as they are drawn, kept in the form, drawn again when the page comes back.
"use strict";

for (const form of document.querySelectorAll("[data-signing]")) {
  const pad = form.querySelector("[data-pad]");
  const paper = pad.querySelector("canvas");
  const kept = form.querySelector("[name=strokes]");
  const typed = form.querySelector("[name=typed]");
  const key = form.querySelector("[data-sign]");
  const said = form.querySelector("[data-said]");
  const MOST_POINTS = 8000;
  const LEAST_STEP = 1.5; // CSS pixels between two points that are kept
  let strokes = [];
  let size = { width: 0, height: 0 };
  let hand = null; // the one pointer that draws; a palm beside it does not

  function read() {
    try {
      const found = JSON.parse(kept.value);
      strokes = found.strokes;
      size = { width: found.width, height: found.height };
    } catch { strokes = []; }
  }

  function keep() {
    kept.value = strokes.length ? JSON.stringify({ ...size, strokes }) : "";
  }

  // The paper has another size after a turn of the tablet: what was drawn keeps its own, and is shown to scale.
  function draw() {
    const box = paper.getBoundingClientRect();
    const fine = window.devicePixelRatio || 1;
    paper.width = Math.round(box.width * fine);
    paper.height = Math.round(box.height * fine);
    if (!strokes.length) size = { width: Math.round(box.width), height: Math.round(box.height) };
    const scale = Math.min(paper.width / size.width, paper.height / size.height);
    const pen = paper.getContext("2d");
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    Object.assign(pen, { lineWidth: 2.4, lineCap: "round", lineJoin: "round", strokeStyle: "#26292c" });
    for (const stroke of strokes) {
      pen.beginPath();
      stroke.forEach(([x, y], place) => (place ? pen.lineTo(x, y) : pen.moveTo(x, y)));
      if (stroke.length === 1) pen.lineTo(stroke[0][0] + 0.1, stroke[0][1]);
      pen.stroke();
    }
  }

  function point(event) {
    const box = paper.getBoundingClientRect();
    const scale = Math.min(box.width / size.width, box.height / size.height);
    const at = (value, most) => Math.round(Math.max(0, Math.min(most, value)) * 10) / 10;
    return [at((event.clientX - box.left) / scale, size.width), at((event.clientY - box.top) / scale, size.height)];
  }

  function begin(event) {
    if (hand !== null || event.button > 0 || typed.checked) return;
    hand = event.pointerId;
    try { paper.setPointerCapture(hand); } catch { /* a pointer that is gone already draws its one point */ }
    strokes.push([point(event)]);
    draw();
  }

  function go(event) {
    if (event.pointerId !== hand) return;
    const stroke = strokes[strokes.length - 1];
    for (const each of event.getCoalescedEvents?.() ?? [event]) {
      const [x, y] = point(each);
      const [lastX, lastY] = stroke[stroke.length - 1];
      const count = strokes.reduce((sum, line) => sum + line.length, 0);
      if (Math.hypot(x - lastX, y - lastY) >= LEAST_STEP && count < MOST_POINTS) stroke.push([x, y]);
    }
    draw();
  }

  function end(event) {
    if (event.pointerId !== hand) return;
    hand = null;
    keep();
  }

  function clear() {
    strokes = [];
    keep();
    draw();
  }

  // No sweep of the page comes of a stroke: the browser would take the next tap for the end of that sweep.
  paper.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
  paper.addEventListener("pointerdown", begin);
  paper.addEventListener("pointermove", go);
  for (const kind of ["pointerup", "pointercancel", "lostpointercapture"]) paper.addEventListener(kind, end);
  pad.querySelector("[data-clear]").addEventListener("click", clear);
  const show = () => pad.classList.toggle("is-typed", typed.checked);
  typed.addEventListener("change", show);

  // Enter moves on; it never signs.
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    const fields = [...form.querySelectorAll("input:not([type=hidden]), [data-sign]")];
    fields[fields.indexOf(event.target) + 1]?.focus();
  });

  let sent = false;
  form.addEventListener("submit", (event) => {
    if (sent) return event.preventDefault();
    sent = true;
    keep();
    key.disabled = true;
    said.textContent = form.dataset.busy;
  });
  window.addEventListener("pageshow", () => { sent = false; key.disabled = false; said.textContent = ""; });

  new ResizeObserver(draw).observe(paper);
  read();
  show();
  draw();
}
