// Plays a film: polygons, lines, discs and words whose points come as one row of 16-bit numbers per frame.
// Everything shown was worked out before; nothing is measured or worded here except the time.
const FONTS = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif";
// Words of a small picture are enlarged to SMALLEST pixels, but no more than their lines have room.
const LOST = -32768, SMALLEST = 12, LARGER = 1.2;
let players = 0;

function outline(context, points, smooth) {
  const middle = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  context.beginPath();
  if (!smooth) return points.forEach((p) => context.lineTo(...p));
  // A closed quadratic B-spline, as curves between midpoints.
  context.moveTo(...middle(points[points.length - 1], points[0]));
  points.forEach((p, i) => context.quadraticCurveTo(...p, ...middle(p, points[(i + 1) % points.length])));
}

function head(context, [from, to], stroke) {
  const [x, y] = [to[0] - from[0], to[1] - from[1]], length = Math.hypot(x, y) || 1;
  const [u, v] = [x, y].map((part) => (part / length) * Math.min(1, length / 14));
  const corner = (side) => [to[0] - 9 * u - side * v, to[1] - 9 * v + side * u];
  context.fillStyle = stroke;
  outline(context, [to, corner(3.8), corner(-3.8)], false);
  context.fill();
}

function paint(context, part, points, words, smallest) {
  if (part.kind === "text") {
    context.font = `${part.bold ? 600 : 400} ${Math.min(Math.max(part.size, smallest), LARGER * part.size)}px ${FONTS}`;
    context.textAlign = { start: "left", middle: "center", end: "right" }[part.anchor];
    context.setLineDash([]);
    Object.assign(context, { strokeStyle: "#ffffff", lineWidth: 4, lineJoin: "round", fillStyle: part.fill });
    if (part.halo) context.strokeText(words, ...points[0]);
    return context.fillText(words, ...points[0]);
  }
  if (part.kind === "disc") {
    context.beginPath();
    context.arc(...points[0], part.radius, 0, 2 * Math.PI);
  } else outline(context, points, part.smooth);
  if (part.kind === "shape") context.closePath();
  if (part.fill && part.fill !== "none") {
    context.globalAlpha = part.opacity;
    context.fillStyle = part.fill;
    context.fill();
    context.globalAlpha = 1;
  }
  if (part.stroke === "none") return;
  context.setLineDash(part.dash ? part.dash.split(" ").map(Number) : []);
  Object.assign(context, { strokeStyle: part.stroke, lineWidth: part.width, lineJoin: "round", lineCap: "butt" });
  context.stroke();
  if (part.arrow) head(context, points.slice(-2), part.stroke);
}

