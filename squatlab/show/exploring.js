// An explorer: sliders, choices and presets, pictures and a sentence. All that is shown comes from `link`:
//   spec() what there is, picture() what is shown at rest, sheets(heads) its sweeps;
//   ask(name, want) begs for a control's positions by number, the first most; set(values), press(preset);
//   on(event, hear) with "picture" (at rest something is new) and "sweep" (positions have come).
// After so long without a move a slider is at rest: longer than from one key press to the next, so that the kernel's
// answers do not come between them. Pictures are made this much smaller to stand beside each other.
const REST_MS = 250, CLOSER = 0.84;

function explorer(place, link) {
  const id = ownId("explorer"), spec = link.spec();
  const inputs = new Map(), outputs = new Map(), choices = new Map();
  // Of the control that moves: its positions that are there, and which state of all others they hold for.
  const known = new Map();
  let moving = null, version = null, waiting = false, rest = 0, values = {}, shown = null, player = null, scale = spec.scale;

  const sliders = make("div", { class: "sliders" }), row = make("div", { class: "choices" });
  const panes = make("div", { class: "panes" }), sentence = make("p", { id, role: "status", "aria-live": "polite" });
  for (const control of spec.controls) add(control);
  row.append(...spec.presets.map((name) => button(name, () => { flush(); link.press(name); }, { class: "preset" })));
  // Every slider is as long as the others, whatever its name and its value say: nothing moves but what is moved.
  const longest = (texts) => Math.max(0, ...texts.map((text) => text.length));
  const moved = spec.controls.filter((control) => control.kind === "slider");
  sliders.style.setProperty("--name", `${Math.min(longest(moved.map((control) => control.label)) * 0.56 + 0.5, 11)}em`);
  sliders.style.setProperty("--value", `${longest(moved.flatMap((control) => control.texts)) * 0.54 + 0.5}em`);
  const pictures = spec.panes.map((pane, i) => {
    const name = make("span", { id: `${id}-${i}`, hidden: "" }, pane.label);
    const canvas = make("canvas", { role: "img", "aria-labelledby": `${id}-${i} ${id}` });
    const stage = pane.stage && readSweep(pane.stage, new Uint8Array());
    return { ...pane, stage, canvas, name, kept: make("canvas"), box: make("div", { class: "pane" }, canvas, name) };
  });
  const clip = make("div", { class: "film" });
  const root = make("div", { class: `squatlab-explorer ${spec.size}`, role: "group", "aria-label": "Explorer" },
    sliders, row, panes, sentence, clip);
  for (const picture of pictures) nameOnHover(picture.canvas, () => {
    const { sweep, position, scale } = picture.named ?? {};
    if (!sweep) return [];
    const [left, top] = sweep.bounds;
    return namedDiscs(sweep, position).map(({ name, x, y }) => ({ name, x: scale * (x - left), y: scale * (y - top) }));
  });
  panes.append(...pictures.filter((picture) => !picture.in_clip).map((picture) => picture.box));
  root.addEventListener("keydown", (event) => event.stopPropagation());
  place.append(root);
  if (link.film) {
    player = film(clip, link.film);
    // What is known of a slider shows another frame than the one that is looked at now.
    link.film.on("frame", () => known.clear());
  }

  function add(control) {
    const key = `${id}-${control.name}`, label = make("label", { for: key }, control.label);
    if (control.kind === "slider") {
      const input = make("input", {
        id: key, type: "range", min: 0, max: control.at.length - 1, step: 1, "data-lm-suppress-shortcuts": "true",
      });
      const output = make("output", { for: key, "aria-hidden": "true" });
      input.addEventListener("input", () => move(control.name, Number(input.value)));
      for (const event of ["focus", "pointerdown"]) input.addEventListener(event, () => begin(control.name));
      // Not at "change", which comes with every key.
      for (const event of ["blur", "pointerup"]) input.addEventListener(event, flush);
      sliders.append(make("div", { class: "slider" }, label, input, output));
      inputs.set(control.name, input);
      outputs.set(control.name, output);
    } else if (control.kind === "list") {
      const list = make("select", { id: key, "data-lm-suppress-shortcuts": "true" },
        ...control.options.map(([words, value]) => make("option", { value }, words)));
      list.addEventListener("change", () => choose(control, list.value));
      row.append(make("span", { class: "choice" }, label, " ", list));
      choices.set(control.name, { mark: (value) => { list.value = value; } });
    } else {
      const made = choice(control.label, control.options, (value) => choose(control, value));
      row.append(made.row);
      choices.set(control.name, made);
    }
  }
  const control = (name) => link.spec().controls.find((each) => each.name === name);

  // ---- moving a slider
  function begin(name) {
    if (moving !== name) {
      flush();
      [moving, version, root.dataset.swept] = [name, null, ""];
      known.clear();
    }
    pump();
  }
  function move(name, index) {
    begin(name);
    // Without a kernel only one slider is away from the start at a time.
    if (link.alone?.(name)) stand(link.picture(), name);
    const { at, texts } = control(name);
    values[name] = at[index];
    tell(name, texts[index]);
    clearTimeout(rest);
    rest = setTimeout(flush, REST_MS);
    if (known.has(index)) show(known.get(index));
    else pump();
  }
  // Ask for what is missing, the nearest first; one question at a time, so that no move waits behind many answers.
  function pump() {
    const input = inputs.get(moving);
    if (waiting || !input || (known.has(Number(input.value)) && document.activeElement !== input)) return;
    const here = Number(input.value), { at } = control(moving), want = [];
    for (let far = 0; far < at.length && known.size < at.length; far++)
      for (const index of far ? [here + far, here - far] : [here])
        if (index in at && !known.has(index)) want.push(index);
    // Who drives the page from outside, as tests do, sees which control's positions are all there.
    const swept = want.length ? "" : moving;
    if (root.dataset.swept !== swept) root.dataset.swept = swept;
    if (!want.length) return;
    waiting = true;
    link.ask(moving, want);
  }
  link.on("sweep", (message, sweeps) => {
    waiting = message.more; // an answer comes in pieces
    if (message.name === moving) {
      if (message.version !== version) known.clear();
      version = message.version;
      message.index.forEach((index, position) =>
        known.set(index, { sweeps, position, sentence: message.sentences[position] }));
      const here = known.get(Number(inputs.get(moving).value));
      if (rest && here && here !== shown) show(here);
    }
    pump();
  });
  // The kernel hears a value when the slider rests: all that was shown on the way it need not know.
  function flush() {
    if (!rest) return;
    clearTimeout(rest);
    rest = 0;
    link.set({ [moving]: values[moving] });
  }

  // ---- choices, and what the kernel says
  function choose({ name, turns }, value) {
    flush();
    values[name] = value;
    choices.get(name).mark(value);
    if (turns) turn();
    link.set({ [name]: value }, turns);
  }
  function turn() {
    for (const picture of pictures)
      picture.box.style.display = picture.views.length && !picture.views.includes(values.view) ? "none" : "";
    scale = scaleNow();
    if (shown) show(shown);
  }
  function settle() {
    const picture = link.picture();
    if (rest) return; // something moves here: what the kernel knows is already past
    const same = alreadyShown(picture);
    values = { ...picture.values };
    stand(picture);
    for (const [name, made] of choices) made.mark(values[name]);
    if (picture.version !== version) [version] = [picture.version, known.clear()];
    if (same) return;
    shown = { sweeps: link.sheets(), position: 0, sentence: picture.sentence };
    turn();
  }
  // Whether the kernel only says back what a slider came to: that is a position of the sweep that is on screen.
  function alreadyShown(picture) {
    return picture.version === version && shown !== null && shown === known.get(Number(inputs.get(moving)?.value))
      && shown.sentence === picture.sentence && Object.keys(values).every((name) => values[name] === picture.values[name]);
  }
  // Sliders stand where the picture at rest has them, but for one that moves.
  function stand(picture, except) {
    for (const [name, input] of inputs) {
      if (name === except) continue;
      values[name] = picture.values[name];
      const { at, enabled } = control(name);
      const near = at.reduce((best, value, i) => Math.abs(value - values[name]) < Math.abs(at[best] - values[name]) ? i : best, 0);
      input.value = near;
      input.disabled = !enabled;
      tell(name, picture.texts[name]);
    }
  }
  link.on("picture", settle);

  function tell(name, text) {
    const output = outputs.get(name);
    if (output.textContent === text) return;
    output.textContent = text;
    inputs.get(name).setAttribute("aria-valuetext", text);
  }
  // Pictures stand in one row if that makes them only a little smaller; none is wider than the page,
  // unless its words could not be read.
  function scaleNow() {
    const widths = pictures.filter((p) => !p.in_clip && p.box.style.display !== "none").map((p) => p.width);
    const fitting = (wide) => Math.floor((panes.clientWidth / wide) * 1000) / 1000;
    const row = fitting(widths.reduce((sum, wide) => sum + wide, 0)), widest = fitting(Math.max(...widths, 1));
    // The most may follow the window; what is projected stays in one row, however much smaller that makes it.
    const { scale: most, one_row } = link.spec();
    const scale = row < most && (one_row || row >= CLOSER * most) ? row : most;
    return widest > 0 ? Math.min(scale, Math.max(widest, LEGIBLE)) : scale;
  }
  function show(what) {
    shown = what;
    pictures.forEach((picture, i) => {
      if (picture.box.style.display === "none") return;
      if (picture.in_clip) return player.over(what.sweeps[i], what.position);
      const sweep = what.sweeps[i], context = fitCanvas(picture.canvas, sweep.bounds, scale);
      paintSweep(context, sweep, what.position, SMALLEST / scale, paintFixed(picture, context, sweep, what.position, scale));
      picture.named = { sweep, scale, position: what.position };
      const alt = altOf(sweep, what.position);
      if (picture.name.textContent !== (alt || picture.label)) picture.name.textContent = alt || picture.label;
    });
    if (sentence.textContent !== what.sentence) sentence.textContent = what.sentence;
  }
  // What stays, the stage of a chart and whatever lies behind all that moves, is painted once and then copied.
  // Returns how many of the picture's parts that are.
  function paintFixed(picture, context, sweep, position, scale) {
    const structure = sweep.structures[sweep.structure[position]], row = sweep.row[position];
    // Nobody knows of the first picture of a structure what of it will stay.
    const parts = picture.structure !== structure ? Infinity
      : row === picture.row ? picture.parts : Math.min(picture.parts, partsAlike(structure, picture.row, row));
    Object.assign(picture, { structure, row, parts });
    const fixed = parts === Infinity ? 0 : parts, { kept, canvas } = picture;
    if (!fixed && !picture.stage) return 0;
    if (kept.width !== canvas.width || picture.fixed !== fixed || (fixed && picture.fixedOf !== structure)) {
      Object.assign(picture, { fixed, fixedOf: structure });
      const pen = fitCanvas(kept, sweep.bounds, scale);
      if (picture.stage) paintSweep(pen, picture.stage, 0, SMALLEST / scale);
      paintSweep(pen, sweep, position, SMALLEST / scale, 0, fixed);
    }
    context.save();
    context.resetTransform();
    context.drawImage(kept, 0, 0);
    context.restore();
    return fixed;
  }
  // A picture on another screen, or zoomed in, has more or fewer dots.
  // Sizes are read here alone: to ask for them at every move would have the whole notebook laid out each time.
  let width = 0, dots = 0;
  const observer = new ResizeObserver(() => {
    const same = root.clientWidth === width && window.devicePixelRatio === dots;
    if (root.clientWidth !== width) sentence.style.minHeight = "";
    [width, dots] = [root.clientWidth, window.devicePixelRatio];
    // Room that was needed once is kept, so that nothing below jumps.
    if (sentence.offsetHeight > parseFloat(sentence.style.minHeight || 0)) sentence.style.minHeight = `${sentence.offsetHeight}px`;
    if (same) return;
    turn();
    pictures.forEach((picture) => focusIfScrolled(picture.box));
  });
  settle();
  observer.observe(root);
  observer.observe(sentence);
  return () => {
    clearTimeout(rest);
    observer.disconnect();
    player?.close();
  };
}
