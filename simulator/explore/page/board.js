// Showing answers: numbers, sentences, tables, drawings. Every text goes in as text.

import { make } from "./controls.js";

const DIRECTIONS = { upscale: "↑ upscale", downscale: "↓ below zero", zero: "stands at zero" };
const GUESS = "Say which readings will change, which way, and whether the total will hold. Then move, and show the answer.";
const $ = (id) => document.getElementById(id);

export class Board {
  constructor() {
    this.shown = null; // the readings on the board
    this.before = null; // the readings before the present move
    this.mover = null;
    this.covered = false;
    $("cover").addEventListener("click", () => this.#cover(!this.covered));
    new ResizeObserver(() => this.#makeRoom()).observe($("strip"));
  }

  // How much of the window the strip covers while the rest is scrolled.
  #makeRoom() {
    const covers = getComputedStyle($("strip")).position === "sticky" ? $("strip").offsetHeight : 0;
    document.documentElement.style.setProperty("--strip", `${covers}px`);
  }

  // A new thing is being moved: what is read now is what the move will be compared with.
  hold(name) {
    if (name === this.mover && name !== null) return;
    this.mover = name;
    this.before = name === null ? null : this.shown;
  }

  wait() {
    for (const id of ["phasors-figure", "connections-figure", "table-section"]) $(id).classList.add("stale");
  }

  fail(message) {
    $("problem").textContent = message;
    $("reason").textContent = "";
    $("answers").classList.add("nothing");
  }

  read(answer) {
    this.shown = answer;
    $("problem").textContent = answer.problem ?? "";
    const dangerous = (note) => note.startsWith("DANGER");
    this.#list("dangers", answer.notes.filter(dangerous));
    this.#list("notes", answer.notes.filter((note) => !dangerous(note)));
    $("answers").classList.toggle("nothing", Boolean(answer.problem));
    this.#numbers();
    this.#facts(answer);
    clearTimeout(this.speaking);
    this.speaking = setTimeout(() => this.#speak(answer), 600);
  }

  #list(id, texts) {
    $(id).replaceChildren(...texts.map((textContent) => make("li", { textContent })));
    $(id).parentElement.hidden = texts.length === 0;
  }

  #numbers() {
    const { readings, others, total } = this.shown;
    const before = new Map((this.before?.readings ?? []).map((r) => [r.name, r]));
    const cells = readings.map((r) => this.#reading(r, before.get(r.name)));
    for (const [name, text] of others) cells.push(this.#other(name, text));
    $("readings").replaceChildren(...cells);
    $("readings").classList.toggle("many", cells.length > 4);
    $("sum").replaceChildren(...(total ? this.#total(total) : []));
    if (this.covered) $("reason").textContent = GUESS;
    else if (total) $("reason").textContent = total.reason;
    else if (this.shown.problem) $("reason").textContent = "";
    else $("reason").textContent = readings.length ? "These readings form no total." : "There is no wattmeter: choose a method.";
  }

  #open(text) {
    return this.covered ? "?" : text;
  }

  #reading({ name, text, unit, direction, watts }, before) {
    const number = make("span", { className: "number" }, this.#open(text), " ", make("small", { textContent: unit }));
    number.dataset.watts = watts;
    const cell = make("li", {}, make("b", { textContent: name }), number);
    cell.append(make("span", { className: "direction", textContent: this.#open(DIRECTIONS[direction]) }));
    if (before && !this.covered) {
      const same = before.text === text && before.unit === unit;
      cell.append(make("span", { className: "was", textContent: same ? "unchanged" : `was ${before.text} ${before.unit}` }));
      cell.classList.toggle("changed", !same);
    }
    return cell;
  }

  #other(name, text) {
    const number = make("span", { className: "number lesser", textContent: this.#open(text) });
    return make("li", {}, make("b", { textContent: name }), number);
  }

  #total({ formula, quantity, texts, unit, right, verdict, indicated, true: truth }) {
    const number = (text, value) => {
      const cell = make("dd", { className: "number" }, this.#open(text), " ", make("small", { textContent: unit }));
      cell.dataset.value = value;
      return cell;
    };
    const sign = right ? "✓ " : "✗ ";
    const heading = `total ${formula}`;
    const judged = make("dd", { className: `verdict ${right ? "right" : "wrong"}`, textContent: this.#open(sign + verdict) });
    return [
      make("div", {}, make("dt", { textContent: heading, className: heading.length < 20 ? "whole" : "" }), number(texts[0], indicated)),
      make("div", {}, make("dt", { textContent: `true ${quantity}` }), number(texts[1], truth)),
      make("div", { className: judged.className }, make("dt", { className: "unseen", textContent: "verdict" }), judged),
    ];
  }

  #facts({ facts, branches, circumstances, readings }) {
    const felt = [...readings.map((r) => [r.name, r.senses]), ...facts];
    $("facts").replaceChildren(...felt.map(([name, text]) =>
      make("div", {}, make("dt", { textContent: name }), make("dd", { textContent: text }))));
    fill($("branches"), ["load", "branch", "U V", "I A", "P W", "Q var"], branches, 2);
    const seen = readings.map((r) => `${r.name}: ${r.senses}`).join(". ");
    $("phasors").alt = `Phasor diagram: ${circumstances}. ${seen}.`;
    $("connections").alt = `Connection diagram: ${circumstances}; every connection stands in the list below.`;
  }

  // What a screen reader says once the move has come to rest.
  #speak({ readings, total, problem }) {
    const words = readings.map((r) => `${r.name} ${r.text} ${r.unit}`);
    if (total) words.push(`total ${total.texts[0]} ${total.unit}, ${total.verdict}`);
    $("spoken").textContent = this.covered ? "" : problem ?? words.join("; ");
  }

  explain({ why, connections }) {
    $("table-section").classList.remove("stale");
    $("connection-list").textContent = connections ?? "";
    $("table-section").hidden = $("proof-section").hidden = !why;
    if (!why) return;
    this.#exactness(why.table);
    $("conditions").textContent = `${why.conditions} ▸ marks the rows and columns that hold this situation. ${why.decided}`;
    $("proof").replaceChildren(...why.proof.map((line) => make("li", { textContent: line })));
    fill($("terms"), ["term", why.unit, "expression"], why.terms, 1);
    $("counterexample-section").hidden = !why.counterexample;
    $("counterexample").textContent = why.counterexample ?? "";
  }

  #exactness({ heads, rows }) {
    const head = make("tr", {}, make("td"), ...heads.map((text) => make("th", { scope: "col", textContent: text })));
    const body = rows.map(({ head: text, cells }) =>
      make("tr", {}, make("th", { scope: "row", textContent: text }), ...cells.map((cell) =>
        make("td", {
          className: `${cell.right ? "right" : "wrong"}${cell.here ? " here" : ""}`,
          textContent: `${cell.here ? "▸ " : ""}${cell.right ? "✓" : "✗"} ${cell.text}`,
        }))));
    $("table").replaceChildren(make("thead", {}, head), make("tbody", {}, ...body));
  }

  draw(name, image, query) {
    const figure = $(`${name}-figure`);
    figure.classList.remove("stale");
    figure.classList.toggle("lost", Boolean(image.problem));
    if (image.problem) return;
    const old = $(name);
    image.id = name;
    image.alt = old.alt;
    image.width = image.naturalWidth;
    image.height = image.naturalHeight;
    old.replaceWith(image); // not its address, which would be asked for again
    $(`${name}-link`).href = image.src;
    document.body.dataset[name] = query;
  }

  #cover(covered) {
    this.covered = covered;
    $("cover").setAttribute("aria-pressed", covered);
    $("cover").textContent = covered ? "Show the answer" : "Cover the answer, guess first";
    $("answers").classList.toggle("covered", covered);
    if (this.shown) this.#numbers();
  }
}

function fill(table, heads, rows, texts) {
  const head = make("tr", {}, ...heads.map((text, k) =>
    make("th", { scope: "col", textContent: text, className: k < texts || text === "expression" ? "" : "figure" })));
  const body = rows.map((row) => make("tr", {}, ...row.map((text, k) =>
    make("td", { textContent: text, className: k < texts || heads[k] === "expression" ? "" : "figure" }))));
  table.replaceChildren(make("thead", {}, head), make("tbody", {}, ...body));
}
