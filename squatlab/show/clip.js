// A clip: a sweep over time for each view, and a second one for its measured lines. All comes from `link`:
//   shown() what there is, sheets() the views' sweeps {figure, lines}; get(name) and set(state) for frame, view and
//   lines; on(event, hear) with "film" (another one is shown) and "frame", "view", "lines".
function film(place, link) {
  const id = ownId("clip");
  let clip = link.shown(), sheets = link.sheets(), last = clip.frames - 1, over = null, room = Infinity;
  let view = link.get("view"), lines = link.get("lines");
  const time = timer(() => ({ rate: clip.rate, last }), show, keep);
  time.now = Math.min(link.get("frame"), last);

  const canvas = make("canvas", { role: "img", "aria-labelledby": id });
  const screen = make("div", { class: "screen" }, canvas);
  const slider = make("input", {
    type: "range", min: 0, step: 1, "aria-label": "Frame", "data-lm-suppress-shortcuts": "true",
  });
  // Words of several repetitions take two lines; room kept for both, nothing jumps.
  const status = make("span", { role: "status", class: clip.bottoms.length > 1 ? "status tall" : "status" });
  const views = [...clip.panels.map((p) => p.name), "both"];
  const sides = choice("View", views.map((name) => [name, name]), look);
  const measured = button("Measured lines", () => { lines = !lines; keep(); show(); });
  // Marks too near each other to be told apart stand in rows, the first lowest.
  const rowOf = (i) => clip.marks.slice(0, i).filter((m) => Math.abs(m.frame - clip.marks[i].frame) < last / 20).length;
  const tick = (frame, words, row = 0) => make("span", {
    "aria-hidden": "true", style: `left: calc(8px + (100% - 16px) * ${frame / last}); bottom: ${20 + 14 * row}px`,
  }, words);
  const jump = ({ frame, words }, i) => button(`${i + 1} ${words}, ${seconds(frame)}`, () => time.go(frame));
  const times = make("div", { class: "times" }), track = make("div", {}, times, status);
  const jumps = make("div", { class: "row" }), sentence = make("p", { id });
  // What belongs to one film and not to another.
  function fill() {
    slider.max = last;
    track.className = clip.marks.length ? "track marked" : "track";
    times.replaceChildren(...clip.bottoms.map((frame) => tick(frame, "▾")),
      ...clip.marks.map(({ frame }, i) => tick(frame, i + 1, rowOf(i) + 1)), slider);
    jumps.replaceChildren(...clip.marks.map(jump));
    jumps.style.display = clip.marks.length ? "" : "none";
    sentence.textContent = clip.sentence;
  }
  fill();
  const root = make("div", { role: "group", "aria-label": "Clip", tabindex: 0, "data-lm-suppress-shortcuts": "true",
    class: `squatlab-clip ${clip.size}` }, screen, track,
    transport(time, lowest, ...(clip.panels.length > 1 ? [sides.row] : []), ...(clip.measured ? [measured] : [])),
    jumps, sentence,
    make("p", { class: "keys" }, "Keys: space plays and stops, ← → one frame, Home start, End end, L lowest point, " +
      "− + speed, V view" + (clip.measured ? ", M measured lines." : ".")));
  place.append(root);

  function seconds(frame) { return `${(frame / clip.rate).toFixed(2)} s`; }
  function keep() { link.set({ frame: time.frame(), view, lines }); }
  function show() {
    over = null;
    tell();
    draw();
  }
  function tell() {
    const frame = time.frame(), phase = clip.phases[clip.phase[frame]];
    sides.mark(view);
    measured.setAttribute("aria-pressed", lines);
    time.tell(slider, status, `${seconds(frame)}, frame ${frame + 1} of ${clip.frames}${phase && ", " + phase}`);
  }
  function draw() {
    const shown = clip.panels.filter((p) => view === "both" || view === p.name);
    const left = shown[0].left, right = shown[shown.length - 1].left + shown[shown.length - 1].width;
    const scale = Math.min(Math.min(clip.width, room) / (right - left), clip.height / clip.tall);
    const before = canvas.width, context = fitCanvas(canvas, [left, 0, right, clip.tall], scale);
    if (canvas.width !== before) focusIfScrolled(screen);
    if (over) return paintSweep(context, over.sweep, over.position, SMALLEST / scale);
    clip.panels.forEach((panel, i) => {
      if (!shown.includes(panel)) return;
      paintSweep(context, sheets[i].figure, time.drawn, SMALLEST / scale);
      if (lines) paintSweep(context, sheets[i].lines, time.drawn, SMALLEST / scale);
    });
  }
  function lowest() { time.go(clip.bottoms.find((frame) => frame > time.frame()) ?? clip.bottoms[0]); }
  function look(value) { view = value; keep(); show(); }
  keyboard(root, canvas, slider, time, {
    l: lowest, v: () => clip.panels.length > 1 && look(views[(views.indexOf(view) + 1) % views.length]),
    m: () => clip.measured && measured.click(),
  });
  link.on("frame", () => link.get("frame") !== time.frame() && !time.playing && time.go(link.get("frame")));
  link.on("view", () => { view = link.get("view"); show(); });
  link.on("lines", () => { lines = link.get("lines"); show(); });
  link.on("film", () => {
    [clip, sheets] = [link.shown(), link.sheets()];
    last = clip.frames - 1;
    time.now = Math.min(time.now, last);
    fill();
    // What moved a slider shows this film's frame already.
    if (over && lines) tell();
    else show();
  });
  // Read here alone: to ask for the page's layout at every frame would have all of it made each time.
  const observer = new ResizeObserver(() => {
    if (root.clientWidth > 12) room = root.clientWidth - 12;
    draw();
    focusIfScrolled(screen);
  });
  show();
  observer.observe(root);
  return {
    // Paint one position of another sweep in this clip's place, until the clip itself goes on.
    over(sweep, position) {
      if (time.playing) time.run(false);
      over = { sweep, position };
      draw();
    },
    close() { time.stop(); observer.disconnect(); },
  };
}
