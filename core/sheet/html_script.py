"""What makes the page of the sheet remember its ticks: plain script, which asks nothing of any network."""

SCRIPT = r"""
"use strict";
const plan = JSON.parse(document.getElementById("plan").textContent);
const steps = ["pocket", "insert", "fit", "glued"];
const words = {pocket: "pockets to cut", insert: "inserts to cut", fit: "dry fits", glued: "to glue"};
const place = "grainstack-bench/" + plan.design;
const byId = new Map(plan.pieces.map(piece => [piece.id, piece]));
const told = document.getElementById("told");
let state = {};

function checked(value) {
  if (value === null || typeof value !== "object" || value.format !== plan.format)
    throw new Error("This is no tracking file of the format " + plan.format + ".");
  if (Object.keys(value).sort().join() !== "design,format,pieces" || typeof value.design !== "string"
      || value.pieces === null || typeof value.pieces !== "object" || Array.isArray(value.pieces))
    throw new Error("The tracking file is damaged: its keys are not format, design and pieces.");
  for (const [id, entry] of Object.entries(value.pieces)) {
    const whole = entry !== null && typeof entry === "object" && Object.keys(entry).sort().join() === "content,done"
      && typeof entry.content === "string" && /^[0-9a-f]{16}$/.test(entry.content) && Array.isArray(entry.done)
      && entry.done.every(step => steps.includes(step)) && new Set(entry.done).size === entry.done.length;
    if (!whole) throw new Error("The tracking file is damaged at the piece " + id + ".");
  }
  return value;
}

function file() {
  return JSON.stringify({format: plan.format, design: plan.design, pieces: state}, null, 1) + "\n";
}

function keep() {
  try { localStorage.setItem(place, file()); }
  catch (error) { say("This browser does not keep the ticks: export them before you close the page."); }
}

function say(text) { told.textContent = text; }

function done(piece) {
  const entry = state[piece.id];
  return entry && entry.content === piece.content ? entry.done : [];
}

function show() {
  const glued = new Set(plan.pieces.filter(piece => done(piece).includes("glued")).map(piece => piece.number));
  let count = 0;
  const next = {pocket: [], insert: [], fit: [], glued: []};
  for (const piece of plan.pieces) {
    const have = done(piece);
    count += have.length;
    for (const step of steps) document.getElementById(step + "-" + piece.number).checked = have.includes(step);
    const entry = state[piece.id];
    const old = document.getElementById("old-" + piece.number);
    const stale = entry && entry.content !== piece.content && entry.done.length;
    old.hidden = !stale;
    old.textContent = stale ? "Changed since it was ticked (" + entry.done.join(", ") + "): check before you cut." : "";
    if (have.includes("glued")) continue;
    if (!have.includes("pocket") && piece.waits_for.every(number => glued.has(number))) next.pocket.push(piece.number);
    if (!have.includes("insert")) next.insert.push(piece.number);
    if (have.includes("pocket") && have.includes("insert") && !have.includes("fit")) next.fit.push(piece.number);
    if (have.includes("fit")) next.glued.push(piece.number);
  }
  document.getElementById("along").textContent =
    count + " of " + steps.length * plan.pieces.length + " steps done, " + glued.size + " of " + plan.pieces.length
    + " pieces glued in.";
  document.getElementById("next").textContent = glued.size === plan.pieces.length ? "Next: trim the face and the edges."
    : "Next: " + steps.filter(step => next[step].length)
        .map(step => words[step] + " " + next[step].slice(0, 30).join(", ")).join("; ") + ".";
}

for (const box of document.querySelectorAll("input[data-piece]"))
  box.addEventListener("change", () => {
    const piece = byId.get(box.dataset.piece);
    const have = new Set(done(piece));
    if (box.checked) have.add(box.dataset.step); else have.delete(box.dataset.step);
    state[piece.id] = {content: piece.content, done: steps.filter(step => have.has(step))};
    keep();
    show();
  });

document.getElementById("export").addEventListener("click", () => {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([file()], {type: "application/json"}));
  link.download = plan.design + ".bench.json";
  link.click();
  URL.revokeObjectURL(link.href);
  say("Exported as " + link.download + ": keep it beside the design.");
});

const asked = document.getElementById("asked");
let offered = null;
document.getElementById("import").addEventListener("change", async event => {
  const chosen = event.target.files[0];
  event.target.value = "";
  asked.hidden = true;
  if (!chosen) return;
  try {
    let value;
    try { value = JSON.parse(await chosen.text()); }
    catch (error) { throw new Error("The tracking file is damaged: this is not a whole JSON file."); }
    const entries = Object.entries(checked(value).pieces);
    const same = entries.filter(([id, entry]) => byId.has(id) && byId.get(id).content === entry.content);
    const changed = entries.filter(([id, entry]) => byId.has(id) && byId.get(id).content !== entry.content);
    const gone = entries.filter(([id]) => !byId.has(id));
    if (entries.length && !same.length)
      throw new Error("Not one of its pieces is cut as on this sheet: it belongs to " + value.design
        + " or to an older state.");
    offered = same;
    const names = some => some.map(([id]) => id).join(", ");
    document.getElementById("question").textContent = "Take over the ticks of these pieces: " + names(same) + "?"
      + " They replace those of this page for these pieces."
      + (changed.length ? " Changed since, left out: " + names(changed) + "." : "")
      + (gone.length ? " No longer there, left out: " + names(gone) + "." : "");
    asked.hidden = false;
    document.getElementById("take").focus();
    say("");
  } catch (error) { say(error.message + " Nothing was changed."); }
});
document.getElementById("take").addEventListener("click", () => {
  for (const [id, entry] of offered)
    state[id] = {content: entry.content, done: steps.filter(step => entry.done.includes(step))};
  asked.hidden = true;
  keep();
  show();
  say("Taken over.");
});
document.getElementById("leave").addEventListener("click", () => { asked.hidden = true; say("Nothing was changed."); });
document.getElementById("print").addEventListener("click", () => window.print());

try {
  const kept = localStorage.getItem(place);
  if (kept !== null) {
    try { state = checked(JSON.parse(kept)).pieces; }
    catch (error) {
      localStorage.setItem(place + "/damaged", kept);
      say("What this browser had kept is damaged. It was put aside. Import your last export to go on.");
    }
  }
} catch (error) { say("This browser does not keep the ticks: export them before you close the page."); }
show();
"""
