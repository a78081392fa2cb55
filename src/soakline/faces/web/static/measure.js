// Measure: what is dragged or typed is shown at once; the cavity in words follows from the application.
import { Dial } from "./dial.js";
import { Asker, Edits } from "./edits.js";
import { Phone } from "./phone.js";
import { Shape } from "./shape.js";
import { links, list as lines } from "./working.js";

const page = document.querySelector("#measure");
const data = JSON.parse(document.querySelector("#data").textContent);
const find = (what) => document.querySelector(what);
const EMPTY = { low: null, likely: null, high: null };
const NOT_FOUND = { reach_cm: EMPTY, height_cm: EMPTY, basis: "measured", covers: "whole" };
const filed = { ...data.measures, call: { advised_by: "", taken_by: "", call_back: "" } };
const edits = new Edits(`soakline-measure-${page.dataset.case}`, page.dataset.version, filed, (isDone) => {
  isMoving = !isDone;
  show();
  asker.ask();
  if (isDone) shape.overtaken();
});
let isMoving = false;

const sent = () => {
  const { call, ...measures } = edits.now;
  return measures;
};
const shape = new Shape(`/cases/${page.dataset.case}/measure/solid`, sent);
const asker = new Asker(`/cases/${page.dataset.case}/measure`, () => ({ ...sent(), moving: isMoving }), paint);
const dial = new Dial(find("#dial"), (hour, found, reach, isDone) => edits.change((state) => {
  if (found) setHour(state, hour, found, reach);
}, isDone));
const phone = new Phone(edits, { setHour, stretches, sayHours, isTraced: data.traced, part: data.part });

function setHour(state, hour, found, reach) {
  const now = state.hours[hour - 1];
  if (found !== "undermined") Object.assign(now, structuredClone(NOT_FOUND), { found });
  else {
    // An hour found beside its neighbours has their pocket height until it is given its own.
    if (now.found !== "undermined") now.height_cm = structuredClone(beside(state, hour) ?? EMPTY);
    now.found = "undermined";
    if (reach !== undefined && reach !== now.reach_cm.likely) now.reach_cm = { ...EMPTY, likely: reach };
  }
}

function beside(state, hour) {
  const near = [state.hours[(hour + 10) % 12], state.hours[hour % 12]];
  return near.find((one) => one.found === "undermined")?.height_cm;
}

// Runs of neighbouring undermined hours with one height and basis, as lists of hours.
function stretches(hours) {
  const same = (i) => {
    const [a, b] = [hours[(i + 11) % 12], hours[i % 12]];
    return [a, b].every((one) => one.found === "undermined") && a.basis === b.basis
      && JSON.stringify(a.height_cm) === JSON.stringify(b.height_cm);
  };
  const first = [...hours.keys()].filter((i) => hours[i].found === "undermined" && !same(i));
  if (!first.length && hours[0].found === "undermined") first.push(11);
  return first.map((start) => {
    const run = [start];
    while (run.length < 12 && same(start + run.length)) run.push((start + run.length) % 12);
    return run.map((i) => i + 1);
  });
}

function sayHours(run) {
  if (run.length === 12) return "all round";
  return run.length === 1 ? `${run[0]} o'clock` : `${run[0]} to ${run.at(-1)} o'clock`;
}

function paint(told) {
  if (!told) {
    find("#says").textContent = "No answer from the application. What you entered is kept in this browser; it is asked again.";
    return;
  }
  find("#says").textContent = told.refused ? "Refused: see what was found." : told.says;
  page.classList.toggle("refused", told.refused);
  const [notes, graver] = [true, false].map((isNote) => told.findings.filter((one) => (one.level === "note") === isNote)
    .map((one) => [one.level, `${one.word}. ${one.place}: ${one.says}`]));
  list("#findings", graver);
  list("#notes", notes);
  find("#found-title").parentElement.hidden = !graver.length;
  find("#noted").hidden = !notes.length;
  if (told.refused) return;
  find("#lines").textContent = told.lines.join("; ");
  find("#work-size").hidden = !told.working;
  if (told.working) {
    lines(find("#work-size ul"), told.working.lines);
    links(find("#work-size p"), told.working.keys);
  }
  find("#gate").hidden = !told.gate_shut;
  list("#next", told.next.map((one) => ["", `${one.what}: ${one.narrows_by}`]));
  find("#next-title").parentElement.hidden = !told.next.length;
  dial.draw(told.map, told.frame);
  phone.says(told.says);
}

