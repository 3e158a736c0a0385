// Asking for one thing at a time: while an answer is on its way only the newest wish is kept, so
// that an old answer never comes after a new one.

export class Latest {
  // load: from an address to a promise of the answer; show: what to do with it, its address, and
  // whether that is still what is wished for
  constructor(load, show) {
    Object.assign(this, { load, show, wanted: null, busy: false, timer: 0 });
  }

  // pause: how long the wish must stand [ms]
  ask(query, pause = 0) {
    this.wanted = query;
    clearTimeout(this.timer);
    if (pause) this.timer = setTimeout(() => this.#work(), pause);
    else this.#work();
  }

  forget() {
    this.wanted = null;
    clearTimeout(this.timer);
  }

  async #work() {
    if (this.busy) return;
    this.busy = true;
    let done = null;
    while (this.wanted !== null && this.wanted !== done) {
      done = this.wanted;
      let answer;
      try {
        answer = await this.load(done);
      } catch (error) {
        answer = { problem: error.message };
      }
      this.show(answer, done, this.wanted === done);
    }
    this.busy = false;
  }
}

export async function json(path, query) {
  const response = await fetch(query ? `${path}?${query}` : path).catch(() => {
    throw new Error("the page has lost its server; is blondel explore still running?");
  });
  const answer = await response.json();
  if (!response.ok) throw new Error(answer.error);
  return answer;
}
