// A clip: a sweep over time for each view, and a second one for its measured lines. All comes from `link`:
//   shown() what there is, sheets() the views' sweeps {figure, lines}; get(name) and set(state) for frame, view and
//   lines; on(event, hear) with "film" (another one is shown) and "frame", "view", "lines".
// Close-ups, by the names of the joints that they go with, and how much larger they are.
const REGION_ZOOM = 2.4;
const REGIONS = { whole: null, feet: /ankle/, knees: /knee/, back: /low back/, bar: /^bar$/ };

function film(place, link) {
  const id = ownId("clip");
  let clip = link.shown(), sheets = link.sheets(), last = clip.frames - 1, over = null, room = Infinity, near = "whole";
  let view = link.get("view"), lines = link.get("lines");
  let discs = [];
  const time = timer(() => ({ rate: clip.rate, last }), show, keep);
  time.now = Math.min(link.get("frame"), last);

  const canvas = make("canvas", { role: "img", "aria-labelledby": id });
  const screen = make("div", { class: "screen" }, canvas);
  const slider = make("input", {
    type: "range", min: 0, step: 1, "aria-label": "Frame", "data-lm-suppress-shortcuts": "true",
  });
  // Words of several repetitions take two lines; room kept for both, nothing jumps.
  const status = make("span", { role: "status", class: clip.bottoms.length > 1 ? "status tall" : "status" });
  const viewChoice = make("span", { style: "display: contents" });
  let views = [], sides = null; // those of this film, and a choice among them
  const closer = choice("Close-up", Object.keys(REGIONS).map((name) => [name, name]), (name) => { near = name; show(); });
  const measured = button("Measured lines", () => { lines = !lines; keep(); show(); });
  // Marks too near each other to be told apart stand in rows, the first lowest.
  const rowOf = (i) => clip.marks.slice(0, i).filter((m) => Math.abs(m.frame - clip.marks[i].frame) < last / 20).length;
  const tick = (frame, words, row = 0) => make("span", {
    "aria-hidden": "true", style: `left: calc(8px + (100% - 16px) * ${frame / last}); bottom: ${20 + 14 * row}px`,
  }, words);
  const jump = ({ frame, words }, i) => button(`${i + 1} ${words}, ${seconds(frame)}`, () => time.go(frame));
  const times = make("div", { class: "times" }), track = make("div", {}, times, status);
  const jumps = make("div", { class: "row" }), sentence = make("p", { id }), keys = make("p", { class: "keys" });
  // What belongs to one film and not to another.
  function fill() {
    slider.max = last;
    const names = [...clip.panels.map((p) => p.name), "both"];
    if (names.join() !== views.join()) {
      views = names;
      sides = choice("View", views.map((name) => [name, name]), look);
      viewChoice.replaceChildren(...(clip.panels.length > 1 ? [sides.row] : []));
    }
    track.className = clip.marks.length ? "track marked" : "track";
    times.replaceChildren(...clip.bottoms.map((frame) => tick(frame, "▾")),
      ...clip.marks.map(({ frame }, i) => tick(frame, i + 1, rowOf(i) + 1)), slider);
    jumps.replaceChildren(...clip.marks.map(jump));
    jumps.style.display = clip.marks.length ? "" : "none";
    measured.hidden = !clip.measured;
    keys.textContent = "Keys: space plays and stops, ← → one frame, Home start, End end, L lowest point, " +
      "− + speed, V view" + (clip.measured ? ", M measured lines." : ".");
  }
  fill();
  const root = make("div", { role: "group", "aria-label": "Clip", tabindex: 0, "data-lm-suppress-shortcuts": "true",
    class: `squatlab-clip ${clip.size}` }, screen, track,
    transport(time, lowest, viewChoice, closer.row, measured),
    jumps, sentence, keys);
  place.append(root);

  function seconds(frame) { return `${(frame / clip.rate).toFixed(2)} s`; }
  // The view that was chosen, or all there is of a film that was not made from there.
  function seen() { return views.includes(view) ? view : "both"; }
  function keep() { link.set({ frame: time.frame(), view: seen(), lines }); }
  function show() {
    over = null;
    tell();
    draw();
  }
  function tell() {
    const frame = time.frame(), phase = clip.phases[clip.phase[frame]];
    if (sentence.textContent !== clip.sentences[seen()]) sentence.textContent = clip.sentences[seen()];
    sides.mark(seen());
    closer.mark(near);
    measured.setAttribute("aria-pressed", lines);
    time.tell(slider, status, `${seconds(frame)}, frame ${frame + 1} of ${clip.frames}${phase && ", " + phase}`);
  }
  function draw() {
    const shown = clip.panels.filter((p) => seen() === "both" || seen() === p.name);
    const left = shown[0].left, right = shown[shown.length - 1].left + shown[shown.length - 1].width;
    // Where it is narrow, views stand below each other.
    const stacked = shown.length > 1 && Math.min(clip.width, room) < LEGIBLE * (right - left);
    const wide = stacked ? Math.max(...shown.map((p) => p.width)) : right - left;
    const scale = Math.min(Math.min(clip.width, room) / wide, stacked ? 1 : clip.height / clip.tall);
    const before = canvas.width;
    const context = fitCanvas(canvas, [left, 0, left + wide, clip.tall * (stacked ? shown.length : 1)], scale);
    if (canvas.width !== before) focusIfScrolled(screen);
    discs = [];
    clip.panels.forEach((panel, i) => {
      if (!shown.includes(panel)) return;
      const named = over ? [] : namedDiscs(sheets[i].figure, time.drawn), { zoom, x, y } = closeUp(panel, named);
      context.save();
      context.beginPath();
      const [across, down] = stacked ? [left + (wide - panel.width) / 2, shown.indexOf(panel) * clip.tall] : [panel.left, 0];
      context.rect(across, down, panel.width, clip.tall);
      context.clip();
      context.translate(across + panel.width / 2 - zoom * x, down + clip.tall / 2 - zoom * y);
      context.scale(zoom, zoom);
      if (over) paintSweep(context, over.sweep, over.position, SMALLEST / scale);
      else paintSweep(context, sheets[i].figure, time.drawn, SMALLEST / scale / zoom);
      if (lines && !over) paintSweep(context, sheets[i].lines, time.drawn, SMALLEST / scale / zoom);
      context.restore();
      discs.push(...named.map((disc) => ({ name: disc.name,
        x: scale * (across + panel.width / 2 + zoom * (disc.x - x) - left),
        y: scale * (down + clip.tall / 2 + zoom * (disc.y - y)) })));
    });
  }
  // A close-up goes with the joints that it is of; a view in which none is marked stays whole.
  function closeUp(panel, named) {
    const of = REGIONS[near] && named.filter(({ name }) => REGIONS[near].test(name));
    if (!of?.length) return { zoom: 1, x: panel.left + panel.width / 2, y: clip.tall / 2 };
    const middle = (axis) => of.reduce((sum, disc) => sum + disc[axis], 0) / of.length;
    return { zoom: REGION_ZOOM, x: middle("x"), y: middle("y") };
  }
  function lowest() { time.go(clip.bottoms.find((frame) => frame > time.frame()) ?? clip.bottoms[0]); }
  function look(value) { view = value; keep(); show(); }
  keyboard(root, canvas, slider, time, {
    l: lowest, v: () => clip.panels.length > 1 && look(views[(views.indexOf(seen()) + 1) % views.length]),
    m: () => clip.measured && measured.click(),
  });
  link.on("frame", () => link.get("frame") !== time.frame() && !time.playing && time.go(link.get("frame")));
  link.on("view", () => {
    if (link.get("view") === seen()) return;
    view = link.get("view");
    show();
  });
  link.on("lines", () => { lines = link.get("lines"); show(); });
  link.on("film", () => {
    [clip, sheets] = [link.shown(), link.sheets()];
    last = clip.frames - 1;
    time.now = Math.min(time.now, last);
    fill();
    if (!views.includes(link.get("view"))) link.set({ view: seen() });
    // What moved a slider shows this film's frame already.
    if (over && lines) tell();
    else show();
  });
  // Read here alone: to ask for the page's layout at every frame would have all of it made each time.
  let width = 0, dots = 0;
  const observer = new ResizeObserver(() => {
    // Words of another film may take more lines: the picture stays as it is.
    if (root.clientWidth === width && window.devicePixelRatio === dots) return;
    [width, dots] = [root.clientWidth, window.devicePixelRatio];
    if (width > 12) room = width - 12;
    draw();
    focusIfScrolled(screen);
  });
  nameOnHover(canvas, () => discs);
  show();
  observer.observe(root);
  return {
    // Paint one position of another sweep in this clip's place, until the clip itself goes on.
    over(sweep, position) {
      if (time.playing) time.run(false);
      over = { sweep, position };
      draw();
    },
    stop() { time.run(false); },
    close() { time.stop(); observer.disconnect(); },
  };
}