function list(where, lines) {
  find(where).replaceChildren(...lines.map(([kind, words]) => {
    const line = document.createElement("li");
    line.className = kind;
    line.textContent = words;
    return line;
  }));
}

function show() {
  const { now } = edits;
  dial.show(now.hours);
  for (const field of document.querySelectorAll("#opening-title ~ .fields input")) put(field, "plain" in field.dataset ? now[field.dataset.key] : now[field.dataset.key].likely);
  now.hours.forEach((hour, i) => hourLine(find("#hours").children[i], hour));
  heights();
  for (const kind of ["tunnel", "keep_clear"]) rows(kind);
  find("#undo").disabled = !edits.past.length;
  find("#redo").disabled = !edits.next.length;
  phone.show();
}

function put(field, value) {
  if (field !== document.activeElement || Number(field.value) !== value) field.value = value ?? "";
}

function typed(field) {
  return field.value === "" ? null : Number(field.value);
}

function hourLine(line, { found, reach_cm, covers }) {
  const [state, part] = line.querySelectorAll("select");
  const reach = line.querySelector("input");
  const isKept = found === "kept as written";
  line.dataset.found = found;
  state.hidden = isKept;
  line.querySelector(".written").hidden = !isKept;
  if (!isKept) state.value = found;
  for (const field of [reach, part]) field.disabled = found !== "undermined";
  put(reach, reach_cm.likely);
  line.querySelector(".span").textContent = reach_cm.low === null ? "" : ` ${reach_cm.low}–${reach_cm.high}`;
  part.value = covers;
}

function heights() {
  const runs = stretches(edits.now.hours);
  const holder = find("#stretches");
  const names = JSON.stringify(runs);
  if (holder.dataset.names !== names) {
    holder.dataset.names = names;
    holder.replaceChildren(...runs.map((run) => {
      const made = find("#stretch-line").content.firstElementChild.cloneNode(true);
      made.dataset.hours = run.join();
      made.querySelector("legend").textContent = sayHours(run);
      for (const field of made.querySelectorAll("input, select")) {
        const what = field.dataset.end ? `Pocket height ${field.dataset.end}, cm` : "Basis";
        field.setAttribute("aria-label", `${what}, ${sayHours(run)}`);
      }
      return made;
    }));
    if (!runs.length) holder.textContent = "No undermining on the dial.";
  }
  for (const made of holder.querySelectorAll("fieldset")) {
    const hour = edits.now.hours[Number(made.dataset.hours.split(",")[0]) - 1];
    for (const field of made.querySelectorAll("input")) put(field, hour.height_cm[field.dataset.end]);
    made.querySelector("select").value = hour.basis;
  }
  find("#part").hidden = !runs.some((run) => run.length > 1);
}

function rows(kind) {
  const holder = find(`#${kind}`);
  const entries = edits.now[kind];
  if (holder.childElementCount !== entries.length) {
    holder.replaceChildren(...entries.map((_, i) => {
      const made = find(`#${kind}-line`).content.firstElementChild.cloneNode(true);
      const name = `${kind === "tunnel" ? "Tunnel" : "Structure"} ${i + 1}`;
      made.dataset.row = i;
      made.querySelector("legend").textContent = name;
      for (const field of made.querySelectorAll("input, select")) {
        field.setAttribute("aria-label", `${name}, ${field.parentElement.firstChild.textContent.trim()}`);
      }
      made.querySelector("button").setAttribute("aria-label", `Remove ${name.toLowerCase()}`);
      return made;
    }));
  }
  for (const made of holder.children) {
    const entry = entries[made.dataset.row];
    for (const field of made.querySelectorAll("input, select")) {
      const value = entry[field.dataset.key];
      put(field, "span" in field.dataset ? value.likely : value === null ? "" : String(value));
    }
  }
}

