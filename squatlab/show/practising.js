// Practice: a clip, and beside it three questions about it, marked together; then the replies in the questions' place.
// All comes from `link`:
//   form() the questions `spot` and `first`, `cues` by the fault that is fixed first, what is said of one left out
//     (`lacking`), the greatest case number, ids of real lifters;
//   asked() the case that is shown {reference, head}, by its number or its id;
//   said() the last message {words, kind, marked}: marked is null, or the replies {spot, cue} and what else there is
//     to say {stop, reasons};
//   submit({spot, first, cue}) the answers as `answerFields` gives them, next(), choose(reference);
//   screen(place) shows the clip there and returns {stop}; on(event, hear) with "asked" (another case) and "said".
function practising(place, link) {
  const form = link.form(), plain = { "data-lm-suppress-shortcuts": "true" };
  const offered = form.spot.options; // "Fix first" has the same, in the same order
  let alone = false; // whether the only fault was taken as the first, and not chosen

  const head = make("p", { class: "head" }), watch = make("div", { class: "watch" });
  const status = make("p", { role: "status", "aria-live": "polite", class: "reply" });
  const reasons = make("div", { class: "reasons" });
  const spot = answerFields(form.spot, offerFirst);
  const first = answerFields(form.first, () => { alone = false; offerCues(); });
  let cue = null, cuesOf = null; // the question of the fault that is fixed first
  const cuePlace = make("div", {});
  const questions = make("div", { class: "questions" }, spot.element, first.element, cuePlace);
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
    const given = { spot: spot.given(), first: first.given(), cue: cue?.given() ?? null };
    if (given.spot === null) reply(form.lacking.spot, "");
    else if (given.first === null || cue && given.cue === null) reply(form.lacking.cue, "");
    else if (!link.said().marked) link.submit(given);
  });
  const root = make("div", { class: `squatlab-judged ${form.size ?? "page"}`, role: "group", "aria-label": "Practice" }, head,
    make("div", { class: "beside" }, watch, make("div", { class: "judge" }, judged, status, reasons, brought, lifters)));
  root.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(root);
  const player = link.screen(watch);

  function offerFirst() {
    const there = spot.given() ?? [], faults = there.filter((place) => !offered[place].alone);
    // With a second one, the first is no choice of the trainee's unless a cue was chosen for it.
    const chosen = first.given(), kept = alone && there.length > 1 && (cue?.given() ?? null) === null ? null : chosen;
    alone = there.length === 1 && (kept !== there[0] || alone);
    first.offer(there);
    first.show(there.length === 1 ? there[0] : kept);
    first.element.hidden = !faults.length; // nothing to choose from
    offerCues();
  }
  function offerCues() {
    const id = offered[first.given()]?.id ?? null;
    if (id === cuesOf) return;
    cuesOf = id;
    cue = form.cues[id] ? answerFields(form.cues[id]) : null;
    cuePlace.replaceChildren(...(cue ? [cue.element] : []));
  }

  function say(words, kind) {
    status.textContent = words;
    status.dataset.kind = kind;
  }
  // What answers somebody must be seen: in a low window it would come below the button that was pressed.
  function reply(words, kind) {
    say(words, kind);
    status.scrollIntoView({ block: "nearest" });
  }
  function show() {
    player.stop();
    spot.show(null);
    offerFirst();
    head.textContent = link.asked().head;
    const { reference } = link.asked();
    (typeof reference === "string" ? real : number).value = reference;
    hear();
  }
  function hear() {
    const { words, kind, marked } = link.said();
    if (marked) player.stop();
    const lines = marked ? [marked.stop, marked.spot, marked.cue && `Your cue. ${marked.cue}`, ...marked.reasons] : [];
    reasons.replaceChildren(...lines.filter(Boolean).map((line) => make("p", {}, line)));
    const focused = judged.contains(document.activeElement);
    questions.hidden = submit.hidden = Boolean(marked);
    if (focused && marked) next.focus(); // what had the focus is gone
    if (marked) reply(words, kind);
    else say(words, kind);
  }
  link.on("asked", show);
  link.on("said", hear);
  show();
}
