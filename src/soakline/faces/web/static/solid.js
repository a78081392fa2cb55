// The cavity in three dimensions: WebGL2 where it is there, else triangles painted from back to front.
const PER_CM = 100;
const NO_HEAD = -32768;
const FIRST_TIP_DEG = 50;
const FIRST_TURN_DEG = -20;
const KEYS = { ArrowLeft: [-10, 0], ArrowRight: [10, 0], ArrowUp: [0, 10], ArrowDown: [0, -10] };

const VERTEX = `#version 300 es
in vec3 point; in vec2 wet; in float dyed;
uniform mat3 turn; uniform vec3 middle; uniform vec2 scale; uniform float deep;
out vec3 seen; out vec2 reached;
void main() {
  seen = turn * (point - middle);
  reached = mix(vec2(-1.0), wet, dyed);
  gl_Position = vec4(seen.xy * scale, -seen.z * deep, 1.0);
}`;
const FRAGMENT = `#version 300 es
precision highp float;
in vec3 seen; in vec2 reached;
uniform vec3 dry; uniform vec3 liquid; uniform float alpha;
out vec4 colour;
void main() {
  vec3 normal = normalize(cross(dFdx(seen), dFdy(seen)));
  float light = 0.72 + 0.28 * abs(dot(normal, normalize(vec3(0.3, 0.8, 0.5))));
  float stripes = step(0.5, fract((gl_FragCoord.x + gl_FragCoord.y) / 9.0));
  float moist = step(0.001, reached.x);
  float soaked = step(0.001, reached.y);
  float tint = max(soaked, moist * stripes);
  float shown = alpha < 1.0 ? alpha + 0.3 * tint : 1.0;
  colour = vec4(mix(dry, liquid, 0.85 * tint) * light * shown, shown);
}`;

export function unpacked(text, Kind) {
  return new Kind(Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0)).buffer);
}

export class Solid {
  constructor(stage, told) {
    Object.assign(this, { stage, ports: [], up: told.up ?? [0, 1, 0] });
    [this.deep, this.flat] = stage.querySelectorAll("canvas");
    const gl = this.deep.getContext("webgl2");
    this.painter = gl ? new Deep(gl, this) : new Flat(this);
    stage.dataset.painter = gl ? "webgl2" : "2d";
    this.take(told);
    this.first();
    this.listen();
  }

  // Another shape in place of the one before, seen from where the eye is.
  take({ nets, tunnels, sides, outward }) {
    Object.assign(this, { tunnels, sides, outward });
    this.gather(nets);
    this.wet = new Float32Array(2 * this.column.length);
    this.painter.take();
    this.draw();
  }

  // All nets as one list of points; the floor and tunnels are seen as they are, roof and walls are seen through.
  gather(nets) {
    this.edge = [];
    const points = [], columns = [], dyed = [], whole = [], through = [];
    for (const net of nets) {
      const from = columns.length, { rings, around, part } = net;
      points.push(...unpacked(net.point, Int16Array));
      columns.push(...unpacked(net.column, Uint16Array));
      const skin = part.indexOf("edge") + 1, foot = part.indexOf("wall");
      // The opening's edge at the skin, and the outer edge of the bed, are drawn as lines.
      for (const ring of skin ? [skin, foot] : []) this.edge.push([...Array(around + 1).keys()].map((i) => from + ring * around + (i % around)));
      for (let ring = 0; ring < rings; ring += 1) {
        const dry = part[ring] === "open" || part[ring - 1] === "open";
        for (let i = 0; i < around; i += 1) dyed.push(dry ? 0 : 1);
        if (ring === rings - 1 || part[ring] === "open") continue;
        const list = ["floor", "tunnel"].includes(part[ring]) ? whole : through;
        for (let i = 0; i < around; i += 1) {
          const here = from + ring * around + i, on = from + ring * around + ((i + 1) % around);
          list.push(here, on, on + around, here, on + around, here + around);
        }
      }
    }
    this.point = Float32Array.from(points, (x) => x / PER_CM);
    this.column = Uint16Array.from(columns);
    this.dyed = Float32Array.from(dyed);
    this.whole = Uint16Array.from(whole);
    this.through = Uint16Array.from(through);
    const low = [0, 1, 2].map((k) => this.least(k)), high = [0, 1, 2].map((k) => -this.least(k, -1));
    this.middle = low.map((x, k) => (x + high[k]) / 2);
    this.radius = Math.max(Math.hypot(...low.map((x, k) => high[k] - x)) / 2, 1);
  }

