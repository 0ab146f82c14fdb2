// What answers a question, by its control: one of its options, several of them, or something typed.
//   element     the fieldset, the question its legend; options with a `group` stand under its words instead
//   given()     the answer: an option's place, the places of several, what was typed; null while nothing is chosen
//   show(given) shows an answer again; offer(places) shows these options alone; enable(on); focus(); mark(right, given)
// `changed` is called when the answer is another one. An option that is `alone` goes with no other.
function answerFields(spec, changed = () => {}) {
  const { options, control } = spec, name = ownId("answer"), plain = { name, "data-lm-suppress-shortcuts": "true" };
  const type = control === "several" ? "checkbox" : "radio";
  const inputs = options
    ? options.map(({ id }, place) => make("input", { type, value: id ?? place, ...plain }))
    : [make("input", { type: "text", autocomplete: "off", size: 12, ...plain })];
  const labels = options
    ? options.map(({ letter, words }, place) => make("label", { class: "option" }, inputs[place],
      make("span", {}, letter ? `${letter}) ${words}` : words)))
    : [make("label", { class: "typed" }, "Your answer ", inputs[0], ` ${spec.unit}`)];
  const groups = options ? [...new Set(options.map(({ group }) => group))].filter((group) => group !== undefined) : [];
  const grouped = groups.map((group) => make("fieldset", {}, make("legend", {}, group),
    ...labels.filter((_, place) => options[place].group === group)));
  const element = groups.length ? make("fieldset", { class: "groups", "aria-label": spec.text }, ...grouped)
    : make("fieldset", { role: control === "one" ? "radiogroup" : "group", "aria-label": spec.text },
      make("legend", {}, spec.text), ...labels);
  inputs.forEach((input, place) => input.addEventListener("change", () => {
    if (control === "several" && input.checked) inputs.forEach((other, i) => {
      if (i !== place && (options[i].alone || options[place].alone)) other.checked = false;
    });
    changed();
  }));
  return {
    element,
    given() {
      if (!options) return inputs[0].value;
      const places = inputs.flatMap((input, place) => (input.checked ? [place] : []));
      if (!places.length) return null;
      return control === "several" ? places : places[0];
    },
    show(given) {
      if (!options) inputs[0].value = given ?? "";
      else inputs.forEach((input, place) => { input.checked = [given].flat().includes(place); });
    },
    offer(places) {
      labels.forEach((label, place) => {
        label.hidden = !places.includes(place);
        if (label.hidden) inputs[place].checked = false;
      });
      element.hidden = !places.length;
    },
    enable(on) { for (const input of inputs) input.disabled = !on; },
    focus() { inputs[0].focus(); },
    mark(right, given) {
      if (options) labels.forEach((label, place) => {
        label.dataset.kind = right.includes(place) ? "right" : [given].flat().includes(place) ? "wrong" : "";
      });
    },
  };
}

// A check to click: options or a number, a hint, a second try, then the answer. All that is said comes from `link`:
//   spec() the question, `plain` if it has no hint and no answer to ask for;
//   said() what was last said to an answer, and whether the question is done;
//   answer(given) an option's place or what was typed, giveUp(), another();
//   on(event, hear) with "spec" (another question) and "said".
function asking(place, link) {
  const root = make("div", { class: "squatlab-check" });
  root.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(root);
  let fields, status, kept, buttons;

  function ask() {
    const spec = link.spec();
    fields = answerFields(spec);
    status = make("p", { role: "status", "aria-live": "polite", class: "reply" });
    kept = make("span", { class: "kept" });
    const plain = { "data-lm-suppress-shortcuts": "true" };
    buttons = {
      answer: make("button", { type: "submit", class: "main", ...plain }, "Answer"),
      hint: button("Hint", () => say(spec.hint, "")),
      giveUp: button("Show the answer", () => link.giveUp()),
      another: button("New question", () => link.another()),
    };
    const row = make("div", { class: "row" }, ...Object.values(buttons), kept);
    const form = make("form", { novalidate: "" }, fields.element, status, row);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (link.said().done) return;
      const given = fields.given();
      if (given === null) say("Choose one first.", "");
      else link.answer(given);
    });
    const hadFocus = root.contains(document.activeElement);
    root.replaceChildren(form);
    if (hadFocus) fields.focus();
    hear();
  }

  function say(words, kind) {
    status.textContent = words;
    status.dataset.kind = kind;
  }

  // What was said last; when the question is done, the options show which was right.
  function hear() {
    const { words, kind, done, given, right, kept: saved } = link.said();
    say(words, kind);
    kept.textContent = saved ?? "";
    // What has the focus may go: it moves on, or the keyboard would start again at the top of the page.
    const focused = root.contains(document.activeElement);
    fields.enable(!done);
    if (done) buttons.another.hidden = false;
    if (focused && done) buttons.another.focus();
    else if (document.activeElement === buttons.another) fields.focus();
    for (const [name, each] of Object.entries(buttons)) each.hidden = done !== (name === "another");
    if (link.spec().plain) for (const name of ["hint", "giveUp", "another"]) buttons[name].hidden = true;
    if (given !== null && given !== undefined) fields.show(given);
    fields.mark(done ? right : [], done ? given : null);
  }

  link.on("spec", ask);
  link.on("said", hear);
  ask();
}