function render({ model, el }) {
  const id = `squatlab-clip-${players++}`;
  let film, rows, last, per;
  function read() {
    const raw = model.get("data");
    film = model.get("shown");
    rows = new Int16Array(raw.buffer.slice(raw.byteOffset, raw.byteOffset + raw.byteLength));
    [last, per] = [film.frames - 1, rows.length / film.frames];
  }
  read();
  let view = model.get("view"), lines = model.get("lines");
  const time = timer(() => ({ rate: film.rate, last }), show, keep);
  time.now = Math.min(model.get("frame"), last);

  const canvas = make("canvas", { role: "img", "aria-labelledby": id });
  const context = canvas.getContext("2d");
  const slider = make("input", {
    type: "range", min: 0, step: 1, "aria-label": "Frame", "data-lm-suppress-shortcuts": "true",
  });
  // Words of several repetitions take two lines; room kept for both, nothing jumps.
  const status = make("span", { role: "status", class: film.bottoms.length > 1 ? "status tall" : "status" });
  const views = [...film.panels.map((p) => p.name), "both"];
  const sides = choice("View", views.map((name) => [name, name]), look);
  const measured = button("Measured lines", () => { lines = !lines; keep(); show(); });
  // Marks too near each other to be told apart stand in rows, the first lowest.
  const rowOf = (i) => film.marks.slice(0, i).filter((m) => Math.abs(m.frame - film.marks[i].frame) < last / 20).length;
  const tick = (frame, words, row = 0) => make("span", {
    "aria-hidden": "true", style: `left: calc(8px + (100% - 16px) * ${frame / last}); bottom: ${20 + 14 * row}px`,
  }, words);
  const jump = ({ frame, words }, i) => button(`${i + 1} ${words}, ${seconds(frame)}`, () => time.go(frame));
  const times = make("div", { class: "times" }), track = make("div", {}, times, status);
  const jumps = make("div", { class: "row" }), sentence = make("p", { id });
  // What belongs to one film and not to another.
  function fill() {
    slider.max = last;
    track.className = film.marks.length ? "track marked" : "track";
    times.replaceChildren(...film.bottoms.map((frame) => tick(frame, "▾")),
      ...film.marks.map(({ frame }, i) => tick(frame, i + 1, rowOf(i) + 1)), slider);
    jumps.replaceChildren(...film.marks.map(jump));
    jumps.style.display = film.marks.length ? "" : "none";
    sentence.textContent = film.sentence;
  }
  fill();
  const root = make("div", { role: "group", "aria-label": "Clip", tabindex: 0, "data-lm-suppress-shortcuts": "true",
    class: `squatlab-clip ${film.size}` }, canvas, track,
    transport(time, lowest, ...(film.panels.length > 1 ? [sides.row] : []), ...(film.measured ? [measured] : [])),
    jumps, sentence,
    make("p", { class: "keys" }, "Keys: space plays and stops, ← → one frame, Home start, End end, L lowest point, " +
      "− + speed, V view" + (film.measured ? ", M measured lines." : ".")));
  el.append(root);

  function seconds(frame) { return `${(frame / film.rate).toFixed(2)} s`; }
  function keep() { model.set({ frame: time.frame(), view, lines }); model.save_changes(); }
  function show() {
    const frame = time.frame(), phase = film.phases[rows[frame * per]];
    sides.mark(view);
    measured.setAttribute("aria-pressed", lines);
    time.tell(slider, status, `${seconds(frame)}, frame ${frame + 1} of ${film.frames}${phase && ", " + phase}`);
    draw(frame);
  }
  function draw(frame) {
    const shown = film.panels.filter((p) => view === "both" || view === p.name);
    const left = shown[0].left, width = shown.reduce((sum, p) => sum + p.width, 0);
    const room = Math.min(film.width, root.clientWidth > 12 ? root.clientWidth - 12 : film.width);
    const scale = Math.min(room / width, film.height / film.tall), dots = window.devicePixelRatio || 1;
    const size = [width, film.tall].map((side) => Math.round(side * scale * dots));
    if (canvas.width !== size[0] || canvas.height !== size[1]) {
      [canvas.width, canvas.height] = size;
      canvas.style.width = `${size[0] / dots}px`;
    }
    context.setTransform(scale * dots, 0, 0, scale * dots, -left * scale * dots, 0);
    context.fillStyle = "#ffffff";
    context.fillRect(left, 0, width, film.tall);
    let column = frame * per + 1;
    for (const part of film.parts) {
      const start = column, size = 2 * part.count + (part.kind === "text");
      column += size;
      if ((part.lines && !lines) || !shown.includes(film.panels[part.panel])) continue;
      // A trail takes one point from every frame so far, all else its points from this one.
      const trail = part.kind === "trail", stride = trail ? per : 2;
      const points = [];
      for (let k = trail ? start % per : start; k < start + 2 * part.count; k += stride)
        if (rows[k] !== LOST) points.push([rows[k] / film.unit, rows[k + 1] / film.unit]);
      if (!trail && points.length < part.count) continue;
      const words = part.kind === "text" ? part.words[rows[start + 2]] : "";
      paint(context, part, points, words, SMALLEST / scale);
    }
  }
  function lowest() { time.go(film.bottoms.find((frame) => frame > time.frame()) ?? film.bottoms[0]); }
  function look(value) { view = value; keep(); show(); }
  keyboard(root, canvas, slider, time, {
    l: lowest, v: () => film.panels.length > 1 && look(views[(views.indexOf(view) + 1) % views.length]),
    m: () => film.measured && measured.click(),
  });
  model.on("change:frame", () => model.get("frame") !== time.frame() && !time.playing && time.go(model.get("frame")));
  model.on("change:view", () => { view = model.get("view"); show(); });
  model.on("change:lines", () => { lines = model.get("lines"); show(); });
  model.on("change:data", () => { read(); fill(); time.now = Math.min(time.now, last); show(); });
  const observer = new ResizeObserver(() => draw(time.drawn));
  show();
  observer.observe(root);
  return () => {
    time.stop();
    observer.disconnect();
  };
}

export default { render };
