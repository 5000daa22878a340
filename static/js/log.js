// The log beside its fields: where the hand goes first, and how a chip leads to its address.
"use strict";

function firstEmpty(within) {
  return [...within.querySelectorAll("[data-value]")].find((field) => !field.value && !("optional" in field.dataset));
}

document.addEventListener("click", (event) => {
  const chip = event.target.closest("a.chip");
  const row = chip && document.getElementById(chip.hash.slice(1));
  if (!row) return;
  event.preventDefault();
  row.scrollIntoView({ block: "start" });
  (firstEmpty(row) ?? row.querySelector("[data-value]"))?.focus({ preventScroll: true });
});

// Values that wait on the tablet are put back first; the hand then starts where nothing is typed yet.
document.addEventListener("entries:ready", () => {
  if (document.activeElement === document.body && !location.hash) firstEmpty(panel())?.focus({ preventScroll: true });
});
