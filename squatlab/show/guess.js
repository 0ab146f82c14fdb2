// Guess before you see: options, and what is shown once one of them was picked.
const CELL = ".jp-Cell";  // of JupyterLab: the next one holds the folded note of what to notice

function openTheNote(el) {
  const cell = el.closest(CELL);
  const note = cell && cell.nextElementSibling && cell.nextElementSibling.querySelector(".jp-MarkdownOutput > details:first-child");
  if (note) note.open = true;
}

function render({ model, el }) {
  const { text, options, right, html } = model.get("spec");
  const status = make("p", { role: "status", "aria-live": "polite", class: "reply" });
  const seen = make("div", { class: "seen" });
  const show = () => { seen.innerHTML = html; openTheNote(el); };
  const row = choice("Your guess:", options.map((words, place) => [words, place]), (place) => {
    row.mark(place);
    status.textContent = place === right
      ? `You guessed “${options[place]}”. That is right.`
      : `You guessed “${options[place]}”. It is “${options[right]}”: see below.`;
    show();
  });
  row.mark(null);
  const root = make("div", { class: "squatlab-check squatlab-guess", role: "group", "aria-label": "Guess first" },
    make("p", { class: "question" }, text), row.row, status, seen);
  root.addEventListener("keydown", (event) => event.stopPropagation());
  el.append(root);
}

export default { render };
