// What is typed into a form, read and put back; kept in this browser until it is saved.
export function typedIn(form, without) {
  return Object.fromEntries([...new FormData(form)].filter(([key]) => !without.includes(key)));
}

// Whether anything differs from what the page came with.
export function isTyped(form) {
  return [...form.elements].some((one) => one.name && (one.value !== (one.defaultValue ?? one.value) || one.checked !== one.defaultChecked));
}

export function putBack(form, fields, without) {
  for (const one of form.elements) {
    if (!one.name || without.includes(one.name)) continue;
    if (one.type === "radio") one.checked = one.value === fields[one.name];
    else if (one.type === "checkbox") one.checked = Boolean(fields[one.name]);
    else if (one.name in fields) one.value = fields[one.name];
  }
  for (const fold of form.querySelectorAll("details")) fold.open ||= [...fold.querySelectorAll("input")].some((one) => one.value);
}

export function recalled(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

// A form that is saved over the version of a case that it was filled in from. Kept is only what differs from what was
// filed, so that nothing else of a newer version is undone. Where one of those fields was saved otherwise meanwhile,
// the draft goes on over the version it was typed over: saving it shows both texts.
export function keepDraft(form, without) {
  const { draft: name, version, about = "" } = form.dataset;
  const mine = `${name}-`;
  const key = `${mine}${version}`;
  const drafts = () => Object.keys(localStorage).filter((one) => one.startsWith(mine));
  if (form.dataset.saved === "1") {
    for (const one of drafts()) localStorage.removeItem(one);
    // A reload is not a second save: what is typed from here on is a draft again.
    history.replaceState(null, "", location.pathname);
  }
  // A page that was refused holds what was typed, not what is filed.
  const filed = { ...typedIn(form, without), ...(form.dataset.refused === "1" ? recalled(key)?.filed : {}) };
  for (const one of drafts()) recall(one);
  for (const kind of ["input", "change"]) form.addEventListener(kind, keep);
  document.querySelector("#drop").addEventListener("click", () => {
    for (const one of drafts()) localStorage.removeItem(one);
    location.assign(location.pathname);
  });

  function keep() {
    const now = typedIn(form, without);
    const names = Object.keys({ ...filed, ...now }).filter((one) => filed[one] !== now[one]);
    const only = (from) => Object.fromEntries(names.map((one) => [one, from[one] ?? ""]));
    if (!names.length) localStorage.removeItem(key);
    else localStorage.setItem(key, JSON.stringify({ about, version: form.elements.version.value, filed: only(filed), fields: only(now) }));
  }

  function recall(one) {
    const kept = recalled(one);
    if (!kept?.filed) {
      localStorage.removeItem(one);
      return;
    }
    const now = typedIn(form, without);
    const names = Object.keys(kept.fields).filter((field) => field in form.elements && kept.fields[field] !== (now[field] ?? ""));
    if (kept.about !== about) return;
    if (!names.length) {
      // Saved, though the page that said so was left before it could let go of the draft.
      localStorage.removeItem(one);
      return;
    }
    // What a page offers by itself, such as the time now, nobody saved.
    const isOffered = (field) => "offered" in (form.elements[field].dataset ?? {});
    const isOther = names.some((field) => !isOffered(field) && kept.filed[field] !== (now[field] ?? ""));
    if (isOther || kept.version !== one.slice(mine.length)) form.elements.version.value = kept.version;
    putBack(form, { ...now, ...Object.fromEntries(names.map((field) => [field, kept.fields[field]])) }, without);
    document.querySelector("#draft").hidden = false;
    localStorage.removeItem(one);
    keep();
  }
}
