// What every page needs: the ± key beside fields that may be below zero.
"use strict";

document.addEventListener("click", (event) => {
  const key = event.target.closest("[data-sign-for]");
  if (!key) return;
  const input = document.getElementById(key.dataset.signFor);
  const text = input.value.trim();
  input.value = /^[-−]/.test(text) ? text.slice(1) : "-" + text;
  input.focus();
  input.dispatchEvent(new Event("input", { bubbles: true }));
});

// A field that is there to be copied from is marked whole when it is touched.
document.addEventListener("focusin", (event) => {
  if (event.target.matches?.("[data-select-all]")) event.target.select();
});
