// Changes posture, port and surface of the wound map in place; without this module the same links load the page anew.
const view = document.querySelector("#view");

view?.addEventListener("click", async (event) => {
  const link = event.target.closest(".switch a");
  if (!link || event.metaKey || event.ctrlKey || event.shiftKey || event.altKey) return;
  event.preventDefault();
  if (await show(link.href)) {
    history.pushState(null, "", link.href);
    view.querySelector(`.switch a[href="${link.getAttribute("href")}"]`)?.focus({ preventScroll: true });
  } else {
    location.assign(link.href);
  }
});

addEventListener("popstate", () => show(location.href));

async function show(address) {
  const answer = await fetch(address).catch(() => null);
  if (!answer?.ok) return false;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const next = page.querySelector("#view");
  if (!next) return false;
  view.replaceChildren(...next.childNodes);
  return true;
}
