// Practice of a page without a kernel: what is right travels with each case, and is shown once it is answered.
document.addEventListener("DOMContentLoaded", async () => {
  const place = document.querySelector("[data-practice]");
  if (!place) return;
  const form = squatlabBook.store("practice"), heard = { asked: [], said: [] };
  const tell = (event) => heard[event].forEach((hear) => hear());
  let number = 0, asked, said, current, screen = null, player = null;

  const say = (words, kind = "", marked = null) => { said = { words, kind, marked }; };
  function play(film, state) {
    current = [film, state];
    if (!screen) return;
    player?.close();
    screen.replaceChildren();
    const panels = film.shown.panels, last = panels[panels.length - 1];
    // Beside the answers there is seldom room to read both views: one at a time is larger.
    const legible = LEGIBLE * (last.left + last.width - panels[0].left);
    if (screen.clientWidth < legible) state = { ...state, view: film.shown.narrow };
    const link = squatlabBook.filmLink(film, state);
    link.fit({ height: 440 });
    player = openFilm(screen, link);
  }
  const openFilm = film;
  async function show(wanted) {
    const name = `case-${wanted}`;
    if (!squatlabBook.store(name)) await squatlabBook.load(`${place.dataset.practice}${name}.js`);
    const one = squatlabBook.store(name), film = await squatlabBook.readFilm(one, one.film);
    number = wanted;
    asked = { reference: number, head: `Case ${number} of ${form.most}. ${one.lifter}` };
    say(form.watch);
    play({ ...film, shown: { ...film.shown, ...one.blind } }, { frame: 0, view: "both", lines: false });
    tell("asked");
    place.dataset.ready = name;
  }
  async function submit(given) {
    const one = squatlabBook.store(`case-${number}`), { replyTo, last } = squatlabChecks;
    const spot = replyTo(one.spot, given.spot), first = replyTo(one.first, given.first);
    const cues = form.cues[one.first.options[given.first].id], cue = cues && last(replyTo(cues, given.cue));
    say(last(first), first.right ? "right" : "wrong", { spot: last(spot), cue, stop: one.stop, reasons: one.reasons });
    const id = `case-${number}`;
    if (!(id in squatlabChecks.marks())) squatlabChecks.marks({ [id]: { right: first.right, tries: 1 } });
    const film = await squatlabBook.readFilm(one, one.film);
    film.shown.narrow = one.view; // where the fault to fix first is seen
    play(film, { frame: one.frame, view: "both", lines: true });
    tell("said");
  }
  await show(1);
  const live = make("div", { class: "moving" });
  place.append(live);
  place.classList.add("moves");
  practising(live, {
    form: () => form,
    asked: () => asked,
    said: () => said,
    submit,
    next: () => show(number % form.most + 1),
    choose(wanted) {
      if (wanted >= 1 && wanted <= form.most) return show(wanted);
      say(`Case numbers start at 1 and end at ${form.most}.`);
      tell("said");
    },
    screen(where) {
      screen = where;
      play(...current);
      return { stop() {} }; // another film has another player
    },
    on: (event, hear) => heard[event].push(hear),
  });
});
