// Practice: a clip, and beside it what is asked of it; once marked, the reasons in the questions' place. All comes
// from `link`:
//   form() faults by tier, the cues of each, the words of "nothing to fix", the greatest case number, ids of real lifters;
//   asked() the case that is shown {reference, head}, by its number or its id; said() the last message {words, kind, lines, marked};
//   submit({ticked, first, cue}), next(), choose(reference); cues are named by their place among those of a fault;
//   screen(place) shows the clip there and returns {stop}; on(event, hear) with "asked" (another case) and "said".
function practising(place, link) {
  const form = link.form(), NOTHING = form.nothing.id, plain = { "data-lm-suppress-shortcuts": "true" };
  const every = [...form.tiers.flatMap(({ faults }) => faults), form.nothing];
  const nameOf = (id) => every.find((one) => one.id === id).name;
  let alone = false; // whether the only fault was taken as the first, and not chosen

  const head = make("p", { class: "head" }), watch = make("div", { class: "watch" });
  const status = make("p", { role: "status", "aria-live": "polite", class: "reply" });
  const reasons = make("div", { class: "reasons" }), ticks = new Map();
  const option = (input, words) => make("label", { class: "option" }, input, make("span", {}, words));
  function tick({ id, name }) {
    const box = make("input", { type: "checkbox", value: id, ...plain });
    box.addEventListener("change", () => ticked(id, box.checked));
    ticks.set(id, box);
    return option(box, name);
  }
  const tiers = form.tiers.map(({ words, faults }) => make("fieldset", {}, make("legend", {}, words), ...faults.map(tick)));
  tiers.push(make("fieldset", {}, make("legend", {}, "none of these"), tick(form.nothing)));
  const radios = (legend) => ({ legend, name: ownId("practice"), fields: make("fieldset", { class: "choose", role: "radiogroup", "aria-label": legend }) });
  const first = radios("Fix first"), cue = radios("Say");
  const questions = make("div", { class: "questions" }, make("div", { class: "tiers" }, ...tiers), first.fields, cue.fields);
  const submit = make("button", { type: "submit", class: "main", ...plain }, "Submit");
  const next = button("Next case", () => link.next());
  const number = make("input", { type: "number", min: 1, max: form.most, step: 1, ...plain });
  const brought = make("form", { class: "row", novalidate: "" }, make("label", {}, "Case number ", number),
    make("button", { type: "submit", ...plain }, "Show this case"));
  brought.addEventListener("submit", (event) => { event.preventDefault(); link.choose(Number(number.value)); });
  const real = make("select", plain, ...(form.real ?? []).map((id) => make("option", {}, id)));
  const lifters = make("form", { class: "row", novalidate: "" }, make("label", {}, "Real lifter ", real),
    make("button", { type: "submit", ...plain }, "Show this lifter"));
  lifters.hidden = !form.real?.length;
  lifters.addEventListener("submit", (event) => { event.preventDefault(); link.choose(real.value); });
  const judged = make("form", { novalidate: "" }, questions, make("div", { class: "row" }, submit, next));
  judged.addEventListener("submit", (event) => {
    event.preventDefault();
    if (!link.said().marked) link.submit({ ticked: named(), first: picked(first), cue: picked(cue) });
  });
  const root = make("div", { class: `squatlab-judged ${form.size ?? "page"}`, role: "group", "aria-label": "Practice" }, head,
    make("div", { class: "beside" }, watch, make("div", { class: "judge" }, judged, status, reasons, brought, lifters)));
  root.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(root);
  const player = link.screen(watch);

  const named = () => every.map(({ id }) => id).filter((id) => ticks.get(id).checked);
  const picked = ({ fields }) => fields.querySelector("input:checked")?.value ?? null;
  // "Nothing to fix" and faults keep each other out.
  function ticked(id, on) {
    if (on) for (const [other, box] of ticks) if ((other === NOTHING) !== (id === NOTHING)) box.checked = false;
    offerFirst();
  }
  function offerFirst() {
    const there = named().filter((id) => id !== NOTHING);
    // With a second one, the first is no choice of the trainee's unless a cue was chosen for it.
    const kept = alone && there.length > 1 && picked(cue) === null ? null : picked(first);
    alone = there.length === 1 && kept !== there[0] || alone && there.length === 1;
    offer(first, there.map((id) => [nameOf(id), id]), there.length === 1 ? there[0] : kept, () => { alone = false; offerCues(); });
    offerCues();
  }
  let cuesOf = null;
  function offerCues() {
    const fault = picked(first), kept = fault === cuesOf ? picked(cue) : null;
    cuesOf = fault;
    offer(cue, fault ? form.cues[fault].map(({ words }, i) => [words, String(i)]) : [], kept);
  }
  function offer({ fields, legend, name }, options, kept, changed = () => {}) {
    fields.replaceChildren(make("legend", {}, legend), ...options.map(([words, value]) => {
      const radio = make("input", { type: "radio", name, value, ...plain });
      radio.checked = value === kept;
      radio.addEventListener("change", changed);
      return option(radio, words);
    }));
    fields.hidden = !options.length;
  }

  function show() {
    player.stop();
    for (const box of ticks.values()) box.checked = false;
    offerFirst();
    head.textContent = link.asked().head;
    const { reference } = link.asked();
    (typeof reference === "string" ? real : number).value = reference;
    hear();
  }
  function hear() {
    const { words, kind, lines, marked } = link.said();
    if (marked) player.stop();
    status.textContent = words;
    status.dataset.kind = kind;
    reasons.replaceChildren(...lines.map((line) => make("p", {}, line)));
    const focused = document.activeElement === submit;
    questions.hidden = submit.hidden = marked;
    if (focused && marked) next.focus(); // what had the focus is gone
  }
  link.on("asked", show);
  link.on("said", hear);
  show();
}
