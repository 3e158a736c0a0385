// Readings first, drawings after; the address always says what is on the board.

import { Board } from "./board.js";
import { Controls } from "./controls.js";
import { Latest, json } from "./latest.js";

const PAUSE = 25; // [ms]; a move that goes on for longer is not drawn on its way

const board = new Board();
let touched = null; // what the newest entry of the history has moved

const readings = new Latest((query) => json("/readings", query), (answer, query, newest) => {
  if (!answer.circuits) {
    board.fail(answer.problem);
    return;
  }
  board.read(answer); // on the way, too: these numbers move with the hand
  if (!newest) return;
  controls.adapt(answer);
  document.body.dataset.readings = query;
  if (answer.problem) for (const later of [phasors, why, connections]) later.forget();
  else if (phasors.wanted !== query) phasors.ask(query, PAUSE);
});

const phasors = new Latest((query) => drawing("phasors", query), (image, query, newest) => {
  if (!newest) return;
  board.draw("phasors", image, query);
  why.ask(query);
});

const why = new Latest((query) => json("/why", query), (answer, query, newest) => {
  if (!newest) return;
  board.explain(answer);
  connections.ask(query);
});

const connections = new Latest((query) => drawing("connections", query), (image, query, newest) => {
  if (newest) board.draw("connections", image, query);
});

async function drawing(name, query) {
  const image = new Image();
  image.src = `/${name}.svg?${query}`;
  await image.decode();
  return image;
}

function ask(query, finished) {
  if (query !== document.body.dataset.wanted) {
    document.body.dataset.wanted = query;
    document.getElementById("download").href = `/scenario.toml?${query}`;
    board.wait();
    for (const later of [phasors, why, connections]) later.forget();
    readings.ask(query);
  }
  if (finished && phasors.wanted !== query) phasors.ask(query);
}

function moved(name, finished) {
  board.hold(name);
  const query = controls.query();
  ask(query, finished);
  if (!finished) return;
  const address = query ? `?${query}` : "/";
  if (name === touched) history.replaceState(name, "", address);
  else history.pushState(name, "", address);
  touched = name;
}

function follow() {
  touched = history.state;
  board.hold(null);
  controls.follow(location.search);
  ask(controls.query(), true);
}

const description = await json("/controls", "");
const form = document.getElementById("controls");
const controls = new Controls(form, description, moved);
if (description.title) {
  document.getElementById("title").textContent = description.title;
  document.title = `${description.title}: at the board`;
}

addEventListener("popstate", follow);
document.getElementById("again").addEventListener("click", (event) => {
  event.preventDefault();
  history.pushState(null, "", "/");
  follow();
});
follow();
