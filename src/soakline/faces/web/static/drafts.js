// What is typed into a form, read and put back; kept in this browser until it is saved.
export function typedIn(form, without) {
  return Object.fromEntries([...new FormData(form)].filter(([key]) => !without.includes(key)));
}

export function putBack(form, fields, without) {
  for (const one of form.elements) {
    if (!one.name || without.includes(one.name)) continue;
    if (one.type === "radio") one.checked = one.value === fields[one.name];
    else if (one.type === "checkbox") one.checked = one.name in fields;
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
