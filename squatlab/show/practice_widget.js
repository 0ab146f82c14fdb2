// Practice as a widget: its link is the kernel.
function render({ model, el }) {
  let player;
  const answered = make("div", { class: "squatlab-confusions" });
  const fill = () => { answered.innerHTML = model.get("confusions"); };
  practising(el, {
    form: () => model.get("form"),
    asked: () => model.get("asked"),
    said: () => model.get("said"),
    submit: (answer) => model.send({ kind: "submit", ...answer }),
    next: () => model.send({ kind: "next" }),
    choose: (reference) => model.send({ kind: "show", reference }),
    screen(place) {
      oneViewWhereNarrow(place, model);
      return (player = film(place, filmOf(model)));
    },
    on: (event, hear) => model.on(`change:${event}`, hear),
  });
  model.on("change:confusions", fill);
  fill();
  el.append(answered);
  return () => player.close();
}

export default { render };
