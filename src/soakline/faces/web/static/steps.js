// What was entered in a form step by step, taken back and done again by its buttons and by keys.
import { putBack, typedIn } from "./drafts.js";

// Call it once a draft was put back: the first step stands on that.
export function keepSteps(form, without) {
  const [undo, redo] = ["#undo", "#redo"].map((one) => form.querySelector(one));
  const past = [];
  const next = [];
  let now = typedIn(form, without);
  form.addEventListener("change", () => {
    const typed = typedIn(form, without);
    if (JSON.stringify(typed) === JSON.stringify(now)) return;
    past.push(now);
    next.length = 0;
    now = typed;
    show();
  });
  undo.addEventListener("click", () => travel(past, next));
  redo.addEventListener("click", () => travel(next, past));
  addEventListener("keydown", (event) => {
    // While words are typed, the browser takes back letter by letter.
    if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("textarea, input:not([type=radio]):not([type=checkbox])")) return;
    event.preventDefault();
    if (event.shiftKey) travel(next, past);
    else travel(past, next);
  });

  function travel(from, to) {
    if (!from.length) return;
    to.push(now);
    now = from.pop();
    putBack(form, now, without);
    for (const kind of ["input", "change"]) form.dispatchEvent(new Event(kind));
    show();
  }

  function show() {
    undo.disabled = !past.length;
    redo.disabled = !next.length;
  }
}
