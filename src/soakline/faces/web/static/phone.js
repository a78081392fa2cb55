// By phone: one question at a time, each answer read back in words before it is kept.
const find = (what) => document.querySelector(what);
const DIGITS = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"];
const EMPTY = { low: null, likely: null, high: null };

// 15 and 50 sound alike: numbers are read digit by digit.
export function aloud(value) {
  return [...String(value)].map((sign) => (sign === "." ? "point" : sign === "-" ? "minus" : DIGITS[sign])).join(" ");
}

export function cm(value) {
  return `${value} cm (${aloud(value)})`;
}

export class Phone {
  constructor(edits, { setHour, stretches, sayHours, isTraced, part }) {
    Object.assign(this, { edits, setHour, stretches, sayHours, isTraced, part, place: 0, answer: null });
    find("#mode").addEventListener("click", () => this.turn(find("#phone").hidden));
    find("#reply").addEventListener("submit", (event) => {
      event.preventDefault();
      this.readBack();
    });
    find("#skip").addEventListener("click", () => this.go(1));
    find("#earlier").addEventListener("click", () => this.go(-1));
    find("#right").addEventListener("click", () => this.keep());
    find("#again").addEventListener("click", () => {
      find("#heard").hidden = true;
      find("#reply").hidden = false;
      find("#ask").focus();
    });
    find("#print").addEventListener("click", () => print());
    if (matchMedia("(max-width: 30rem)").matches) this.turn(true, false);
  }

  turn(isOn, withFocus = true) {
    find("#mode").setAttribute("aria-pressed", isOn);
    document.body.classList.toggle("by-phone", isOn);
    find("#phone").hidden = !isOn;
    find("#sheet").hidden = !isOn;
    find("#form").hidden = isOn;
    if (isOn) this.ask(withFocus);
  }

  get questions() {
    const { now } = this.edits;
    const sizes = [
      ["length_cm", "How long is the opening from 12 to 6 o'clock, in cm?", "length of the opening"],
      ["width_cm", "How wide is the opening from 9 to 3 o'clock, in cm?", "width of the opening"],
      ["depth_cm", "How deep is it, from the skin straight to the bed, in cm?", "depth"],
    ].slice(this.isTraced ? 2 : 0);
    const open = [...now.hours.keys()].filter((i) => now.hours[i].found !== "kept as written");
    return [
      ...sizes.map((size) => this.sizeQuestion(...size)),
      this.girthQuestion(),
      ...open.map((i) => this.hourQuestion(i + 1)),
      ...this.stretches(now.hours).map((run) => this.heightQuestion(run)),
      this.tunnelQuestion(),
      this.structureQuestion(),
      ...[
        ["advised_by", "Who gives the advice? Name and role.", "advice given by"],
        ["taken_by", "Who takes it over at the bedside? Name and role.", "taken over by"],
        ["call_back", "When is the call back, and on which number?", "call back"],
      ].map((line) => this.lineQuestion(...line)),
    ];
  }

  sizeQuestion(key, ask, name) {
    return {
      ask,
      fields: [{ name: "cm, empty if not measured", type: "number", value: this.edits.now[key].likely }],
      read: ([value]) => (value === null ? `${name}: not measured` : `${name}: ${cm(value)}`),
      keep: (state, [value]) => {
        if (value !== state[key].likely) state[key] = { ...EMPTY, likely: value };
      },
    };
  }

  girthQuestion() {
    return {
      ask: `How far round is the ${this.part} at the opening, in cm?`,
      fields: [{ name: "cm, empty if not measured", type: "number", value: this.edits.now.girth_cm }],
      read: ([value]) => (value === null ? "girth: not measured" : `girth: ${cm(value)}`),
      keep: (state, [value]) => {
        state.girth_cm = value;
      },
    };
  }

