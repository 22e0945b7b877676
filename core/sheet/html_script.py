"""What makes the page of the sheet remember its ticks: plain script, which asks nothing of any network."""

SCRIPT = r"""
"use strict";
const plan = JSON.parse(document.getElementById("plan").textContent);
const steps = ["pocket", "insert", "fit", "glued"];
const nextWords = {pocket: "pockets to cut", insert: "inserts to cut", fit: "dry fits", glued: "to glue"};
const place = "grainstack-bench/" + plan.design;
const byId = new Map(plan.pieces.map(piece => [piece.id, piece]));
const told = document.getElementById("told");
const keysOf = {depth: ["mm"], thickness: ["mm"], broke: ["glued_back"], gap: ["mm", "side"]};
const stepOf = {depth: "pocket", thickness: "insert", broke: "insert", gap: "insert"};
const rawKeys = new Set(plan.shared.filter(job => job.raw).map(job => job.key));
const sides = ["left", "right", "top", "bottom"];
let state = {};
let shared = {};

const isObject = value => value !== null && typeof value === "object" && !Array.isArray(value);
const isContent = value => typeof value === "string" && /^[0-9a-f]{16}$/.test(value);
const hasKeys = (value, keys, more) => keys.every(key => key in value)
  && Object.keys(value).every(key => keys.includes(key) || more.includes(key));

function isTold(told) {
  return isObject(told) && Object.hasOwn(keysOf, told.what) && hasKeys(told, ["what", ...keysOf[told.what]], [])
    && (!("mm" in told) || (Number.isFinite(told.mm) && told.mm > 0 && told.mm <= 1000))
    && (!("side" in told) || sides.includes(told.side))
    && (!("glued_back" in told) || typeof told.glued_back === "boolean");
}

function isCut(cut) {
  return isObject(cut) && hasKeys(cut, ["outline", "woods", "depth", "thickness", "taper", "clearance", "grain"], [])
    && ["depth", "thickness", "taper", "clearance", "grain"].every(key => Number.isFinite(cut[key]))
    && Array.isArray(cut.woods) && cut.woods.every(wood => typeof wood === "string")
    && typeof cut.outline === "string" && /^[-MZ0-9., ]*$/.test(cut.outline);
}

function checked(value) {
  if (!isObject(value) || value.format !== plan.format)
    throw new Error("This is no tracking file of the format " + plan.format + ".");
  if (!hasKeys(value, ["format", "design", "pieces"], ["shared"]) || typeof value.design !== "string"
      || !isObject(value.pieces))
    throw new Error("The tracking file is damaged: its keys are not format, design, pieces and shared.");
  if ("shared" in value && !(isObject(value.shared) && Object.values(value.shared).every(isContent)))
    throw new Error("The tracking file is damaged at the shared work.");
  for (const [id, entry] of Object.entries(value.pieces)) {
    const whole = isObject(entry) && hasKeys(entry, ["content", "done"], ["cut", "told"])
      && isContent(entry.content) && Array.isArray(entry.done)
      && entry.done.every(step => steps.includes(step)) && new Set(entry.done).size === entry.done.length
      && (!("cut" in entry) || isCut(entry.cut))
      && (!("told" in entry) || (Array.isArray(entry.told) && entry.told.length <= 20 && entry.told.every(isTold)));
    if (!whole) throw new Error("The tracking file is damaged at the piece " + id + ".");
  }
  return value;
}

function file() {
  return JSON.stringify({format: plan.format, design: plan.design, shared: shared, pieces: state}, null, 1) + "\n";
}

function keep() {
  try { localStorage.setItem(place, file()); }
  catch (error) { say("This browser does not keep the ticks: export them before you close the page."); }
}

function say(text) { told.textContent = text; }

// What still holds of what was ticked: the first half of a piece's content tells of its pocket, the other of
// its insert.
function done(piece) {
  const entry = state[piece.id];
  if (!entry) return [];
  if (entry.content === piece.content) return entry.done;
  const same = {pocket: entry.content.slice(0, 8) === piece.content.slice(0, 8),
                insert: entry.content.slice(8) === piece.content.slice(8)};
  return entry.done.filter(step => same[step]);
}

function tick(piece, step, on) {
  const entry = state[piece.id];
  const had = done(piece);
  if (entry && entry.done.includes("pocket") && !had.includes("pocket") && step !== "pocket") {
    say("The pocket of " + piece.number + " was cut for another state of it, which would be forgotten. "
      + "Cut it as it is now and tick that first.");
    return false;
  }
  const have = new Set(had);
  if (on) have.add(step); else have.delete(step);
  const told = (entry && entry.told || []).map(each => [each, stepOf[each.what]])
    .filter(([, of]) => had.includes(of) && have.has(of)).map(([each]) => each);
  state[piece.id] = {content: piece.content, done: steps.filter(each => have.has(each)), cut: piece.cut};
  if (told.length) state[piece.id].told = told;
  return true;
}

function words(told) {
  if (told.what === "broke") return told.glued_back ? "broke, glued back" : "broke, a part is lost";
  if (told.what === "gap")
    return "gap of " + told.mm + " mm " + (["left", "right"].includes(told.side) ? "on the " : "at the ") + told.side;
  return told.what === "depth" ? "pocket cut " + told.mm + " mm deep" : "insert cut " + told.mm + " mm thick";
}

// What follows at once; the sheet written anew tells the rest, since that takes the whole model.
function follows(piece, told) {
  const have = done(piece);
  if (told.what === "depth" && !have.includes("insert"))
    return " Saw its insert " + (piece.cut.thickness + told.mm - piece.cut.depth).toFixed(2)
      + " mm thick to stand as proud as planned.";
  return "";
}

// Rising numbers in words, such as 1–5, 12.
function runs(numbers) {
  const found = [];
  for (const number of numbers)
    if (found.length && found[found.length - 1][1] === number - 1) found[found.length - 1][1] = number;
    else found.push([number, number]);
  return found.map(([first, last]) => first === last ? first : first + "–" + last).join(", ");
}

function showTold(piece) {
  const told = state[piece.id] && state[piece.id].told || [];
  const line = document.getElementById("told-" + piece.number);
  line.hidden = !told.length;
  line.textContent = told.length ? "Told: " + told.map(each => words(each) + "." + follows(piece, each)).join(" ")
    + " Export the ticks beside the design and write the sheet again: it says what follows and how to mend it." : "";
}

function showShared(glued, started) {
  const doneKeys = new Set(plan.shared.filter(job => shared[job.key] === job.content).map(job => job.key));
  for (const job of plan.shared) document.getElementById("shared-" + job.key).checked = doneKeys.has(job.key);
  const past = new Set(plan.batches.filter(batch => batch.pieces.every(number => glued.has(number)))
    .map(batch => "level-" + batch.number));
  const ready = started || doneKeys.has("flat");
  return {count: doneKeys.size, ready: ready,
    next: plan.shared.filter(job => !doneKeys.has(job.key) && !(ready && job.raw)
      && job.after.every(key => doneKeys.has(key) || (ready && rawKeys.has(key)))
      && job.glued.every(number => glued.has(number)) && !past.has(job.key)).map(job => job.words)};
}

function show() {
  const glued = new Set(plan.pieces.filter(piece => done(piece).includes("glued")).map(piece => piece.number));
  const jobs = showShared(glued, plan.pieces.some(piece => done(piece).length));
  let count = jobs.count;
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
    showTold(piece);
    document.getElementById("today-" + piece.number).setAttribute("class",
      have.includes("glued") ? "glued" : have.includes("pocket") ? "open" : "to-do");
    if (have.includes("glued")) continue;
    if (jobs.ready && !have.includes("pocket") && piece.waits_for.every(number => glued.has(number)))
      next.pocket.push(piece.number);
    if (!have.includes("insert")) next.insert.push(piece.number);
    if (have.includes("pocket") && have.includes("insert") && !have.includes("fit")) next.fit.push(piece.number);
    if (have.includes("fit")) next.glued.push(piece.number);
  }
  document.getElementById("along").textContent =
    count + " of " + (steps.length * plan.pieces.length + plan.shared.length) + " steps done, "
    + glued.size + " of " + plan.pieces.length
    + " pieces glued in.";
  const todo = jobs.next.concat(steps.filter(step => next[step].length)
    .map(step => nextWords[step] + " " + runs(next[step])));
  document.getElementById("next").textContent = "Next: " + (todo.join("; ") || "nothing: the panel is done") + ".";
}

for (const box of document.querySelectorAll("input[data-piece]"))
  box.addEventListener("change", () => {
    say("");
    if (tick(byId.get(box.dataset.piece), box.dataset.step, box.checked)) keep();
    show();
  });
for (const box of document.querySelectorAll("input[data-job]"))
  box.addEventListener("change", () => {
    const job = plan.shared.find(each => each.key === box.dataset.job);
    if (box.checked) shared[job.key] = job.content; else delete shared[job.key];
    keep();
    show();
  });

const tell = document.getElementById("tell");
const what = document.getElementById("tell-what");
let toldOf = null;
function askFor() {
  const keys = keysOf[what.value.split("-")[0]];
  document.getElementById("tell-mm").parentElement.hidden = !keys.includes("mm");
  document.getElementById("tell-side").parentElement.hidden = !keys.includes("side");
}
what.addEventListener("change", askFor);
for (const button of document.querySelectorAll("button[data-tell]"))
  button.addEventListener("click", () => {
    toldOf = byId.get(button.dataset.tell);
    document.getElementById("tell-head").textContent = toldOf.number + " " + toldOf.id + ": what came out otherwise?";
    document.getElementById("tell-problem").textContent = "";
    askFor();
    tell.showModal();
  });
document.getElementById("tell-leave").addEventListener("click", () => tell.close());
document.getElementById("tell-back").addEventListener("click", () => {
  if (state[toldOf.id]) delete state[toldOf.id].told;
  tell.close();
  keep();
  show();
});
document.getElementById("tell-note").addEventListener("click", () => {
  const [kind, back] = what.value.split("-");
  const told = {what: kind};
  if (keysOf[kind].includes("mm")) told.mm = parseFloat(document.getElementById("tell-mm").value.replace(",", "."));
  if (keysOf[kind].includes("side")) told.side = document.getElementById("tell-side").value;
  if (kind === "broke") told.glued_back = back === "back";
  if (!isTold(told)) {
    document.getElementById("tell-problem").textContent = "Write a length in mm, more than 0.";
    return;
  }
  if (tick(toldOf, stepOf[kind], true)) {
    const others = (state[toldOf.id].told || []).filter(each => each.what !== kind || each.side !== told.side);
    state[toldOf.id].told = others.concat([told]).slice(-20);
    keep();
  }
  tell.close();
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
// What lies beside the design is taken with what has changed since, so that the page can tell it of each piece.
function offer(value, beside) {
  const entries = Object.entries(checked(value).pieces);
  const same = entries.filter(([id, entry]) => byId.has(id) && byId.get(id).content === entry.content);
  const changed = entries.filter(([id, entry]) => byId.has(id) && byId.get(id).content !== entry.content);
  const gone = entries.filter(([id]) => !byId.has(id));
  if (!beside && entries.length && !same.length)
    throw new Error("Not one of its pieces is cut as on this sheet: it belongs to " + value.design
      + " or to an older state.");
  const jobs = plan.shared.filter(job => (value.shared || {})[job.key] === job.content);
  offered = {pieces: beside ? same.concat(changed) : same, jobs: jobs};
  const names = some => some.map(([id]) => id).join(", ");
  document.getElementById("question").textContent = "Take over the ticks of these pieces: " + (names(same) || "none")
    + (jobs.length ? ", and of " + jobs.length + " jobs of shared work" : "") + "?"
    + " They replace those of this page for these pieces."
    + (changed.length ? " Changed since, " + (beside ? "told at each: " : "left out: ") + names(changed) + "." : "")
    + (gone.length ? " No longer there, left out: " + names(gone) + "." : "");
  asked.hidden = false;
}
document.getElementById("import").addEventListener("change", async event => {
  const chosen = event.target.files[0];
  event.target.value = "";
  asked.hidden = true;
  if (!chosen) return;
  try {
    let value;
    try { value = JSON.parse(await chosen.text()); }
    catch (error) { throw new Error("The tracking file is damaged: this is not a whole JSON file."); }
    offer(value, false);
    document.getElementById("take").focus();
    say("");
  } catch (error) { say(error.message + " Nothing was changed."); }
});
document.getElementById("take").addEventListener("click", () => {
  for (const [id, entry] of offered.pieces)
    state[id] = {...entry, done: steps.filter(step => entry.done.includes(step))};
  for (const job of offered.jobs) shared[job.key] = job.content;
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
    try {
      const value = checked(JSON.parse(kept));
      state = value.pieces;
      shared = value.shared || {};
    }
    catch (error) {
      localStorage.setItem(place + "/damaged", kept);
      say("What this browser had kept is damaged. It was put aside. Import your last export to go on.");
    }
  } else if (plan.bench) {
    offer(plan.bench, true);
    say("A tracking file lay beside the design when this sheet was written.");
  }
} catch (error) { say("This browser does not keep the ticks: export them before you close the page."); }
show();
"""
