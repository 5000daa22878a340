// A place tapped on a drawing goes into its field; a picture taken for a finding is put to it.
"use strict";

{
  const NOTE_WAITS = 250; // ms
  const places = document.querySelector("[data-places]");

  const field = places && document.getElementById(places.dataset.places);
  const told = places?.querySelector("[data-place-told]");

  const plainly = (text) => text.replace(/\s+/g, "").toLowerCase();

  // The drawing, and the words above it, say what stands in the field.
  function show() {
    let name = "";
    for (const spot of places.querySelectorAll("[data-address]")) {
      const here = field.value.trim() !== "" && plainly(spot.dataset.address) === plainly(field.value);
      if (here) {
        spot.setAttribute("aria-current", "true");
        name = spot.dataset.name;
      } else {
        spot.removeAttribute("aria-current");
      }
    }
    const text = field.value.trim();
    told.textContent = text === "" ? "Tap the place, or type it above." : name && !name.startsWith(text) ? `Where: ${text}, ${name}` : `Where: ${name || text}`;
  }

  if (places) {
    places.addEventListener("click", (event) => {
      const spot = event.target.closest("[data-address]");
      if (!spot) return;
      event.preventDefault();
      const again = plainly(field.value) === plainly(spot.dataset.address);
      field.value = again ? "" : spot.dataset.address;
      show();
    });
    field.addEventListener("input", show);
    show();
  }

  // A note on what was answered already goes in by itself, unless another answer is tapped at that moment.
  document.body.addEventListener("change", (event) => {
    if (!event.target.matches(".look [name='note']")) return;
    const form = event.target.form;
    setTimeout(() => {
      const given = form.querySelector("[aria-pressed='true']:not([value=''])");
      if (form.isConnected && given) given.click();
    }, NOTE_WAITS);
  });

  // Only a picture that was taken on this finding's page is put to it: another may have waited from elsewhere.
  document.body.addEventListener("photo-kept", (event) => {
    const shown = document.getElementById("shown");
    if (!shown || event.detail?.fields?.finding !== shown.dataset.finding) return;
    htmx.ajax("POST", shown.dataset.putPhoto, { source: shown, target: shown, swap: "outerHTML", values: { client_id: event.detail.client_id } });
  });
}
