// What is being measured in three dimensions, once that part is opened; it follows when the hand rests.
import { Solid } from "./solid.js";

const PAUSE_MS = 400;

export class Shape {
  constructor(address, measures) {
    Object.assign(this, { address, measures, asked: 0, pause: 0, solid: null });
    this.details = document.querySelector("#solid");
    this.details.addEventListener("toggle", () => this.details.open && this.ask());
  }

  overtaken() {
    clearTimeout(this.pause);
    if (this.details.open) this.pause = setTimeout(() => this.ask(), PAUSE_MS);
  }

  async ask() {
    const mine = ++this.asked;
    const answer = await fetch(this.address, {
      method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(this.measures()),
    }).catch(() => null);
    const told = answer?.ok ? await answer.json() : { lacks: "No answer from the application. Close this part and open it again." };
    if (mine !== this.asked) return;
    const [stage, shows, says] = [".stage", "#solid-shows", "#solid-says"].map((what) => document.querySelector(what));
    stage.classList.toggle("before", Boolean(told.lacks && this.solid));
    shows.textContent = told.lacks ? told.lacks + (this.solid ? " Shown is the shape before." : "") : told.shows;
    if (told.lacks) return;
    says.textContent = told.says;
    if (this.solid) this.solid.take(told);
    else this.solid = new Solid(stage, told);
  }
}