  least(k, sign = 1) {
    let least = Infinity;
    for (let i = k; i < this.point.length; i += 3) least = Math.min(least, sign * this.point[i]);
    return least;
  }

  listen() {
    let last = null;
    this.stage.addEventListener("pointerdown", (event) => {
      last = [event.clientX, event.clientY];
      this.stage.setPointerCapture(event.pointerId);
    });
    this.stage.addEventListener("pointermove", (event) => {
      if (!last) return;
      this.turn((event.clientX - last[0]) / 2, (event.clientY - last[1]) / 2);
      last = [event.clientX, event.clientY];
    });
    this.stage.addEventListener("lostpointercapture", () => { last = null; });
    this.stage.addEventListener("keydown", (event) => {
      if (!KEYS[event.key] || event.ctrlKey || event.metaKey || event.altKey) return;
      event.preventDefault();
      this.turn(...KEYS[event.key]);
    });
    for (const button of this.stage.parentElement.querySelectorAll("[data-turn]")) {
      button.addEventListener("click", () => {
        if (button.dataset.turn === "back") this.first();
        else this.turn(...button.dataset.turn.split(" ").map(Number));
      });
    }
    new ResizeObserver(() => this.draw()).observe(this.stage);
    matchMedia("(prefers-color-scheme: dark)").addEventListener("change", () => this.draw());
  }

  // How the patient lies, and where ports lie.
  place({ up, ports }) {
    this.ports = ports;
    if (up.join() !== this.up.join()) {
      this.up = up;
      this.first();
    }
  }

  // Heads along up, and how far below one a surface is moist and is soaked, in tenths of a millimetre; by column. Where
  // suction has drawn nothing is soaked. How far each point lies below is interpolated: a pool ends at its own level.
  show(head, gone, needed) {
    this.column.forEach((column, i) => {
      const height = dot(this.up, this.point.subarray(3 * i, 3 * i + 3));
      needed.forEach((above, soaked) => {
        const none = head[column] === NO_HEAD || (soaked && gone[column]);
        const under = none ? -1 : (head[column] - above) / PER_CM - height;
        this.wet[2 * i + soaked] = Math.min(Math.max(under, -1), 1);
      });
    });
    this.draw();
  }

  // From the feet, looking down; from below where the wound faces the bed, from its own side where it faces aside.
  first() {
    const [x, y, z] = this.base().map((axis) => dot(axis, this.outward));
    this.tip = y < -0.5 ? -35 : FIRST_TIP_DEG;
    this.turned = Math.abs(y) < 0.6 ? (-Math.atan2(x, z) * 180) / Math.PI : FIRST_TURN_DEG;
    if (Math.abs(y) < 0.6) this.tip = 20;
    this.draw();
  }

  turn(across, down) {
    this.turned = (this.turned + across) % 360;
    this.tip = Math.min(Math.max(this.tip + down, -90), 90);
    this.draw();
  }

  // Screen axes in body axes (right, front, head): across, up, towards the eye, which looks from the feet.
  base() {
    const feet = Math.abs(this.up[2]) > 0.95 ? this.outward : [0, 0, -1];
    const along = dot(feet, this.up);
    const eye = unit(feet.map((x, k) => x - along * this.up[k]));
    return [cross(this.up, eye), this.up, eye];
  }

  rows() {
    const [a, b] = [this.turned, this.tip].map((deg) => (deg * Math.PI) / 180);
    const [x, y, z] = this.base();
    const mix = (p, q, r) => x.map((_, k) => p * x[k] + q * y[k] + r * z[k]);
    return [
      mix(Math.cos(a), 0, Math.sin(a)),
      mix(Math.sin(b) * Math.sin(a), Math.cos(b), -Math.sin(b) * Math.cos(a)),
      mix(-Math.cos(b) * Math.sin(a), Math.sin(b), Math.cos(b) * Math.cos(a)),
    ];
  }

