// A check that is clicked: options or a number, a hint, a second try, then the answer.
//
// `question` is what is asked, without its key:
//   { id, text, unit, options: ["…"] or null for a number that is typed, letters: ["A", …], has_hint }
// `link` is what judges, a page's folded key or a notebook's kernel; each of its answers may come later (a Promise):
//   answer(given), the words of an option or what was typed; hint(); solution(), asked for by who opens the answer.
// They return what squatlab.questions.asking says: { right: true, false or null (no try used), text, done }.
// Every judged answer fires an event "answered" on the form, `detail` is { id, given, right, text, done }.
// The returned `show(feedback)` puts back what was answered before: feedback with `given`.
function asking(place, question, link) {
  const id = ownId("check"), options = question.options ?? [];
  const status = make("p", { role: "status", "data-kind": "" });
  const submit = make("button", { type: "submit", "data-lm-suppress-shortcuts": "true" }, "Answer");
  const hint = button("Hint", async () => say(await link.hint()));
  const words = make("p"), solution = make("details", {}, make("summary", {}, "Show the answer"), words);
  const fields = make("fieldset", {}, make("legend", {}, question.text));
  const inputs = options.map((option, i) => make("input", { type: "radio", name: id, value: i }));
  options.forEach((option, i) =>
    fields.append(make("label", { class: "option" }, inputs[i], make("span", {}, `${question.letters[i]}) ${option}`))));
  const typed = make("input", { type: "text", inputmode: "decimal", autocomplete: "off" });
  if (!options.length) fields.append(make("label", { class: "typed" }, "Your answer ", typed, ` ${question.unit}`));
  const form = make("form", { class: "squatlab-check" }, fields,
    make("div", { class: "row" }, submit, question.has_hint ? hint : null), status, solution);
  let waiting = false;

  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (waiting || submit.disabled) return; // a second click while the first is judged is none
    const given = options.length ? options[inputs.findIndex((input) => input.checked)] : typed.value;
    if (!given?.trim()) return say({ right: null, text: options.length ? "Choose one first." : "Type a number first." });
    waiting = true;
    const feedback = await link.answer(given);
    waiting = false;
    say(feedback);
    form.dispatchEvent(new CustomEvent("answered", { bubbles: true, detail: { id: question.id, given, ...feedback } }));
  });
  solution.addEventListener("toggle", async () => {
    if (!solution.open || words.textContent) return;
    const feedback = await link.solution();
    words.textContent = feedback.text;
    close(feedback);
  });
  // A notebook takes single keys for its own: "b" would insert a cell.
  form.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(form);

  function say(feedback) {
    status.textContent = feedback.text;
    status.dataset.kind = feedback.right === null ? "" : feedback.right ? "right" : "wrong";
    close(feedback);
  }
  function close({ done }) {
    if (done) submit.disabled = hint.disabled = true;
  }
  function show(feedback) {
    const chosen = options.indexOf(feedback.given);
    if (chosen >= 0) inputs[chosen].checked = true;
    else if (feedback.given !== undefined) typed.value = feedback.given;
    say(feedback);
  }
  return { show };
}
