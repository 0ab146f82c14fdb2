// Elements of a page: anything, a button, a row of buttons of which one is pressed.
function make(tag, attributes = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  element.append(...children.filter((child) => child !== null));
  return element;
}

function button(words, pressed, attributes = {}) {
  const made = make("button", { type: "button", "data-lm-suppress-shortcuts": "true", ...attributes }, words);
  return Object.assign(made, { onclick: pressed });
}

// A row of buttons of which one is pressed; `mark(value)` shows which.
function choice(label, options, chosen) {
  const buttons = options.map(([words, value]) => button(words, () => chosen(value)));
  const row = make("span", { role: "group", "aria-label": label, class: "choice" }, label + " ", ...buttons);
  const mark = (value) => buttons.forEach((b, i) => b.setAttribute("aria-pressed", options[i][1] === value));
  return { row, mark };
}

// An id that no other element of the page has: every widget has a copy of this script, so counting would not do.
const ownId = (name) => `squatlab-${name}-${Math.random().toString(36).slice(2, 10)}`;
