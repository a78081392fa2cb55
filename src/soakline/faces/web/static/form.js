// A page of questions: what is typed is kept in this browser until it is saved, and can be taken back; a stop that is yes opens who answers.
import { keepDraft } from "./drafts.js";
import { keepSteps } from "./steps.js";

const form = document.querySelector("#asked");
if (form) begin();

function begin() {
  const without = ["token", "version"];
  keepDraft(form, without);
  keepSteps(form, without);
  form.addEventListener("change", ({ target }) => {
    const fold = form.querySelector(`details[data-when="${target.name}"]`);
    if (fold && target.value === "yes") fold.open = true;
  });
  form.querySelector('input[aria-invalid="true"], select[aria-invalid="true"], [aria-invalid="true"] input')?.focus();
}
