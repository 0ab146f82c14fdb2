// The marks of a trial: a row of questions, and of the one that is opened the reasons beside its lift.
function render({ model, el }) {
  const summary = make("p", { role: "status", class: "words" }), row = make("div", { role: "group", "aria-label": "Questions", class: "row" });
  const heading = make("h4", { tabindex: -1 }), prompt = make("p", { class: "prompt" }), reasons = make("div");
  const screen = make("div", { class: "watch" });
  const beside = make("div", { class: "beside" }, screen, make("div", { class: "judge" }, heading, prompt, reasons));
  const root = make("div", { class: "squatlab-judged", role: "group", "aria-label": "Marks of the trial" }, summary, row, beside);
  root.addEventListener("keydown", (event) => event.stopPropagation());
  el.append(root);
  const SIGNS = { right: "✓", wrong: "✗", "partly right": "½", "not answered": "–" };
  let buttons = [], player = null, asked = 0;

  function ask(number) {
    asked = number;
    if (number === model.get("opened").number) return open();  // it is there, and no change would come
    prompt.textContent = "";
    reasons.replaceChildren();
    heading.textContent = `Question ${number} is being opened …`;
    model.send({ open: number });
  }
  function list() {
    const { words, questions } = model.get("summary");
    summary.textContent = words;
    buttons = questions.map(({ number, verdict }) => button(`${number} ${SIGNS[verdict]}`, () => ask(number),
      { "aria-label": `Question ${number}: ${verdict}`, "data-kind": verdict }));
    row.replaceChildren(...buttons);
    row.hidden = beside.hidden = !questions.length;
    if (questions.length && !model.get("opened").number) {
      ask((questions.find(({ verdict }) => verdict !== "right") ?? questions[0]).number);
    } else open();
  }
  function open() {
    const { number, heading: title, prompt: words, lines, lift } = model.get("opened");
    if (!title || (asked && number && number !== asked)) return;
    heading.textContent = title;
    prompt.textContent = words;
    reasons.replaceChildren(...lines.map((line) => make("p", {}, line)));
    screen.hidden = !lift;
    beside.classList.toggle("alone", !lift);
    if (lift && !player) {
      player = film(screen, filmOf(model));
      oneViewWhereNarrow(screen, model);
    }
    buttons.forEach((each, i) => each.setAttribute("aria-pressed", i + 1 === number));
  }
  model.on("change:summary", list);
  model.on("change:opened", open);
  list();
  return () => player?.close();
}

export default { render };
