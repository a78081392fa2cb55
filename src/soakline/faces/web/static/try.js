// The workspace: what the hand moves is shown at once; the answer follows, one question at a time, the newest first.
import { Board, Places, drawn } from "./board.js";
import { Asker, Edits } from "./edits.js";
import { Play } from "./play.js";
import { list } from "./working.js";

const page = document.querySelector("#try");
const data = JSON.parse(document.querySelector("#data").textContent);
const places = new Places(data);
const PAUSE_MS = 350;

const filed = {
  ports: data.ports,
  fills: Object.fromEntries(data.units.map((unit) => [unit.name, unit.fill_ml ?? 0])),
  still: [],
};
const edits = new Edits(`soakline-try-${page.dataset.case}`, page.dataset.version, filed, () => {
  show();
  ask();
});
let answer = null;
let held = null;
let pause = 0;
// Ranges are asked for once the hand rests; `asked` is the trial that the next answer belongs to.
let isResting = false;
let asked = null;

const asker = new Asker(`/cases/${page.dataset.case}/try`, () => {
  asked = trial(isResting);
  return asked;
}, paint);
const board = new Board(document.querySelector(".board"), places, (name, place, isDone) => edits.change((state) => {
  const port = state.ports.find((one) => one.name === name);
  if (place) Object.assign(port, place(port));
}, isDone));
const play = new Play(page.dataset.case, data, () => trial(false), {
  areas: board.areas, surface: () => chosen("surface"), back: areas,
});

function chosen(name) {
  return document.querySelector(`input[name="${name}"]:checked`).value;
}

function pours(port) {
  return port.kind === "instillation" && port.unit && edits.now.fills[port.unit] > 0 && !edits.now.still.includes(port.name);
}

function trial(withRanges) {
  const poured = edits.now.ports.filter(pours).map((port) => [port.name, edits.now.fills[port.unit]]);
  return {
    ports: edits.now.ports, poured_ml: Object.fromEntries(poured), posture: chosen("posture"), model: chosen("model"),
    with_ranges: withRanges,
  };
}

function ask() {
  clearTimeout(pause);
  isResting = false;
  play.overtaken();
  asker.ask();
}

function paint(told) {
  const status = document.querySelector("#status");
  if (!told || told.refused) {
    status.textContent = told?.refused.join(" ")
      ?? "No answer from the application. What you moved is kept in this browser; it is asked again.";
    status.className = "shut";
    return;
  }
  // An answer with ranges that the hand has overtaken would redraw what is no longer so.
  if (asked.with_ranges && asker.isWanted) return;
  if (!asked.with_ranges && !asker.isWanted) {
    pause = setTimeout(() => {
      isResting = true;
      asker.ask();
    }, PAUSE_MS);
  }
  answer = told;
  board.foam.setAttribute("d", told.foam);
  status.className = "";
  status.textContent = `${edits.now.ports.filter(pours).map((port) => `${edits.now.fills[port.unit]} mL through ${port.name}`).join(", ")}, ${chosen("posture")}`;
  document.querySelector("#says").textContent = told.says;
  row(document.querySelector("#reach tr"), told);
  list(document.querySelector("#work-trial ul"), told.working);
  areas();
  zones();
  chart();
}

function row(line, told) {
  const cells = line.querySelectorAll("td");
  [told.soaked[0], told.wetted[0], told.soaked[1], told.wetted[1]].forEach((words, i) => {
    const [word, range] = words.split(/, (?=\d)/);
    cells[i].textContent = range ? `${word}, ` : word;
    if (range) cells[i].append(Object.assign(document.createElement("span"), { className: "range", textContent: range }));
  });
}

function areas() {
  const surface = chosen("surface");
  if (answer && !play.drawn()) {
    answer.paths[surface].forEach((path, i) => board.areas[i].setAttribute("d", path));
    document.querySelector("#key").textContent = `Dotted: ${answer.means[surface][0]}. Hatched: ${answer.means[surface][1]}.`;
  }
  if (held) held.answer.paths[surface].forEach((path, i) => held.areas[i].setAttribute("d", path));
}

function zones() {
  for (const line of document.querySelectorAll("#ports tr[data-port]")) {
    line.nextElementSibling.querySelector(".zone").textContent = answer?.placed[line.dataset.port] ?? "";
  }
}

