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
  const id = makeId();
  const at = panel();
  queue.add({
    id, url: at.dataset.packUrl, key: "pack|" + at.dataset.stand,
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
    showState(row, "");
  }
  at.querySelector(".headline").textContent = "Pack fitted. Torque the stand, then read again to prove it.";
  at.querySelector("[data-value]")?.focus();
}

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
  if (hit) fit(hit.matches("[data-fit]") ? hit.dataset.fit : panel().querySelector("[data-pieces]").value);
});
