// Where there is no room for both views beside each other, one at a time is larger.
function oneViewWhereNarrow(place, model) {
  const observer = new ResizeObserver(() => {
    if (!place.clientWidth) return;
    observer.disconnect();
    const panels = model.get("shown").panels, last = panels[panels.length - 1];
    const legible = LEGIBLE * (last.left + last.width - panels[0].left); // clip.js stacks the views below this width
    if (place.clientWidth >= legible || model.get("view") !== "both") return;
    model.set("view", panels[0].name);
    model.save_changes();
  });
  observer.observe(place);
}

// What a clip hears from a widget's model.
function filmOf(model) {
  let queued = false;
  return {
    shown: () => model.get("shown"),
    sheets: () => {
      const raw = model.get("film_data");
      let start = 0;
      const next = (head) => {
        const own = new Uint8Array(raw.buffer, raw.byteOffset + start, head.bytes);
        start += head.bytes;
        return readSweep(head, own);
      };
      return model.get("shown").panels.map(({ figure, lines }) => ({ figure: next(figure), lines: next(lines) }));
    },
    get: (name) => model.get(name),
    set: (state) => { model.set(state); model.save_changes(); },
    on: (event, hear) => {
      if (event !== "film") return model.on(`change:${event}`, hear);
      model.on("change:shown change:film_data", () => {
        if (queued) return; // both come in one message, as two changes
        queued = true;
        queueMicrotask(() => { queued = false; hear(); });
      });
    },
  };
}
