// Writing down: what is typed outlives a reload, a restarted server and a lost connection until it was saved.
import { isTyped, putBack, recalled, typedIn } from "./drafts.js";
import { keepSteps } from "./steps.js";

const form = document.querySelector("#look");
const WITHOUT = ["token"];
if (form) begin();

function begin() {
  const draft = `soakline-shift-${form.dataset.case}`;
  if (form.dataset.saved === "1") {
    localStorage.removeItem(draft);
    // A reload is not a second save: what is typed from here on is a draft again.
    history.replaceState(null, "", location.pathname);
  }
  const kept = form.dataset.refused === "1" ? null : recalled(draft);
  if (kept) {
    putBack(form, kept, WITHOUT);
    document.querySelector("#draft").hidden = false;
  }
  const keep = () => localStorage.setItem(draft, JSON.stringify(typedIn(form, WITHOUT)));
  // A quick hand types before this module runs.
  if (!kept && isTyped(form)) keep();
  keepSteps(form, WITHOUT);
  for (const kind of ["input", "change"]) {
    form.addEventListener(kind, () => {
      keep();
      warn();
    });
  }
  warn();
  form.querySelector('input[aria-invalid="true"], [aria-invalid="true"] input')?.focus();
}

// A grave sign stops at once, before anything is saved.
function warn() {
  const sign = form.querySelector('[name="sign"]:checked')?.value;
  document.querySelector("#stop-now").hidden = !sign || sign === "none";
}
