// A check: options or a number, a hint, a second try, then the answer. Every reply was worded when the page was made.
const squatlabAsking = (() => {
  const MARKS = "squatlab marks of this visit";
  let memory = {};
  // A browser may forbid a page from a folder to keep anything: then marks last as long as the page.
  function marks(change) {
    try { memory = JSON.parse(sessionStorage.getItem(MARKS)) ?? memory; } catch { /* as said above */ }
    if (change) {
      Object.assign(memory, change);
      try { sessionStorage.setItem(MARKS, JSON.stringify(memory)); } catch { /* as said above */ }
      document.querySelectorAll("[data-marks]").forEach(tally);
    }
    return memory;
  }
  function tally(place) {
    const all = Object.values(marks()), right = all.filter((mark) => mark.right);
    const first = right.filter((mark) => mark.tries === 1).length;
    place.textContent = all.length
      ? `This visit: ${all.length} answered, ${right.length} right, ${first} of them at the first try.`
      : "This visit: nothing answered yet.";
  }

  // What is typed: a number, with its unit or without.
  function numberOf(text, unit) {
    const parts = /^([+\-−]?\d+(?:[.,]\d+)?)\s*(.*)$/.exec(text.trim());
    if (!parts || (parts[2] && parts[2].replace(/\.$/, "") !== unit)) return null;
    return Number(parts[1].replace(",", ".").replace("−", "-"));
  }

  function open(place, question) {
    let tries = 0, over = false;
    const status = make("p", { role: "status", class: "reply" }), id = `check-${question.id}`;
    const submit = make("button", { type: "submit" }, "Answer");
    const hint = button("Hint", () => say(question.hint, ""));
    const solution = make("details", {}, make("summary", {}, "Show the answer"), make("p", {}, question.solution));
    solution.addEventListener("toggle", () => { if (solution.open && !over) finish(false); });
    const fields = make("fieldset", {}, make("legend", {}, question.text));
    if (question.options) question.options.forEach((option, i) => fields.append(make("label", { class: "option" },
      make("input", { type: "radio", name: id, value: i }), make("span", {}, `${option.letter}) ${option.words}`))));
    else fields.append(make("label", { class: "typed" }, "Your answer ",
      make("input", { type: "text", inputmode: "decimal", name: id, autocomplete: "off" }), ` ${question.unit}`));
    const form = make("form", { class: "check" }, fields, make("div", { class: "row" }, submit, hint), status, solution);
    form.addEventListener("submit", (event) => { event.preventDefault(); if (!over) answer(); });
    place.append(form);
    place.classList.add("moves");

    function say(words, kind) {
      status.textContent = words;
      status.dataset.kind = kind;
    }
    function reply() {
      if (question.options) {
        const picked = form.querySelector("input:checked");
        return picked ? question.options[picked.value] : "Choose one first.";
      }
      const { answer: right, tolerance, slips, wrong, right: words } = question.number;
      const value = numberOf(form.querySelector("input").value, question.unit);
      if (value === null) return `Type a number${question.unit ? `, in ${question.unit}` : ""}.`;
      if (Math.abs(value - right) <= tolerance * (1 + 1e-9)) return { right: true, first: words, second: words };
      const near = slips.filter((slip) => Math.abs(slip.to - value) <= tolerance)
        .sort((a, b) => Math.abs(a.to - value) - Math.abs(b.to - value));
      return near[0] ?? { right: false, ...wrong[value > right ? "much" : "little"] };
    }
    function answer() {
      const given = reply();
      if (typeof given === "string") return say(given, "");
      tries++;
      say(tries === 1 ? given.first : given.second, given.right ? "right" : "wrong");
      if (given.right || tries === 2) finish(given.right);
    }
    function finish(right) {
      over = true;
      submit.disabled = hint.disabled = true;
      if (!(question.id in marks())) marks({ [question.id]: { right, tries } });
    }
  }

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelectorAll("[data-check]").forEach((place) => open(place, JSON.parse(place.querySelector("script").textContent)));
    document.querySelectorAll("[data-marks]").forEach(tally);
  });
  return { open, marks };
})();
