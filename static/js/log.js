// The log beside its fields: how a chip leads to its address, and to the first field there that waits.
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
