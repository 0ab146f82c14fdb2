// A check as a widget: its link is the kernel.
function render({ model, el }) {
  asking(el, {
    spec: () => model.get("spec"),
    said: () => model.get("said"),
    answer: (given) => model.send({ kind: "answer", given }),
    giveUp: () => model.send({ kind: "give up" }),
    another: () => model.send({ kind: "another" }),
    on: (event, hear) => model.on(`change:${event}`, hear),
  });
}

export default { render };