function chart() {
  const figure = document.querySelector("#chart");
  figure.hidden = !answer.curve;
  if (!answer.curve) return;
  const { floor, roof, most_ml } = answer.curve;
  const upright = (ml) => (ml > 0 && ml <= most_ml ? `M${(ml / most_ml) * 300} 0V100` : "");
  figure.querySelector(".floor").setAttribute("d", floor);
  figure.querySelector(".roof").setAttribute("d", roof);
  figure.querySelector(".now").setAttribute("d", upright(edits.now.ports.filter(pours).reduce((sum, port) => sum + edits.now.fills[port.unit], 0)));
  const lift = data.lifts_drape_from_ml;
  figure.querySelector(".lift").setAttribute("d", lift ? upright(lift) : "");
  figure.querySelector(".lift-says").textContent = lift ? `dotted: from ${Math.round(lift)} mL it may lift the drape` : "the void is not known";
}

function show() {
  board.show(edits.now.ports);
  table();
  fills();
  document.querySelector("#undo").disabled = !edits.past.length;
  document.querySelector("#redo").disabled = !edits.next.length;
}

function table() {
  const body = document.querySelector("#ports");
  const names = edits.now.ports.map((port) => port.name).join();
  if (body.dataset.names !== names) {
    body.dataset.names = names;
    body.replaceChildren(...edits.now.ports.flatMap(lines));
    zones();
  }
  for (const port of edits.now.ports) {
    const line = body.querySelector(`tr[data-port="${CSS.escape(port.name)}"]`);
    for (const key of ["clock", "from_edge_cm"]) {
      const field = line.querySelector(`[data-key="${key}"]`);
      if (field !== document.activeElement) field.value = port[key];
    }
    line.querySelector("select").value = port.unit ?? "";
    const flows = line.querySelector('[type="checkbox"]');
    if (flows) flows.checked = Boolean(pours(port));
  }
}

function lines(port) {
  const [made, placed] = document.querySelector("#port-line").content.cloneNode(true).children;
  made.dataset.port = port.name;
  made.querySelector(".name").textContent = port.name;
  made.querySelector(".kind").textContent = port.kind;
  made.querySelector('[data-key="clock"]').setAttribute("aria-label", `Hour of port ${port.name}`);
  made.querySelector('[data-key="from_edge_cm"]').setAttribute("aria-label", `Distance of port ${port.name} from the edge in cm`);
  const unit = made.querySelector("select");
  unit.setAttribute("aria-label", `Therapy unit of port ${port.name}`);
  unit.append(...data.units.map(({ name }) => new Option(name, name)));
  const flows = made.querySelector('[type="checkbox"]');
  if (port.kind === "instillation") flows.setAttribute("aria-label", `Port ${port.name} pours`);
  else flows.remove();
  made.querySelector("button").setAttribute("aria-label", `Remove port ${port.name}`);
  return [made, placed];
}

document.querySelector("#ports").addEventListener("change", ({ target }) => {
  const name = target.closest("tr").dataset.port;
  edits.change((state) => {
    const port = state.ports.find((one) => one.name === name);
    if (target.dataset.key) {
      if (target.value !== "" && target.validity.valid) Object.assign(port, places.inside({ ...port, [target.dataset.key]: Number(target.value) }));
    } else if (target.type === "checkbox") {
      state.still = target.checked ? state.still.filter((one) => one !== name) : [...state.still, name];
    } else {
      port.unit = target.value || null;
    }
  });
  if (target.dataset.key) target.value = edits.now.ports.find((one) => one.name === name)[target.dataset.key];
});

document.querySelector("#ports").addEventListener("click", ({ target }) => {
  if (target.tagName !== "BUTTON") return;
  const name = target.closest("tr").dataset.port;
  edits.change((state) => {
    state.ports = state.ports.filter((port) => port.name !== name);
  });
  document.querySelector("#ports-title").focus();
});

