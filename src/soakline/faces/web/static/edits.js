// Edits: one state, its way back and forth, and a draft that outlives a reload until the case has a newer version.
export class Edits {
  constructor(name, version, filed, told) {
    Object.assign(this, { key: `${name}-${version}`, filed, told, past: [], next: [], before: null });
    for (const key of Object.keys(localStorage)) {
      if (key.startsWith(`${name}-`) && key !== this.key) localStorage.removeItem(key);
    }
    // A draft of an earlier program lacks what is asked since: that stands as it is filed.
    this.now = { ...structuredClone(filed), ...this.recall() };
  }

  recall() {
    try {
      return JSON.parse(localStorage.getItem(this.key));
    } catch {
      return null;
    }
  }

  get isDraft() {
    return Boolean(localStorage.getItem(this.key));
  }

  // A move is one step back however long the hand takes over it.
  change(edit, isDone = true) {
    this.before ??= structuredClone(this.now);
    edit(this.now);
    if (isDone) this.settle();
    this.told(isDone);
  }

  settle() {
    if (this.before && JSON.stringify(this.before) !== JSON.stringify(this.now)) {
      this.past.push(this.before);
      this.next.length = 0;
    }
    this.before = null;
    this.keep();
  }

  keep() {
    if (JSON.stringify(this.now) === JSON.stringify(this.filed)) localStorage.removeItem(this.key);
    else localStorage.setItem(this.key, JSON.stringify(this.now));
  }

  undo() {
    this.travel(this.past, this.next);
  }

  redo() {
    this.travel(this.next, this.past);
  }

  travel(from, to) {
    if (!from.length) return;
    to.push(structuredClone(this.now));
    this.now = from.pop();
    this.keep();
    this.told(true);
  }
}

// One request in flight; what was asked meanwhile goes next, the newest alone; a lost answer is asked again.
export class Asker {
  constructor(address, body, paint) {
    Object.assign(this, { address, body, paint, isAsking: false, isWanted: false, again: 0 });
  }

  async ask() {
    clearTimeout(this.again);
    if (this.isAsking) {
      this.isWanted = true;
      return;
    }
    this.isAsking = true;
    this.isWanted = false;
    const told = await this.answered(this.body());
    this.isAsking = false;
    if (!told) this.again = setTimeout(() => this.ask(), 2000);
    this.paint(told);
    if (this.isWanted) this.ask();
  }

  async answered(body) {
    const told = await fetch(this.address, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(body),
    }).catch(() => null);
    return told?.ok ? told.json() : null;
  }
}
