// Changes posture, port and surface of the wound map in place; without this module the same links load the page anew.
const view = document.querySelector("#view");
let asked = 0;

view?.addEventListener("click", async (event) => {
  const link = event.target.closest(".switch a");
  if (!link || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  event.preventDefault();
  history.pushState(null, "", link.href);
  if (await show(link.href)) {
    view.querySelector(`.switch a[href="${link.getAttribute("href")}"]`)?.focus({ preventScroll: true });
  } else {
    location.reload();
  }
});

addEventListener("popstate", () => show(location.href));

// Says whether the page now shows what was asked; an answer that a later question has overtaken is dropped.
async function show(address) {
  const mine = ++asked;
  const answer = await fetch(address).catch(() => null);
  const text = answer?.ok ? await answer.text() : "";
  if (mine !== asked) return true;
  const next = new DOMParser().parseFromString(text, "text/html").querySelector("#view");
  if (!next) return false;
  view.replaceChildren(...next.childNodes);
  return true;
}