  draw() {
    if (this.waiting) return;
    this.waiting = requestAnimationFrame(() => {
      this.waiting = 0;
      this.paint();
    });
  }

  paint() {
    const { clientWidth: width, clientHeight: height } = this.stage, sharp = devicePixelRatio || 1;
    if (!width || !height) return;
    for (const canvas of [this.deep, this.flat]) {
      if (canvas.width !== Math.round(width * sharp)) canvas.width = Math.round(width * sharp);
      if (canvas.height !== Math.round(height * sharp)) canvas.height = Math.round(height * sharp);
    }
    const style = getComputedStyle(this.stage);
    const named = (name) => style.getPropertyValue(name).trim();
    const look = { dry: named("--line"), liquid: named("--accent"), ink: named("--ink"), sheet: named("--sheet") };
    const rows = this.rows(), zoom = (0.46 * Math.min(width, height * 1.25)) / this.radius;
    const to = (at) => {
      const from = [0, 1, 2].map((k) => at[k] - this.middle[k]);
      return [width / 2 + zoom * dot(rows[0], from), height / 2 - zoom * dot(rows[1], from), dot(rows[2], from)];
    };
    const pen = this.flat.getContext("2d");
    pen.setTransform(sharp, 0, 0, sharp, 0, 0);
    pen.clearRect(0, 0, width, height);
    this.painter.paint({ rows, zoom, width, height, look, to, pen });
    this.lines(pen, to, look);
    this.words(pen, to, look, width, height);
  }

  lines(pen, to, { ink }) {
    pen.strokeStyle = ink;
    this.edge.forEach((line, i) => {
      pen.lineWidth = i ? 0.8 : 2;
      pen.beginPath();
      for (const at of line) pen.lineTo(...to(this.point.subarray(3 * at, 3 * at + 3)).slice(0, 2));
      pen.stroke();
    });
  }

  words(pen, to, { ink, sheet }, width, height) {
    pen.lineJoin = "round";
    pen.textBaseline = "middle";
    const write = (text, x, y, font) => {
      pen.font = font;
      pen.lineWidth = 4;
      pen.strokeStyle = sheet;
      pen.fillStyle = ink;
      pen.strokeText(text, x, y);
      pen.fillText(text, x, y);
    };
    const cm = (at) => at.map((x) => x / PER_CM);
    pen.textAlign = "center";
    for (const { name, at } of this.sides) {
      const [x, y] = to(cm(at)), half = name.length * 4 + 8;
      write(name, Math.min(Math.max(x, half), width - half), Math.min(Math.max(y, 12), height - 12), "600 13px system-ui, sans-serif");
    }
    pen.textAlign = "left";
    for (const { name, at } of this.tunnels) {
      const [x, y] = to(cm(at));
      write(name, x + 6, y, "12px system-ui, sans-serif");
    }
    for (const { name, kind, at } of this.ports) {
      const [x, y] = to(cm(at));
      pen.beginPath();
      if (kind === "instillation") pen.arc(x, y, 6, 0, 2 * Math.PI);
      else pen.rect(x - 6, y - 6, 12, 12);
      pen.lineWidth = 2;
      pen.strokeStyle = kind === "instillation" ? sheet : ink;
      pen.fillStyle = kind === "instillation" ? ink : sheet;
      pen.fill();
      pen.stroke();
      write(name, x + 10, y, "bold 14px system-ui, sans-serif");
    }
  }
}

class Deep {
  constructor(gl, solid) {
    Object.assign(this, { gl, solid });
    const program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    gl.useProgram(program);
    this.at = (name) => gl.getUniformLocation(program, name);
    this.buffers = Object.fromEntries([["point", 3], ["dyed", 1], ["wet", 2]].map(([name, size]) => [name, this.buffer(program, name, size)]));
    this.lists = ["whole", "through"].map((name) => [name, gl.createBuffer()]);
    gl.enable(gl.DEPTH_TEST);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
  }

