// The working behind figures that are asked for anew: its lines, and links to the sources behind them.
export function list(holder, lines) {
  holder.replaceChildren(...lines.map((words) => Object.assign(document.createElement("li"), { textContent: words })));
}

export function links(holder, keys) {
  holder.replaceChildren("Sources: ", ...keys.flatMap((key, i) => {
    const link = Object.assign(document.createElement("a"), { href: `/about#${key}` });
    link.append(Object.assign(document.createElement("code"), { textContent: key }));
    return i ? [", ", link] : [link];
  }));
}