for (const button of document.querySelectorAll("[data-add]")) {
  button.addEventListener("click", () => edits.change((state) => {
    const kind = button.dataset.add;
    const letter = kind === "instillation" ? "I" : "S";
    const taken = new Set(state.ports.map((port) => port.name));
    const number = [...Array(20).keys()].find((i) => !taken.has(`${letter}${i + 1}`)) + 1;
    const free = data.units.find(({ name }) => !state.ports.some((port) => port.unit === name && port.kind === "instillation"));
    const unit = kind === "instillation" ? free?.name ?? null : data.units[0]?.name ?? null;
    state.ports.push({ name: `${letter}${number}`, kind, ...places.inside({ clock: 12, from_edge_cm: 0 }), unit });
  }));
}

function fills() {
  const holder = document.querySelector("#fills");
  if (!holder.childElementCount) {
    for (const { name } of data.units) {
      const made = document.querySelector("#fill-line").content.firstElementChild.cloneNode(true);
      made.querySelector(".name").textContent = `Unit ${name}, mL each fill`;
      for (const field of made.querySelectorAll("input")) {
        field.dataset.unit = name;
        field.max = field.type === "range" ? holder.dataset.most : 5000;
        field.setAttribute("aria-label", `Fill of unit ${name} in mL${field.type === "range" ? ", slider" : ""}`);
      }
      holder.append(made);
    }
  }
  for (const field of holder.querySelectorAll("input")) {
    if (field !== document.activeElement || field.type === "range") field.value = edits.now.fills[field.dataset.unit];
  }
}

document.querySelector("#fills").addEventListener("input", ({ target }) => {
  if (!target.validity.valid || target.value === "") return;
  edits.change((state) => {
    state.fills[target.dataset.unit] = Number(target.value);
  }, target.type !== "range");
});
document.querySelector("#fills").addEventListener("change", () => {
  edits.settle();
  show();
});

for (const name of ["posture", "model"]) {
  for (const field of document.querySelectorAll(`input[name="${name}"]`)) field.addEventListener("change", ask);
}
for (const field of document.querySelectorAll('input[name="surface"]')) field.addEventListener("change", areas);

document.querySelector("#undo").addEventListener("click", () => edits.undo());
document.querySelector("#redo").addEventListener("click", () => edits.redo());
addEventListener("keydown", (event) => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input:not([type=range]):not([type=radio]):not([type=checkbox])")) return;
  event.preventDefault();
  if (event.shiftKey) edits.redo();
  else edits.undo();
});

document.querySelector("#reset").addEventListener("click", () => edits.change((state) => Object.assign(state, structuredClone(filed))));

document.querySelector("#hold").addEventListener("click", () => {
  if (!answer) return;
  const figure = document.querySelector("#held-map");
  const text = document.querySelector(".board > svg").outerHTML.replaceAll("try-", "held-");
  const copy = document.importNode(new DOMParser().parseFromString(text, "image/svg+xml").documentElement, true);
  for (const path of copy.querySelectorAll('path[fill="url(#held-soaked)"], path[fill="url(#held-second)"]')) path.remove();
  for (const handle of document.querySelectorAll(".over .handle")) {
    const mark = handle.cloneNode(true);
    for (const name of [...mark.getAttributeNames()].filter((key) => key !== "transform" && key !== "class")) mark.removeAttribute(name);
    copy.append(mark);
  }
  figure.querySelector("div").replaceChildren(copy);
  figure.hidden = false;
  held = { answer, areas: drawn(copy, "held") };
  const body = document.querySelector("#reach");
  body.querySelector(".held")?.remove();
  const line = body.firstElementChild.cloneNode(true);
  line.className = "held";
  line.querySelector("th").textContent = "Held";
  body.append(line);
  areas();
});

document.querySelector("#keep").addEventListener("submit", (event) => {
  const fills = Object.fromEntries(Object.entries(edits.now.fills).filter(([, ml]) => ml > 0));
  event.target.elements.layout.value = JSON.stringify({ ports: edits.now.ports, fill_ml: fills });
});

show();
document.querySelector("#draft").hidden = Boolean(data.opened) || !edits.isDraft;
if (data.opened) {
  // What stood here is one step back; loaded again, the page keeps what the hand made of the layout.
  history.replaceState(null, "", location.pathname);
  edits.change((state) => Object.assign(state, { ports: data.opened.ports, fills: { ...filed.fills, ...data.opened.fill_ml }, still: [] }));
} else ask();