for (let hour = 1; hour <= 12; hour += 1) {
  const line = find("#hour-line").content.firstElementChild.cloneNode(true);
  line.querySelector("th").textContent = hour;
  for (const field of line.querySelectorAll("[data-key]")) {
    const what = { found: "Probe", reach_cm: "Reach in cm", covers: "Covers" }[field.dataset.key];
    field.setAttribute("aria-label", `${what} at ${hour} o'clock`);
    field.addEventListener("change", () => {
      if (!field.validity.valid) return;
      edits.change((state) => {
        if (field.dataset.key === "found") setHour(state, hour, field.value);
        else if (field.dataset.key === "covers") state.hours[hour - 1].covers = field.value;
        else setHour(state, hour, "undermined", typed(field));
      });
    });
  }
  find("#hours").append(line);
}
for (const select of document.querySelectorAll("[data-part]")) {
  for (let hour = 1; hour <= 12; hour += 1) select.append(new Option(hour, hour));
}
for (const field of document.querySelectorAll("[data-traced]")) field.hidden = data.traced;

find("#opening-title").parentElement.addEventListener("change", ({ target }) => {
  if (target.validity.valid) edits.change((state) => {
    state[target.dataset.key] = "plain" in target.dataset ? typed(target) : { ...EMPTY, likely: typed(target) };
  });
});

find("#stretches").addEventListener("change", ({ target }) => {
  if (!target.validity.valid) return;
  const made = target.closest("fieldset");
  edits.change((state) => {
    for (const hour of made.dataset.hours.split(",").map(Number)) {
      if (target.dataset.end) state.hours[hour - 1].height_cm[target.dataset.end] = typed(target);
      else state.hours[hour - 1].basis = target.value;
    }
  });
});

// A height of its own begins unmeasured: what was measured beside it is not its.
find("#split").addEventListener("click", () => edits.change((state) => {
  const [from, to] = [...document.querySelectorAll("[data-part]")].map((select) => Number(select.value));
  for (let hour = from; ; hour = (hour % 12) + 1) {
    const one = state.hours[hour - 1];
    if (one.found === "undermined") one.height_cm = structuredClone(EMPTY);
    if (hour === to) break;
  }
}));

const NEW = {
  tunnel: { clock: 12, length_cm: EMPTY, diameter_cm: EMPTY, down_deg: 0, end_felt: null },
  keep_clear: { what: "structure", clock: 12, from_edge_cm: 0, radius_cm: 1 },
};
for (const kind of ["tunnel", "keep_clear"]) {
  const holder = find(`#${kind}`);
  find(`[data-add="${kind}"]`).addEventListener("click", () => {
    edits.change((state) => state[kind].push(structuredClone(NEW[kind])));
    holder.lastElementChild.querySelector("input").focus();
  });
  holder.addEventListener("change", ({ target }) => {
    const { key, span } = target.dataset;
    if (!target.validity.valid || (target.value === "" && span === undefined && key !== "end_felt")) return;
    edits.change((state) => {
      const entry = state[kind][target.closest("fieldset").dataset.row];
      if (key === "what") entry.what = target.value;
      else if (key === "end_felt") entry.end_felt = { true: true, false: false }[target.value] ?? null;
      else entry[key] = span === undefined ? Number(target.value) : { ...EMPTY, likely: typed(target) };
    });
  });
  holder.addEventListener("click", ({ target }) => {
    if (target.tagName !== "BUTTON") return;
    const row = Number(target.closest("fieldset").dataset.row);
    edits.change((state) => state[kind].splice(row, 1));
    holder.parentElement.querySelector("h2").focus();
  });
}

find("#undo").addEventListener("click", () => edits.undo());
find("#redo").addEventListener("click", () => edits.redo());
find("#reset").addEventListener("click", () => edits.change((state) => Object.assign(state, structuredClone(filed))));
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input")) return;
  event.preventDefault();
  if (event.shiftKey) edits.redo();
  else edits.undo();
});
find("#keep").addEventListener("submit", (event) => {
  event.target.elements.measures.value = JSON.stringify(sent());
});

dial.hours = edits.now.hours;
find("#draft").hidden = !edits.isDraft;
paint(data.echo);
show();
if (edits.isDraft) asker.ask();
