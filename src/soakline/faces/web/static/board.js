// The board: areas that liquid reaches under the lines of a wound map, and ports that can be moved over them.
const SVG = "http://www.w3.org/2000/svg";
const HALF_CAPITAL = 1.4;

export function element(name, attributes = {}, parent = null) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  parent?.append(made);
  return made;
}

// Under a finger that begins on a handle the page stays still. A style (touch-action) does not do it: browsers heed it
// on boxes, not inside a drawing, take the finger for scrolling, and the handle would be let go after a few pixels.
export function staysUnderFinger(handle) {
  handle.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
}

// Places on the wound, in cm, as hour and distance from the opening's edge, and back.
export class Places {
  constructor({ origin_mm, mm_per_cm, edge_cm, reach_cm }) {
    Object.assign(this, { origin_mm, mm_per_cm, edge_cm, reach_cm });
  }

  at(port) {
    const angle = ((port.clock % 12) * Math.PI) / 6;
    const radius = this.edgeAt(port.clock) + port.from_edge_cm;
    return [
      this.origin_mm[0] + radius * Math.sin(angle) * this.mm_per_cm,
      this.origin_mm[1] - radius * Math.cos(angle) * this.mm_per_cm,
    ];
  }

  // The half hour on whose ray a point lies nearest, and how far out along it.
  from([x, y]) {
    const across = (x - this.origin_mm[0]) / this.mm_per_cm;
    const up = (this.origin_mm[1] - y) / this.mm_per_cm;
    const turn = ((Math.atan2(across, up) * 6) / Math.PI + 12) % 12;
    return this.inside({ clock: turn, from_edge_cm: Math.hypot(across, up) - this.edgeAt(turn) });
  }

  inside({ clock, from_edge_cm }) {
    const half = (((Math.round(clock * 2) / 2) % 12) + 12) % 12;
    const on = half < 1 ? half + 12 : half;
    const within = Math.min(Math.max(from_edge_cm, -this.edgeAt(on)), this.reachAt(on));
    // Towards the opening's centre, so that rounding never leaves the wound.
    return { clock: on, from_edge_cm: Math.floor(within * 10 + 0.001) / 10 };
  }

  edgeAt(clock) {
    return this.edge_cm[Math.round((clock % 12) * 30) % 360];
  }

  reachAt(clock) {
    return this.reach_cm[Math.round((clock % 12) * 30) % 360];
  }
}

export class Board {
  // `moved(name, place, done)` is told each move; `done` once the hand lets go.
  constructor(frame, places, moved) {
    this.places = places;
    this.moved = moved;
    const map = frame.querySelector("svg");
    this.areas = drawn(map, "try");
    this.over = element("svg", { class: "over", viewBox: map.getAttribute("viewBox"), role: "group", "aria-label": "Ports on the map" });
    this.foam = element("path", { class: "foam" }, this.over);
    frame.append(this.over);
    this.handles = new Map();
  }

  show(ports) {
    for (const [name, handle] of this.handles) {
      if (!ports.some((port) => port.name === name)) {
        handle.remove();
        this.handles.delete(name);
      }
    }
    for (const port of ports) {
      const handle = this.handles.get(port.name) ?? this.add(port);
      const [x, y] = this.places.at(port);
      handle.setAttribute("transform", `translate(${x.toFixed(2)} ${y.toFixed(2)})`);
      handle.setAttribute("aria-valuenow", port.clock);
      handle.setAttribute("aria-valuetext", `${say(port.clock)} o'clock, ${port.from_edge_cm} cm from the edge`);
    }
  }

  add(port) {
    const handle = element("g", {
      class: `handle ${port.kind}`, tabindex: 0, role: "slider", "aria-label": `Port ${port.name}, ${port.kind}`,
      "aria-valuemin": 1, "aria-valuemax": 13,
    }, this.over);
    element("circle", { r: 6, class: "grip" }, handle);
    if (port.kind === "instillation") element("circle", { r: 1.8 }, handle);
    else element("rect", { x: -1.8, y: -1.8, width: 3.6, height: 3.6 }, handle);
    const label = element("text", { x: 3, y: HALF_CAPITAL, "font-size": 3.9 }, handle);
    label.textContent = port.name;
    staysUnderFinger(handle);
    handle.addEventListener("pointerdown", (event) => this.drag(event, port.name, handle));
    handle.addEventListener("keydown", (event) => this.step(event, port.name));
    this.handles.set(port.name, handle);
    return handle;
  }

  drag(event, name, handle) {
    event.preventDefault();
    handle.focus();
    handle.setPointerCapture(event.pointerId);
    const move = (at) => this.moved(name, () => this.places.from(this.point(at)), false);
    const stop = () => {
      handle.removeEventListener("pointermove", move);
      this.moved(name, null, true);
    };
    handle.addEventListener("pointermove", move);
    handle.addEventListener("lostpointercapture", stop, { once: true });
  }

  point(event) {
    const { x, y } = new DOMPoint(event.clientX, event.clientY).matrixTransform(this.over.getScreenCTM().inverse());
    return [x, y];
  }

  step(event, name) {
    const steps = { ArrowRight: [0.5, 0], ArrowLeft: [-0.5, 0], ArrowUp: [0, 0.5], ArrowDown: [0, -0.5] };
    const by = steps[event.key];
    if (!by) return;
    event.preventDefault();
    this.moved(name, (port) => this.places.inside({ clock: port.clock + by[0], from_edge_cm: port.from_edge_cm + by[1] }), true);
  }
}

// Two paths behind all lines of a map: soaked, and the second kind of area.
export function drawn(map, prefix) {
  const after = map.querySelector("defs");
  return ["second", "soaked"].map((kind) => {
    const path = element("path", { fill: `url(#${prefix}-${kind})`, "clip-path": `url(#${prefix}-cavity)` });
    after.after(path);
    return path;
  }).reverse();
}

export function say(clock) {
  const hour = Math.floor(clock);
  const minutes = Math.round((clock - hour) * 60);
  return minutes ? `${hour}:${String(minutes).padStart(2, "0")}` : `${hour}`;
}
