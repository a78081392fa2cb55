// The change of the dressing: what is typed is kept in this browser until it is saved; the ordered wait counts down.
import { keepDraft } from "./drafts.js";
import { keepSteps } from "./steps.js";

const form = document.querySelector("#change");
if (form) begin();

function begin() {
  const without = ["token", "version", "number"];
  keepDraft(form, without);
  keepSteps(form, without);
  for (const kind of ["input", "change"]) form.addEventListener(kind, warn);
  warn();
  const timers = [...document.querySelectorAll(".timer")];
  const tick = () => timers.forEach(count);
  tick();
  setInterval(tick, 1000);
  form.addEventListener("input", tick);
  paint();
  form.addEventListener("input", paint);
  document.querySelector(".paint")?.addEventListener("click", (event) => {
    const hour = event.target.closest(".looks")?.dataset.hour;
    if (!hour) return;
    const looks = form.elements[`probe.${hour}.looks`];
    looks.selectedIndex = (looks.selectedIndex + 1) % looks.options.length;
    for (const kind of ["input", "change"]) looks.dispatchEvent(new Event(kind, { bubbles: true }));
  });

  // A piece that is not found or torn stops the next dressing at once, before anything is saved.
  function warn() {
    const stop = document.querySelector("#stop");
    if (stop.querySelector("strong")) return;
    stop.hidden = !form.querySelector('[value="not found"]:checked, [value="out torn"]:checked');
  }
}

// The map shows what the table says; the table is what is saved.
function paint() {
  for (const wedge of document.querySelectorAll(".paint .looks")) {
    const how = form.elements[`probe.${wedge.dataset.hour}.looks`].value;
    wedge.setAttribute("fill", how ? `url(#looks-${how.replace(" ", "-")})` : "transparent");
  }
}

function count(timer) {
  const given = Date.parse(form.elements[timer.dataset.at].value);
  const wait = Number(form.elements[timer.dataset.wait].value);
  // A dose that is only asked for has no wait yet, whatever time was planned for it.
  const state = form.elements[timer.dataset.state];
  timer.hidden = !(given && wait > 0 && (!state || state.value === "given"));
  if (timer.hidden) return;
  const ends = new Date(given + wait * 60000);
  const left = Math.max(0, Math.ceil((ends - Date.now()) / 1000));
  const digits = [Math.floor(left / 60), left % 60].map((n) => String(n).padStart(2, "0")).join(":");
  timer.querySelector(".digits").textContent = digits;
  const clock = ends.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  const minutes = Math.ceil(left / 60);
  const says = left
    ? `${minutes === 1 ? "1 minute" : `${minutes} minutes`} left of the ordered wait, until ${clock} by this computer's clock`
    : `The ordered wait is over since ${clock} by this computer's clock: feel and ask before you touch the dressing`;
  const status = timer.querySelector("[role=status]");
  if (status.textContent !== says) status.textContent = says;
}
