// Photos of then and now over one another: a line between them that keys, taps on three buttons or a slider move. Without
// this script both stand side by side.
"use strict";

const WORDS = { 0: "all as it left", 50: "half and half", 100: "all as found" };

function showPair(pair) {
  const box = pair.querySelector("svg").viewBox.baseVal;
  const range = pair.querySelector("[data-range]");
  const reveal = pair.querySelector("[data-reveal]");

  function show() {
    const share = Number(range.value);
    const at = box.x + (box.width * share) / 100;
    reveal.setAttribute("width", String((box.width * share) / 100));
    for (const line of pair.querySelectorAll("[data-line]")) {
      line.setAttribute("d", share > 0 && share < 100 ? `M${at} ${box.y}V${box.y + box.height}` : "");
    }
    range.setAttribute("aria-valuetext", WORDS[share] || `${share} % as found`);
    for (const key of pair.querySelectorAll("[data-to]")) key.setAttribute("aria-pressed", String(key.dataset.to === range.value));
    pair.querySelector("[data-side=now]").hidden = share === 0;
    pair.querySelector("[data-side=then]").hidden = share === 100;
  }

  range.addEventListener("input", show);
  for (const key of pair.querySelectorAll("[data-to]")) {
    key.addEventListener("click", () => { range.value = key.dataset.to; show(); });
  }
  show();
}

for (const pair of document.querySelectorAll("[data-pair]")) {
  const beside = document.querySelector("[data-beside]"), other = document.querySelector("[data-other]");
  const swap = other.querySelector("[data-swap]");
  const lay = (over) => {
    pair.hidden = !over;
    beside.hidden = over;
    swap.textContent = over ? "Show them side by side" : "Lay them over one another";
  };
  showPair(pair);
  other.hidden = false;
  swap.addEventListener("click", () => lay(pair.hidden));
  lay(true);
}