  hourQuestion(hour) {
    const { found, reach_cm } = this.edits.now.hours[hour - 1];
    return {
      ask: `At ${hour} o'clock: does the probe go under the skin, and how far from the edge?`,
      fields: [
        { name: "the probe", options: ["not probed", "none found", "undermined"], value: found },
        { name: "reach, cm", type: "number", value: reach_cm.likely },
      ],
      read: ([state, reach]) => {
        const said = { "not probed": "not probed", "none found": "probed, none found" }[state];
        return `at ${hour} o'clock: ${said ?? `undermined, ${reach === null ? "reach not measured" : `${cm(reach)} from the edge`}`}`;
      },
      keep: (state, [value, reach]) => this.setHour(state, hour, value, reach),
    };
  }

  heightQuestion(run) {
    const height = this.edits.now.hours[run[0] - 1].height_cm;
    const name = `pocket height ${this.sayHours(run)}`;
    return {
      ask: `${name}: the gap between the bed and the underside of the kept skin, in cm?`,
      fields: ["low", "likely", "high"].map((end) => ({ name: `${end}, cm`, type: "number", value: height[end] })),
      read: ([low, likely, high]) => {
        if (low === null && likely === null && high === null) return `${name}: not measured`;
        if (low === null && high === null) return `${name}: ${cm(likely)}`;
        return `${name}: low ${low === null ? "not told" : cm(low)}, likely ${likely === null ? "not told" : cm(likely)}, high ${high === null ? "not told" : cm(high)}`;
      },
      keep: (state, [low, likely, high]) => {
        for (const hour of run) state.hours[hour - 1].height_cm = { low, likely, high };
      },
    };
  }

  tunnelQuestion() {
    const count = this.edits.now.tunnel.length;
    return {
      ask: `Is there a${count ? "nother" : ""} tunnel? ${count ? `${count} entered. ` : ""}Leave the hour empty if not.`,
      fields: [
        { name: "hour", type: "number", value: null },
        { name: "length, cm", type: "number", value: null },
        { name: "width across, cm", type: "number", value: null },
      ],
      isMore: ([clock]) => clock !== null,
      read: ([clock, length, across]) => {
        if (clock === null) return "no further tunnel told";
        return `tunnel at ${aloud(clock)} o'clock, length ${length === null ? "not measured" : cm(length)}, width across ${across === null ? "not measured" : cm(across)}`;
      },
      keep: (state, [clock, length, across]) => {
        if (clock === null) return;
        state.tunnel.push({ clock, length_cm: { ...EMPTY, likely: length }, diameter_cm: { ...EMPTY, likely: across }, down_deg: 0, end_felt: null });
      },
    };
  }

  structureQuestion() {
    const count = this.edits.now.keep_clear.length;
    return {
      ask: `Is there a${count ? "nother" : ""} structure to keep clear? ${count ? `${count} entered. ` : ""}Leave empty if not.`,
      fields: [
        { name: "what", type: "text", value: null },
        { name: "hour", type: "number", value: null },
        { name: "cm from the edge", type: "number", value: null },
        { name: "half its width, cm", type: "number", value: null },
      ],
      missing: ([what, ...place]) => (what && place.includes(null) ? "A structure needs its hour, its distance from the edge and half its width." : ""),
      isMore: ([what]) => Boolean(what),
      read: ([what, clock, from, radius]) => (what ? `keep clear: ${what} at ${aloud(clock)} o'clock, ${cm(from)} from the edge, half its width ${cm(radius)}` : "no further structure told"),
      keep: (state, [what, clock, from_edge_cm, radius_cm]) => {
        if (what) state.keep_clear.push({ what, clock, from_edge_cm, radius_cm });
      },
    };
  }

  lineQuestion(key, ask, name) {
    return {
      ask,
      fields: [{ name: "in words", type: "text", value: this.edits.now.call[key] }],
      read: ([value]) => `${name}: ${value || "not told"}`,
      keep: (state, [value]) => {
        state.call[key] = value ?? "";
      },
    };
  }