  buffer(program, name, size) {
    const { gl } = this, made = gl.createBuffer(), place = gl.getAttribLocation(program, name);
    gl.bindBuffer(gl.ARRAY_BUFFER, made);
    gl.enableVertexAttribArray(place);
    gl.vertexAttribPointer(place, size, gl.FLOAT, false, 0, 0);
    return made;
  }

  take() {
    const { gl, solid } = this;
    for (const name of ["point", "dyed"]) this.fill(name);
    for (const [name, buffer] of this.lists) {
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, buffer);
      gl.bufferData(gl.ELEMENT_ARRAY_BUFFER, solid[name], gl.STATIC_DRAW);
    }
  }

  fill(name) {
    const { gl, solid } = this;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.buffers[name]);
    gl.bufferData(gl.ARRAY_BUFFER, solid[name], gl.DYNAMIC_DRAW);
  }

  paint({ rows, zoom, width, height, look }) {
    const { gl, solid } = this;
    this.fill("wet");
    gl.viewport(0, 0, gl.drawingBufferWidth, gl.drawingBufferHeight);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.uniformMatrix3fv(this.at("turn"), true, rows.flat());
    gl.uniform3fv(this.at("middle"), solid.middle);
    gl.uniform2f(this.at("scale"), (2 * zoom) / width, (2 * zoom) / height);
    gl.uniform1f(this.at("deep"), 0.45 / solid.radius);
    gl.uniform3fv(this.at("dry"), parts(look.dry));
    gl.uniform3fv(this.at("liquid"), parts(look.liquid));
    this.lists.forEach(([name, buffer], pass) => {
      gl[pass ? "enable" : "disable"](gl.BLEND);
      gl.depthMask(!pass);
      gl.uniform1f(this.at("alpha"), pass ? 0.22 : 1);
      gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, buffer);
      gl.drawElements(gl.TRIANGLES, solid[name].length, gl.UNSIGNED_SHORT, 0);
    });
    gl.depthMask(true);
  }
}

class Flat {
  constructor(solid) {
    this.solid = solid;
    const moist = solid.stage.parentElement.querySelector(".moist");
    if (moist) moist.textContent = "Paler colour";
  }

  take() {}

  paint({ look, to, pen }) {
    const { point, wet, dyed, whole, through } = this.solid, seen = [];
    for (let i = 0; i < point.length; i += 3) seen.push(to([point[i], point[i + 1], point[i + 2]]));
    [whole, through].forEach((list, pass) => {
      const faces = [];
      for (let i = 0; i < list.length; i += 3) {
        const [a, b, c] = [list[i], list[i + 1], list[i + 2]];
        const most = (k) => [a, b, c].filter((at) => dyed[at] && wet[2 * at + k] > 0).length > 1;
        faces.push([seen[a][2] + seen[b][2] + seen[c][2], a, b, c, most(1) ? 2 : most(0) ? 1 : 0]);
      }
      faces.sort((one, other) => one[0] - other[0]);
      for (const [, a, b, c, state] of faces) {
        pen.globalAlpha = pass ? 0.2 : 1;
        pen.fillStyle = pen.strokeStyle = blend(look.dry, look.liquid, [0, 0.4, 0.85][state]);
        pen.lineWidth = pass ? 0 : 0.6;
        pen.beginPath();
        for (const at of [a, b, c]) pen.lineTo(seen[at][0], seen[at][1]);
        pen.closePath();
        pen.fill();
        if (!pass) pen.stroke();
      }
    });
    pen.globalAlpha = 1;
  }
}

function dot(a, b) {
  return a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
}

function cross(a, b) {
  return [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
}

function unit(a) {
  const length = Math.hypot(...a);
  return a.map((x) => x / length);
}

function parts(hex) {
  return [1, 3, 5].map((k) => parseInt(hex.slice(k, k + 2), 16) / 255);
}

function blend(from, to, share) {
  const [a, b] = [parts(from), parts(to)];
  return `rgb(${a.map((x, k) => Math.round(255 * (x + share * (b[k] - x)))).join(" ")})`;
}
