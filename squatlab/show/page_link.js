// The explorer on a page without a kernel: its link is what is stored beside it. From a preset one slider moves at a
// time; whoever moves another goes on from the preset.
async function explore(place, packed) {
  const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  const raw = await new Response(stream).arrayBuffer(), size = new DataView(raw).getUint32(0, true);
  const { spec, states } = JSON.parse(new TextDecoder().decode(new Uint8Array(raw, 4, size)));
  const hear = {}, read = (panes) => panes.map((pane) =>
    readSweep(pane, new Uint8Array(raw, 4 + size + pane.start, pane.bytes)));
  let preset = spec.presets[spec.presets.length - 1], version = 0, moving = null, turned = {};
  const state = () => states[preset];
  const link = {
    // Words of a slider's values may depend on the preset.
    spec: () => ({ ...spec, controls: spec.controls.map((control) =>
      state().controls.find((own) => own.name === control.name) ?? control) }),
    picture: () => ({ ...state().picture, values: { ...state().picture.values, ...turned }, version }),
    sheets: () => read(state().picture.panes),
    ask(name) {
      if (moving !== name) {
        [moving, version] = [name, version + 1];
        hear.picture(); // what was moved before goes back to the preset
      }
      let start = 0;
      for (const { panes, sentences } of state().sweeps[name] ?? []) {
        const index = sentences.map((_, i) => start + i);
        start += sentences.length;
        queueMicrotask(() => hear.sweep({ name, version, index, sentences }, read(panes)));
      }
    },
    set: (values, turns) => { if (turns) Object.assign(turned, values); },
    press(name) {
      [preset, version, moving] = [name, version + 1, null];
      hear.picture();
    },
    on: (event, heard) => { hear[event] = heard; },
  };
  explorer(place, link);
}

window.squatlab = { explore };
