// A check to click: options or a number, a hint, a second try, then the answer. All that is said comes from `link`:
//   spec() the question, `plain` if it has no hint and no answer to ask for;
//   said() what was last said to an answer, and whether the question is done;
//   answer(given) an option's place or what was typed, giveUp(), another();
//   on(event, hear) with "spec" (another question) and "said".
function asking(place, link) {
  const root = make("div", { class: "squatlab-check" });
  root.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(root);
  let fields, status, kept, inputs, buttons;

  function ask() {
    const spec = link.spec(), name = ownId("check");
    inputs = (spec.options ?? [""]).map((_, place) => make("input", {
      name, ...(spec.options ? { type: "radio", value: place } : { type: "text", autocomplete: "off", size: 12 }),
      "data-lm-suppress-shortcuts": "true",
    }));
    const answers = spec.options
      ? spec.options.map((option, i) => make("label", { class: "option" }, inputs[i],
        make("span", {}, `${option.letter}) ${option.words}`)))
      : [make("label", { class: "typed" }, "Your answer ", inputs[0], ` ${spec.unit}`)];
    fields = make("fieldset", {}, make("legend", {}, spec.text), ...answers);
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
    const form = make("form", { novalidate: "" }, fields, status, row);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      if (!link.said().done) answer(spec);
    });
    const hadFocus = root.contains(document.activeElement);
    root.replaceChildren(form);
    if (hadFocus) inputs[0].focus();
    hear();
  }

  function answer(spec) {
    if (!spec.options) return link.answer(inputs[0].value);
    const picked = inputs.find((input) => input.checked);
    return picked ? link.answer(Number(picked.value)) : say("Choose one first.", "");
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
    const focused = Object.values(buttons).includes(document.activeElement);
    for (const input of inputs) input.disabled = done;
    if (done) buttons.another.hidden = false;
    if (focused && done) buttons.another.focus();
    else if (document.activeElement === buttons.another) inputs[0].focus();
    for (const [name, each] of Object.entries(buttons)) each.hidden = done !== (name === "another");
    if (link.spec().plain) for (const name of ["hint", "giveUp", "another"]) buttons[name].hidden = true;
    if (inputs[0].type === "radio") inputs.forEach((input, i) => {
      if (given === i) input.checked = true;
      const mark = done && right.includes(i) ? "right" : done && given === i ? "wrong" : "";
      input.closest("label").dataset.kind = mark;
    });
    else if (done && given != null) inputs[0].value = given;
  }

  link.on("spec", ask);
  link.on("said", hear);
  ask();
}
