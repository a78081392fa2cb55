// A fill, its dwell and the suction after it, moment by moment, on the map and in three dimensions; nothing moves until it is asked for.
import { Solid, unpacked } from "./solid.js";

const MOMENT_MS = 250;
const PAUSE_MS = 400;
const still = matchMedia("(prefers-reduced-motion: reduce)");

export class Play {
  constructor(caseId, { origin_mm, mm_per_cm }, trial, { areas, surface, back }) {
    Object.assign(this, { caseId, origin_mm, mm_per_cm, trial, areas, surface, back });
    this.button = document.querySelector("#play-button");
    this.back_ = document.querySelector("#play-back");
    this.slider = document.querySelector("#moment");
    this.says = document.querySelector("#moment-says");
    this.details = document.querySelector("#solid");
    this.onMap = false;
    this.told = null;
    this.timer = 0;
    this.pause = 0;
    this.asked = 0;
    this.button.addEventListener("click", () => this.press());
    this.back_.addEventListener("click", () => this.leave());
    this.slider.addEventListener("input", () => this.scrub());
    this.details.addEventListener("toggle", () => this.details.open && this.open());
    still.addEventListener("change", () => this.stop());
    this.stop();
  }

  // True while the map shows a moment instead of the whole answer.
  drawn() {
    if (this.onMap && this.told) this.map();
    return this.onMap && Boolean(this.told);
  }

  // What was moved makes every moment out of date; what is looked at is asked again once the hand rests.
  overtaken() {
    this.asked += 1;
    this.told = null;
    this.stop();
    clearTimeout(this.pause);
    if (this.onMap || this.details.open) this.pause = setTimeout(() => this.load(), PAUSE_MS);
  }

  async load() {
    const mine = ++this.asked;
    const answer = await fetch(`/cases/${this.caseId}/try/frames`, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(this.trial()),
    }).catch(() => null);
    const told = answer?.ok ? await answer.json() : { refused: ["No answer from the application. Press again to ask again."] };
    if (mine !== this.asked) return false;
    if (told.refused) {
      this.says.textContent = told.refused.join(" ");
      this.leave(true);
      return false;
    }
    told.state = unpacked(told.state, Uint8Array);
    told.head = unpacked(told.head, Int16Array);
    told.gone = unpacked(told.gone, Uint8Array);
    told.cells = unpacked(told.cells, Int16Array);
    told.count = told.state.length / told.says.length;
    this.told = told;
    const atEnd = this.slider.value === this.slider.max;
    this.slider.max = told.says.length - 1;
    if (atEnd) this.slider.value = this.dwelt(told);
    this.solid?.place(told);
    this.show();
    return true;
  }

  async press() {
    if (this.timer) {
      this.stop();
      return;
    }
    const last = () => Number(this.slider.value) >= Number(this.slider.max);
    const again = last();
    this.onMap = true;
    if (!this.told && !(await this.load())) return;
    if (again) this.slider.value = 0;
    else if (still.matches) this.slider.value = Number(this.slider.value) + 1;
    this.show();
    if (still.matches) return;
    this.button.textContent = "Pause";
    // Read out at the end or when paused, not four times a second.
    this.says.setAttribute("aria-live", "off");
    this.timer = setInterval(() => {
      this.slider.value = Number(this.slider.value) + 1;
      if (last()) this.stop();
      this.show();
    }, MOMENT_MS);
  }

  stop() {
    clearInterval(this.timer);
    this.timer = 0;
    this.says.setAttribute("aria-live", "polite");
    this.button.textContent = still.matches ? "Step through fill, dwell and suction" : "Play fill, dwell and suction";
  }

  async scrub() {
    this.stop();
    this.onMap = true;
    if (this.told || (await this.load())) this.show();
  }

  leave(refused = false) {
    this.stop();
    this.onMap = false;
    this.back_.hidden = true;
    if (!refused) this.says.textContent = "The map shows the whole answer again.";
    this.back();
  }

  show() {
    if (!this.told) return;
    const words = this.told.says[Number(this.slider.value)];
    this.says.textContent = words;
    this.slider.setAttribute("aria-valuetext", words);
    this.back_.hidden = !this.onMap;
    if (this.onMap) this.map();
    this.solid?.show(this.at(this.told.head), this.at(this.told.gone), this.told.needed);
    if (this.solid) document.querySelector("#solid-shows").textContent = `Shown: ${words}; lying: ${this.told.posture}.`;
  }

  // The moment at which the dwell ends: what the whole answer is about.
  dwelt({ says }) {
    return says.findLastIndex((words) => words.startsWith("dwell"));
  }

  at(values) {
    const from = Number(this.slider.value) * this.told.count;
    return values.subarray(from, from + this.told.count);
  }

  map() {
    const side = this.surface() === "floor" ? (state) => state % 3 : (state) => Math.floor(state / 3);
    const states = this.at(this.told.state);
    [2, 1].forEach((kind, i) => this.areas[i].setAttribute("d", this.path((column) => side(states[column]) === kind)));
    const suction = Number(this.slider.value) > this.dwelt(this.told);
    document.querySelector("#key").textContent = suction
      ? "At this moment, exploratory. Dotted: soaked, not drawn yet. Hatched: moist, or may stay moist."
      : "At this moment. Dotted: soaked. Hatched: moist, not soaked.";
  }

  // Columns as runs along rows; at the cavity's rim let out by one column, as the drawing clips them to the outline.
  path(chosen) {
    const [, rows, places] = this.told.cells_shape;
    const at = (side, row, place) => (row < 0 || place < 0 || row >= rows || place >= places ? -1 : this.told.cells[(side * rows + row) * places + place]);
    const inside = (row, place) => at(0, row, place) >= 0 || at(1, row, place) >= 0;
    const reached = (row, place) => [0, 1].some((side) => at(side, row, place) >= 0 && chosen(at(side, row, place)));
    const beside = (row, place) => [-1, 0, 1].some((down) => [-1, 0, 1].some((across) => reached(row + down, place + across)));
    const drawn = (row, place) => reached(row, place) || (!inside(row, place) && beside(row, place));
    const { corner_cm: [left, low], spacing_cm: step } = this.told;
    const x = (place) => (this.origin_mm[0] + (left + place * step) * this.mm_per_cm).toFixed(2);
    const y = (row) => (this.origin_mm[1] - (low + row * step) * this.mm_per_cm).toFixed(2);
    let path = "";
    for (let row = -1; row <= rows; row += 1) {
      let start = null;
      for (let place = -1; place <= places + 1; place += 1) {
        const on = drawn(row, place);
        if (on) start ??= place;
        else if (start !== null) {
          path += `M${x(start)} ${y(row + 1)}H${x(place)}V${y(row)}H${x(start)}z`;
          start = null;
        }
      }
    }
    return path;
  }

  async open() {
    if (!this.solid) {
      const answer = await fetch(`/cases/${this.caseId}/try/solid`).catch(() => null);
      if (!answer?.ok) {
        document.querySelector("#solid-shows").textContent = "No answer from the application. Close this part and open it again.";
        return;
      }
      const told = await answer.json();
      document.querySelector("#solid-says").textContent = told.says;
      this.solid ??= new Solid(document.querySelector(".stage"), told);
    }
    if (!this.told) await this.load();
    else {
      this.solid.place(this.told);
      this.show();
    }
  }
}
