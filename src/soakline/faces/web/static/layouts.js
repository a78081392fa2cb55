// Follows a search for layouts in place; without this module the page loads itself anew every few seconds.
const section = document.querySelector("#layouts");

async function follow() {
  const address = section?.dataset.running;
  if (!address) return;
  const answer = await fetch(address).catch(() => null);
  const text = answer?.ok ? await answer.text() : "";
  const next = new DOMParser().parseFromString(text, "text/html").querySelector("#layouts");
  if (next && next.innerHTML !== section.innerHTML) {
    const goesOn = "running" in next.dataset && section.querySelector("progress");
    // While it runs only what is said changes, so that the button keeps its focus.
    if (goesOn) section.querySelector('[role="status"]').replaceWith(next.querySelector('[role="status"]'));
    else section.replaceChildren(...next.childNodes);
  }
  if (next && !("running" in next.dataset)) delete section.dataset.running;
  else setTimeout(follow, 1000);
}

setTimeout(follow, 1000);
