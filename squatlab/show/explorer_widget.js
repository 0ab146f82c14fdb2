// The explorer as a widget: its link is the kernel.
function render({ model, el }) {
  let count = 0, queued = false;
  const cut = (heads, bytes) => {
    let start = 0;
    return heads.map((head) => {
      const own = new Uint8Array(bytes.buffer, bytes.byteOffset + start, head.bytes);
      start += head.bytes;
      return readSweep(head, own);
    });
  };
  const link = {
    spec: () => model.get("spec"),
    picture: () => model.get("picture"),
    sheets: () => cut(model.get("picture").panes, model.get("data")),
    ask: (name, want) => model.send({ kind: "ask", name, want }),
    set: (values, turns) => {
      if (!turns) return model.send({ kind: "set", values, count: ++count });
      model.set(values);
      model.save_changes();
    },
    press: (preset) => model.send({ kind: "press", preset, count: ++count }),
    on: (event, hear) => {
      if (event === "picture") model.on("change:data change:picture", () => {
        if (queued) return; // picture and data come in one message, as two changes
        queued = true;
        queueMicrotask(() => { queued = false; if (model.get("picture").count >= count) hear(); });
      });
      else model.on("msg:custom", (message, buffers) => message.kind === event && hear(message,
        message.panes.map((head, i) => readSweep(head, new Uint8Array(buffers[i].buffer, buffers[i].byteOffset, buffers[i].byteLength)))));
    },
  };
  if (model.get("shown")) link.film = filmOf(model);
  return explorer(el, link);
}

export default { render };