  ask(withFocus = true) {
    const all = this.questions;
    const isOver = this.place >= all.length;
    find("#heard").hidden = true;
    find("#reply").hidden = isOver;
    find("#count").textContent = isOver ? "" : `Question ${this.place + 1} of ${all.length}`;
    find("#ask").textContent = isOver ? "All was asked: print it, and take it over into the case file." : all[this.place].ask;
    if (!isOver) find("#answers").replaceChildren(...all[this.place].fields.map(asField));
    find("#earlier").disabled = this.place === 0;
    this.show();
    if (withFocus) find("#ask").focus();
  }

  go(by) {
    this.place = Math.max(0, this.place + by);
    this.ask();
  }

  readBack() {
    const fields = [...find("#answers").querySelectorAll("input, select")];
    const question = this.questions[this.place];
    this.answer = fields.map(read);
    const isValid = fields.every((field) => field.validity.valid);
    const missing = isValid ? question.missing?.(this.answer) : "A number is written as 4 or 4.5, in cm; an hour is 1 to 12.";
    find("#reply").hidden = !missing;
    find("#heard").hidden = Boolean(missing);
    if (missing) find("#count").textContent = missing;
    else {
      find("#readback").textContent = question.read(this.answer);
      find("#readback").focus();
    }
  }

  keep() {
    const question = this.questions[this.place];
    const { answer } = this;
    if (!question.isMore?.(answer)) this.place += 1;
    this.edits.change((state) => question.keep(state, answer));
    this.ask();
  }

  says(words) {
    find("#sheet-says").textContent = `Told by the application, estimated from these measures: ${words}.`;
  }

  // The sheet tells what is kept, in the words in which it was read back.
  show() {
    const { now } = this.edits;
    const lines = [
      `Advice given by: ${now.call.advised_by || "____________________"}`,
      `Taken over by: ${now.call.taken_by || "____________________"}`,
      `Call back: ${now.call.call_back || "____________________"}`,
      ...[["length", now.length_cm], ["width", now.width_cm], ["depth", now.depth_cm]].slice(this.isTraced ? 2 : 0)
        .map(([name, span]) => `${name}: ${saySpan(span)}`),
      `girth: ${now.girth_cm === null ? "not measured" : `${now.girth_cm} cm`}`,
      ...now.hours.map((hour, i) => `${i + 1} o'clock: ${hour.found}${hour.found === "undermined" ? `, reach ${saySpan(hour.reach_cm)}` : ""}`),
      ...this.stretches(now.hours).map((run) => `pocket height ${this.sayHours(run)}: ${saySpan(now.hours[run[0] - 1].height_cm)}`),
      ...now.tunnel.map((one) => `tunnel at ${one.clock} o'clock: length ${saySpan(one.length_cm)}, width across ${saySpan(one.diameter_cm)}`),
      ...now.keep_clear.map((one) => `keep clear: ${one.what}, ${one.clock} o'clock, ${one.from_edge_cm} cm from the edge`),
    ];
    find("#told").replaceChildren(...lines.map((words) => {
      const line = document.createElement("li");
      line.textContent = words;
      return line;
    }));
  }
}

function saySpan({ low, likely, high }) {
  if (likely === null) return "not measured";
  return low === null ? `${likely} cm` : `${likely} cm, ${low}–${high}`;
}

function asField({ name, type, options, value }) {
  const label = document.createElement("label");
  const field = document.createElement(options ? "select" : "input");
  label.append(name);
  if (options) field.append(...options.map((option) => new Option(option, option)));
  else {
    field.type = type;
    if (type === "number") field.step = "any";
    else field.maxLength = 80;
    if (name === "hour") Object.assign(field, { min: 1, max: 12.5, step: 0.5 });
  }
  field.value = value ?? "";
  label.append(field);
  return label;
}

function read(field) {
  if (field.type === "number") return field.value === "" ? null : Number(field.value);
  return field.value.trim() || null;
}
