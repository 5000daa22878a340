// A trial is kept as it stands in the fields at that moment, whatever has been answered by then.
"use strict";

document.addEventListener("submit", (event) => {
  const form = event.target.closest("[data-keep]");
  if (!form) return;
  const filled = [...new FormData(document.getElementById("what-if"))].filter(([, text]) => text.trim());
  form.elements.changes.value = new URLSearchParams(filled).toString();
});
