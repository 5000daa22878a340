// The bench beside its fields: packs, the plan's states, and drawings that follow the numbers.
"use strict";

// The plan stays as it is drawn; each balloon takes its new state's class, and says it.
const STATE_WORDS = { "is-done": "done", "is-todo": "to do", "is-out": "out", "is-look": "look" };
function showStates(told) {
  for (const each of told.split(" ").filter(Boolean)) {
    const [address, state] = each.split("=");
    const balloon = document.querySelector(`#plan [data-address="${address}"]`);
    balloon?.classList.remove(...Object.keys(STATE_WORDS));
    balloon?.classList.add(state);
    balloon?.setAttribute("aria-label", `${balloon.dataset.name}: ${STATE_WORDS[state]}`);
  }
}

function refreshDrawings() {
  for (const verdict of document.querySelectorAll("[data-drawing-version]")) {
    for (const picture of document.querySelectorAll(`[data-drawing-of="${verdict.id.replace("verdict-", "")}"] img`)) {
      const wanted = picture.src.replace(/v=\w*/, "v=" + verdict.dataset.drawingVersion);
      if (picture.src !== wanted) picture.src = wanted;
    }
  }
}

hooks.answered.push((told) => showStates(told?.states ?? ""), refreshDrawings);

// ---- packs --------------------------------------------------------------------------------------------------------

function fit(pieces) {
  const at = panel();
  if (at.dataset.fitting) return; // a second tap on the same button is the same pack
  const id = at.dataset.fitting = makeId();
  queue.add({
    id, url: at.dataset.packUrl, key: "pack|" + at.dataset.stand, about: `${surface.dataset.about}, ${at.dataset.address}`,
    data: {
      client_id: id, by: surface.dataset.person, pieces, unit: surface.dataset.unit, taken_at: new Date().toISOString(),
      measured: at.querySelector("[data-measured]")?.value.trim() ?? "",
      scrapped: at.querySelector("[data-scrapped]")?.checked ? "yes" : "",
    },
  });
  beside.clear();
  // A refit starts a new set: the fields are empty again, and what is read now names this pack.
  at.dataset.pack = id;
  for (const row of at.querySelectorAll("[data-row]")) {
    const input = valueOf(row);
    if (row.dataset.characteristic === "net_lift") continue;
    input.value = "";
    if (feelerOf(row)) feelerOf(row).value = "";
    Object.assign(input.dataset, { kept: "", keptText: "", keptFeeler: "" });
    row.querySelector("[data-asked]").hidden = true;
    row.querySelector(".row-keys")?.replaceChildren(); // nothing in the emptied field to take back
    showState(row, "");
  }
  at.querySelector(".headline").textContent = "Pack fitted. Torque the stand, then read again to prove it.";
  at.querySelector("[data-value]")?.focus();
}

// A refused pack is told where packs are fitted; the stand is shown again as the book has it.
hooks.refused.push((entry) => {
  if (entry.key !== "pack|" + panel()?.dataset.stand) return false;
  reopen();
  return true;
});

function showRefusedPack() {
  const entry = queue.refused.find((each) => each.key === "pack|" + panel()?.dataset.stand);
  const box = panel()?.querySelector("[data-pack-asked]");
  if (!entry || !box) return;
  const field = panel().querySelector("[data-pieces]");
  if (field && !/in/.test(entry.data.pieces)) { field.value = entry.data.pieces; field.closest("details").open = true; }
  const meant = entry.refusal.question
    ? button("Yes, it is meant", () => { box.hidden = true; sendAgain(entry, { sure: "yes" }); }, true)
    : button("Send it again", () => { box.hidden = true; sendAgain(entry); });
  ask(box, entry.refusal.sentence, [meant, button("Forget this pack", () => { queue.drop(entry.id); box.hidden = true; })]);
  box.scrollIntoView({ block: "center" });
}
document.addEventListener("htmx:afterSwap", (event) => { if (event.detail.target?.id === "board") showRefusedPack(); });
document.addEventListener("entries:ready", showRefusedPack);

// The answer to a pack ends the wait for it; and when somebody fitted one at another tablet, what is typed from here
// on names that one.
hooks.answered.push((told) => {
  const at = panel();
  if (told?.pack === undefined || told.address !== at?.dataset.address) return;
  if (queue.entries.some((entry) => entry.key === "pack|" + at.dataset.stand)) return;
  delete at.dataset.fitting;
  if (told.pack !== at.dataset.pack) reopen();
});

// What is typed beside the act stays when an answer brings the act anew.
const beside = new Map();
document.addEventListener("input", (event) => {
  if (event.target.closest("#act")) beside.set(panel().dataset.stand + event.target.id, event.target);
});
hooks.answered.push(() => {
  for (const field of document.querySelectorAll("#act input")) {
    const typed = beside.get(panel().dataset.stand + field.id);
    if (!typed || typed === field) continue;
    Object.assign(field, { value: typed.value, checked: typed.checked });
    field.closest("details").open = true;
  }
});

document.addEventListener("click", (event) => {
  const hit = event.target.closest("[data-fit], [data-fit-typed]");
  if (!hit) return;
  if (hit.matches("[data-fit]")) return fit(hit.dataset.fit);
  const typed = panel().querySelector("[data-pieces]");
  if (typed.value.trim()) fit(typed.value);
  else typed.focus(); // an empty field is not a pack: no shims has a button of its own
});
