// Practice cases: a clip, ticks, the one to fix first, what is said; then the clip with what was measured.
document.addEventListener("DOMContentLoaded", () => {
  const place = document.querySelector("[data-practice]");
  if (!place) return;
  const form = squatlabBook.store("practice"), every = [...form.tiers.flatMap((tier) => tier.faults), form.nothing];
  const nameOf = (id) => every.find((one) => one.id === id).name, NOTHING = form.nothing.id;
  const listed = (ids) => ids.map(nameOf).join(", ");
  let number = 0, given = null, player = null;

  const head = make("h3", {}), screen = make("div", { class: "screen" }), result = make("div", { class: "result" });
  const status = make("p", { role: "status", class: "reply" }), ticks = new Map();
  const tick = ({ id, name }) => {
    const box = make("input", { type: "checkbox", value: id });
    box.addEventListener("change", () => ticked(id, box.checked));
    ticks.set(id, box);
    return make("label", { class: "option" }, box, make("span", {}, name));
  };
  const tiers = form.tiers.map((tier) => make("fieldset", {}, make("legend", {}, tier.words), ...tier.faults.map(tick)));
  tiers.push(make("fieldset", {}, make("legend", {}, "none of these"), tick(form.nothing)));
  const first = make("fieldset", {}), cue = make("fieldset", {});
  const submit = button("Submit", mark), next = button("Next case", () => show(number % form.cases + 1));
  const pick = make("select", { "aria-label": "Case" },
    ...Array.from({ length: form.cases }, (_, i) => make("option", { value: i + 1 }, `Case ${i + 1}`)));
  pick.addEventListener("change", () => show(Number(pick.value)));
  place.append(make("div", { class: "case" },
    make("div", { class: "watch" }, head, screen),
    make("div", { class: "judge" }, make("h3", {}, "1. Tick what you see"), make("div", { class: "tiers" }, ...tiers),
      make("h3", {}, "2. Fix first, and say"), first, cue,
      make("div", { class: "row" }, submit, next, pick), status, result)));
  place.classList.add("moves");

  const named = () => every.map((one) => one.id).filter((id) => ticks.get(id).checked);
  const picked = (fields) => fields.querySelector("input:checked")?.value;
  function ticked(id, on) {
    if (on) for (const [other, box] of ticks) if ((other === NOTHING) !== (id === NOTHING)) box.checked = false;
    offer(first, "Fix first", named().filter((one) => one !== NOTHING).map((one) => [nameOf(one), one]), cues);
    cues();
  }
  function cues() {
    const fault = picked(first);
    offer(cue, "Say", fault ? form.cues[fault].map((one, i) => [one.words, `${fault} ${i}`]) : []);
  }
  function offer(fields, legend, options, changed) {
    const kept = picked(fields);
    fields.replaceChildren(make("legend", {}, legend), ...options.map(([words, value]) => {
      const radio = make("input", { type: "radio", name: `practice ${legend}`, value });
      radio.checked = value === kept || options.length === 1;
      if (changed) radio.addEventListener("change", changed);
      return make("label", { class: "option" }, radio, make("span", {}, words));
    }));
    fields.hidden = !options.length;
  }

  async function show(wanted) {
    const name = `case-${wanted}`;
    if (!squatlabBook.store(name)) await squatlabBook.load(`${place.dataset.practice}${name}.js`);
    [number, given] = [wanted, null];
    const one = squatlabBook.store(name), film = await squatlabBook.readFilm(one, one.film);
    for (const box of ticks.values()) Object.assign(box, { checked: false, disabled: false });
    ticked("", false);
    submit.disabled = false;
    pick.value = number;
    head.textContent = `Case ${number} of ${form.cases}. ${one.lifter}`;
    result.replaceChildren();
    status.textContent = "Watch, then tick what you see, or nothing to fix.";
    play({ ...film, shown: { ...film.shown, ...one.blind } }, { frame: 0, view: "both", lines: false });
    place.dataset.ready = name;
  }
  function play(film, state) {
    player?.close();
    screen.replaceChildren();
    const link = squatlabBook.filmLink(film, state);
    link.fit({ height: 440 });
    player = film_(screen, link);
  }
  const film_ = film;
  async function mark() {
    const one = squatlabBook.store(`case-${number}`), chosen = named(), fix = picked(first), said = picked(cue);
    if (!chosen.length) return void (status.textContent = "Not marked yet: tick what you see, or “nothing to fix”.");
    if (!chosen.includes(NOTHING) && !(fix && said))
      return void (status.textContent = "Not marked yet: choose the one to fix first, and what you say.");
    given = fix ?? NOTHING;
    const right = given === one.first, lines = [one.stop];
    status.textContent = right ? `Right: ${nameOf(one.first)}.` : `Not “${nameOf(given)}”: the answer is “${nameOf(one.first)}”.`;
    status.dataset.kind = right ? "right" : "wrong";
    const groups = [["Seen", chosen.filter((id) => one.there.includes(id))],
      ["Missed", one.there.filter((id) => !chosen.includes(id))], ["Not there", chosen.filter((id) => !one.there.includes(id))]];
    for (const [words, ids] of groups) if (ids.length) lines.push(`${words}: ${listed(ids)}.`);
    if (said) {
      const { fits, why } = form.cues[fix][Number(said.split(" ")[1])];
      lines.push(`Your cue ${fits ? "fits" : "does not fit"} “${nameOf(fix)}”: ${why}`);
    }
    lines.push(one.why, one.hard);
    result.replaceChildren(...lines.filter(Boolean).map((line) => make("p", {}, line)));
    submit.disabled = true;
    for (const box of ticks.values()) box.disabled = true;
    const id = `case-${number}`;
    if (!(id in squatlabChecks.marks())) squatlabChecks.marks({ [id]: { right, tries: 1 } });
    play(await squatlabBook.readFilm(one, one.film), { frame: one.frame, view: "both", lines: true });
  }
  show(1);
});
