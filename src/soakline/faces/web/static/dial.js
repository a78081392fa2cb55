// The dial: twelve hours over the map of the wound, each a point that is dragged out along its ray.
import { element, staysUnderFinger } from "./board.js";

const STEP_CM = 0.5;
const HOURS = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12];

export class Dial {
  // `moved(hour, found, reach, isDone)` is told each move: found is one of the three states; null leaves all as it is.
  constructor(frame, moved) {
    Object.assign(this, { frame, moved, hours: [], held: null });
  }

  // A map drawn anew under a moving hand would change its scale: it waits until the hand lets go. The hours stay the
  // same elements, so that the focus stays on one and is not told anew.
  draw(map, place) {
    if (this.dragging) {
      this.held = [map, place];
      return;
    }
    this.place = place;
    if (!map) {
      this.handles = null;
      this.frame.textContent = "The dial is drawn once the opening has a length and a width.";
      return;
    }
    const drawn = new DOMParser().parseFromString(map, "image/svg+xml").documentElement;
    if (!this.handles) {
      this.over = element("svg", { class: "over", role: "group", "aria-label": "Hours of the dial" });
      this.frame.replaceChildren(this.over);
      this.handles = HOURS.map((hour) => this.add(hour));
    }
    this.map?.remove();
    this.map = document.importNode(drawn, true);
    this.frame.prepend(this.map);
    this.over.setAttribute("viewBox", drawn.getAttribute("viewBox"));
    this.show(this.hours);
  }

  add(hour) {
    const handle = element("g", { class: "handle hour", tabindex: 0, role: "slider", "aria-label": `Reach at ${hour} o'clock, cm`, "aria-valuemin": 0, "aria-valuemax": 80 }, this.over);
    element("path", { class: "wedge" }, handle);
    element("path", { class: "ray" }, handle);
    element("circle", { class: "point", r: 2.2 }, handle);
    staysUnderFinger(handle);
    handle.addEventListener("pointerdown", (event) => this.drag(event, hour, handle));
    handle.addEventListener("keydown", (event) => this.step(event, hour));
    return handle;
  }

  at(hour, radius_cm, turn = 0) {
    const angle = ((hour * 30 + turn) * Math.PI) / 180;
    const [x, y] = this.place.origin_mm;
    return [x + radius_cm * Math.sin(angle) * this.place.mm_per_cm, y - radius_cm * Math.cos(angle) * this.place.mm_per_cm];
  }

  show(hours) {
    this.hours = hours;
    this.handles?.forEach((handle, i) => {
      const { found, reach_cm } = hours[i];
      const reach = found === "undermined" ? reach_cm.likely ?? 0 : 0;
      const edge = this.place.edge_cm[i];
      const [near, far] = [this.at(i + 1, edge), this.at(i + 1, edge + reach)];
      const [a, b] = [-15, 15].map((turn) => this.at(i + 1, this.place.room_cm, turn).map((n) => n.toFixed(2)).join(" "));
      handle.dataset.found = found;
      handle.querySelector(".wedge").setAttribute("d", `M${this.place.origin_mm.join(" ")}L${a}L${b}Z`);
      handle.querySelector(".ray").setAttribute("d", reach ? `M${near.join(" ")}L${far.join(" ")}` : "");
      const point = handle.querySelector(".point");
      point.setAttribute("cx", far[0].toFixed(2));
      point.setAttribute("cy", far[1].toFixed(2));
      handle.setAttribute("aria-valuenow", reach);
      handle.setAttribute("aria-valuetext", found === "undermined" ? (reach_cm.likely === null ? "undermined, reach not measured" : `undermined, ${reach} cm`) : found);
      if (found === "kept as written") handle.setAttribute("aria-disabled", "true");
    });
  }

  drag(event, hour, handle) {
    event.preventDefault();
    handle.focus();
    if (this.hours[hour - 1].found === "kept as written") return;
    handle.setPointerCapture(event.pointerId);
    this.dragging = true;
    const start = [event.clientX, event.clientY];
    let isMoved = false;
    const move = (at) => {
      // A finger that only touches an hour does not measure it.
      isMoved ||= Math.hypot(at.clientX - start[0], at.clientY - start[1]) > 6;
      if (isMoved) this.reachTo(hour, this.along(at, hour), false);
    };
    const stop = () => {
      handle.removeEventListener("pointermove", move);
      this.dragging = false;
      if (this.held) this.draw(...this.held);
      this.held = null;
      if (isMoved) this.moved(hour, null, null, true);
    };
    handle.addEventListener("pointermove", move);
    handle.addEventListener("lostpointercapture", stop, { once: true });
  }

  // How far beyond the edge a point lies along the hour's ray, in cm.
  along(event, hour) {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.over.getScreenCTM().inverse());
    const [x, y] = this.place.origin_mm;
    const angle = (hour * Math.PI) / 6;
    return ((at.x - x) * Math.sin(angle) - (at.y - y) * Math.cos(angle)) / this.place.mm_per_cm - this.place.edge_cm[hour - 1];
  }

  reachTo(hour, cm, isDone) {
    const reach = Math.min(Math.round(cm / STEP_CM) * STEP_CM, 80);
    if (reach > 0) this.moved(hour, "undermined", reach, isDone);
    else this.moved(hour, "none found", null, isDone);
  }

  step(event, hour) {
    const { found, reach_cm } = this.hours[hour - 1];
    if (found === "kept as written" || event.ctrlKey || event.metaKey || event.altKey) return;
    const reach = found === "undermined" ? reach_cm.likely ?? 0 : 0;
    const by = { ArrowUp: STEP_CM, ArrowRight: STEP_CM, ArrowDown: -STEP_CM, ArrowLeft: -STEP_CM, PageUp: 2, PageDown: -2 }[event.key];
    if (by) this.reachTo(hour, reach + by, true);
    else if (event.key.toLowerCase() === "n") this.moved(hour, "none found", null, true);
    else if (event.key === "Delete" || event.key === "Backspace") this.moved(hour, "not probed", null, true);
    else return;
    event.preventDefault();
  }
}
