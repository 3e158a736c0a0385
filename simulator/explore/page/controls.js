// The controls: built from the server's description, read from and written to an address.

const GROUPS = { supply: "Supply", load: "Load", meters: "Meters" };

function make(tag, properties = {}, ...children) {
  const element = Object.assign(document.createElement(tag), properties);
  element.append(...children);
  return element;
}

function choices(stops) {
  const groups = new Map();
  for (const [value, text, group] of stops) {
    const option = make("option", { value, textContent: text });
    groups.set(group, [...(groups.get(group) ?? []), option]);
  }
  return [...groups].flatMap(([label, options]) => (label ? [make("optgroup", { label }, ...options)] : options));
}

export { make };

export class Controls {
  // moved: called with the name of what has been moved and whether the move is finished
  constructor(form, { controls: descriptions, file }, moved) {
    this.byName = new Map();
    Object.assign(this, { form, file, moved });
    for (const [group, title] of Object.entries(GROUPS)) {
      const own = descriptions.filter((description) => description.group === group);
      const set = make("fieldset", { id: `group-${group}` }, make("legend", { textContent: title }));
      for (const description of own) set.append(this.#row(description));
      form.append(set);
    }
    this.reversed = make("div", { className: "circuits" });
    this.reversedSet = make(
      "fieldset",
      { className: "reversed" },
      make("legend", { textContent: "Connected the other way round" }),
      this.reversed,
    );
    form.lastElementChild.append(this.reversedSet);
    this.reversalsGiven = null;
    form.addEventListener("submit", (event) => event.preventDefault());
    form.addEventListener("input", (event) => this.#changed(event.target, false));
    form.addEventListener("change", (event) => this.#changed(event.target, true));
  }

  #row(description) {
    const { name, stops, slides } = description;
    const input = slides
      ? make("input", { type: "range", min: 0, max: stops.length - 1, step: 1 })
      : make("select", {}, ...choices(stops));
    input.id = `control-${name}`;
    input.name = name;
    const label = make("label", { htmlFor: input.id, textContent: description.label });
    const why = make("span", { className: "why-not", id: `why-not-${name}` });
    input.setAttribute("aria-describedby", why.id);
    const row = make("div", { className: slides ? "row slider" : "row choice" }, label, input);
    row.classList.toggle("long", !slides && stops.some(([, text]) => text.length > 22));
    const control = { ...description, description, input, label, why, row, output: null };
    if (slides) {
      control.output = make("output", { htmlFor: input.id });
      row.append(control.output);
      const start = make("datalist", { id: `start-${name}` }, make("option", { value: this.#index(control, description.start) }));
      input.setAttribute("list", start.id); // it snaps to where it stood at first
      input.style.setProperty("--start", this.#index(control, description.start) / Math.max(stops.length - 1, 1));
      row.append(start);
    }
    row.append(why);
    this.byName.set(name, control);
    this.#stand(control, description.start);
    return row;
  }

  #index(control, value) {
    return control.stops.findIndex(([stop]) => stop === value);
  }

  #stand(control, value) {
    control.input.value = control.slides ? this.#index(control, value) : value;
    this.#say(control);
  }

  #say(control) {
    if (!control.slides) return;
    const text = control.stops[control.input.value][1];
    control.output.textContent = text;
    control.input.setAttribute("aria-valuetext", text);
    control.row.classList.toggle("moved", this.#value(control) !== control.start);
  }

  #value(control) {
    return control.slides ? control.stops[control.input.value][0] : control.input.value;
  }

  #changed(target, finished) {
    const control = this.byName.get(target.name);
    if (control) {
      this.#say(control);
      if (control.name === "method") this.reversalsGiven = null;
    } else {
      const chosen = [...this.reversed.querySelectorAll("input:checked")];
      this.reversalsGiven = chosen.map((box) => box.value).join(",") || "none";
    }
    this.moved(target.name, finished);
  }

  // The address of the situation, without the question mark; nothing that stands at its start.
  query() {
    const parameters = new URLSearchParams();
    for (const control of this.byName.values()) {
      const value = this.#value(control);
      if (value !== control.start) parameters.append(control.name, value);
    }
    if (this.reversalsGiven !== null) parameters.append("reversed", this.reversalsGiven);
    if (this.file && parameters.size) parameters.append("file", this.file);
    return parameters.toString();
  }

  // Put every control where an address says.
  follow(query) {
    const parameters = new URLSearchParams(query);
    for (const control of this.byName.values()) {
      this.#stand(control, parameters.get(control.name) ?? control.start);
    }
    this.reversalsGiven = parameters.get("reversed");
  }

  // Say which controls do nothing in this situation and why, and what others are called in it.
  adapt({ idle, labels, circuits }) {
    const every = [...this.byName.values()];
    const reasons = every.map((control) => control.whyNot || idle[control.name] || "");
    every.forEach((control, k) => {
      control.input.disabled = reasons[k] !== "";
      control.row.classList.toggle("idle", reasons[k] !== "");
      control.label.textContent = labels[control.name] ?? control.description.label;
      control.why.textContent = reasons[k];
      control.why.classList.toggle("unseen", reasons[k] === reasons[k + 1]); // once for neighbours
    });
    this.#offer(circuits);
  }

  #offer(circuits) {
    const names = circuits.map(({ value }) => value).join();
    if (this.offered !== names) {
      this.offered = names;
      this.reversed.replaceChildren(
        ...circuits.map(({ name, circuit, value }) =>
          make(
            "label",
            {},
            make("input", { type: "checkbox", name: "reversed", value }),
            make("span", { textContent: `${name} ${circuit}` }),
          ),
        ),
      );
    }
    this.reversedSet.hidden = circuits.length === 0;
    const boxes = this.reversed.querySelectorAll("input");
    circuits.forEach(({ reversed }, k) => { boxes[k].checked = reversed; });
  }
}
