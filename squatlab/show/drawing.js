// Paints sweeps: pictures whose every position and word Python computed before. Nothing is measured, worded or
// interpolated here. `readSweep` makes what Python sent ready, `paintSweep` paints one position of it.
const FONTS = "system-ui, 'Segoe UI', Roboto, 'Helvetica Neue', Arial, 'Liberation Sans', sans-serif";
const PAPER = "#ffffff", EDGE = "#55606e", GONE = -32768;
// Words of a small picture are enlarged to SMALLEST pixels, but no more than their lines have room.
const SMALLEST = 12, LARGER = 1.3;
// Smaller than this, the least words, of 13 units, could not be read: a picture is scrolled instead.
const LEGIBLE = SMALLEST / (LARGER * 13);
const SOLID = []; // no dashes

function readSweep(head, bytes) {
  const buffer = bytes.buffer.slice(bytes.byteOffset, bytes.byteOffset + bytes.byteLength);
  let start = 0;
  const structures = head.structures.map(({ count, parts, first, moves, words }) => {
    const columns = new Int16Array(buffer, start, moves.length * count), column = new Int32Array(first.length).fill(-1);
    start += 2 * columns.length;
    moves.forEach((coordinate, c) => {
      column[coordinate] = c * count;
      // Sent were the differences from one position to the next.
      for (let i = 1; i < count; i++) columns[c * count + i] += columns[c * count + i - 1];
    });
    // What is needed at every painting is made once: where a part's numbers and words are, and its dashes.
    let k = 0, text = 0;
    for (const part of parts) {
      [part.from, part.text] = [k, part.kind === "text" ? text++ : -1];
      k += 2 * part.count + (part.kind === "disc");
      part.dashes = part.dash ? part.dash.split(" ").map(Number) : SOLID;
    }
    return { count, parts, words, number: (coordinate, row) =>
      column[coordinate] < 0 ? first[coordinate] : columns[column[coordinate] + row] };
  });
  for (const { parts } of structures)
    for (const part of parts.filter((each) => each.kind === "tiles")) {
      const size = part.rows * part.columns;
      part.cells = Array.from({ length: part.sheets }, (_, i) => new Uint8Array(buffer, start + i * size, size));
      start += part.sheets * size;
    }
  return { ...head, structures };
}

// What one position says in words, for those who do not see it.
function altOf(sweep, position) {
  return sweep.book[sweep.alt[sweep.alt.length > 1 ? position : 0]];
}

// How many parts, counted from the back, are the same in two rows of a structure.
function partsAlike({ parts, words, number }, row, other) {
  const alike = ({ kind, from, count, text }) => {
    if (kind === "trail" || kind === "tiles") return false;
    if (text >= 0 && words[text].length > 1 && words[text][row] !== words[text][other]) return false;
    for (let k = from; k < from + 2 * count + (kind === "disc"); k++) if (number(k, row) !== number(k, other)) return false;
    return true;
  };
  const first = parts.findIndex((part) => !alike(part));
  return first < 0 ? parts.length : first;
}

// `first` and `end` say which of the parts are painted, counted from the back.
function paintSweep(context, sweep, position, smallest = 0, first = 0, end = Infinity) {
  const structure = sweep.structures[sweep.structure[position]], row = sweep.row[position];
  const point = (at, from) => [structure.number(at, from) / sweep.unit, structure.number(at + 1, from) / sweep.unit];
  for (const part of structure.parts.slice(first, end)) {
    const points = [], k = part.from;
    if (part.kind === "curve") {
      // Where a point is lost the line is broken.
      context.beginPath();
      for (let i = 0, begun = false; i < part.count; i++) {
        const there = structure.number(k + 2 * i, row) !== GONE;
        if (there) context[begun ? "lineTo" : "moveTo"](...point(k + 2 * i, row));
        begun = there;
      }
      stroke(context, part);
      continue;
    }
    // A trail takes its one point from every position so far, all else its points from this one.
    if (part.kind === "trail") {
      for (let i = 0; i <= row; i++) if (structure.number(k, i) !== GONE) points.push(point(k, i));
    } else for (let i = 0; i < part.count; i++)
      if (structure.number(k + 2 * i, row) !== GONE) points.push(point(k + 2 * i, row));
    if (part.pieces?.length) {
      paintPieces(context, part, point, k, row, structure);
      continue;
    }
    if (part.kind !== "trail" && points.length < part.count) continue;
    if (part.kind === "text") {
      const index = structure.words[part.text];
      paintText(context, part, points[0], sweep.book[index[index.length > 1 ? row : 0]], smallest);
    } else if (part.kind === "tiles") paintTiles(context, part, points, part.cells[part.sheets > 1 ? row : 0]);
    else paintPart(context, part, points, part.kind === "disc" ? structure.number(k + 2, row) / sweep.unit : 0);
  }
}

// The discs of one position that have a name: what a pointer over them is told, and what a close-up follows.
function namedDiscs(sweep, position) {
  const structure = sweep.structures[sweep.structure[position]], row = sweep.row[position], found = [];
  for (const part of structure.parts) {
    const [x, y] = [structure.number(part.from, row), structure.number(part.from + 1, row)];
    if (part.name && x !== GONE) found.push({ name: part.name, x: x / sweep.unit, y: y / sweep.unit });
  }
  return found;
}

const NEAR_PX = 12;
// `discs` gives named discs, their places in pixels of the canvas as it is shown.
function nameOnHover(canvas, discs) {
  canvas.addEventListener("pointermove", ({ offsetX, offsetY }) => {
    const far = (disc) => Math.hypot(disc.x - offsetX, disc.y - offsetY);
    const nearest = discs().filter((disc) => far(disc) <= NEAR_PX).sort((a, b) => far(a) - far(b))[0];
    canvas.title = nearest?.name ?? "";
  });
}

// Several outlines as one area: edges lie below the fill, which hides those inside and half of the others.
function paintPieces(context, part, point, start, row, structure) {
  const path = new Path2D();
  let k = start;
  for (const count of part.pieces) {
    const points = [];
    for (let i = 0; i < count; i++, k += 2) if (structure.number(k, row) !== GONE) points.push(point(k, row));
    if (points.length < count) continue;
    trace(path, points, part.smooth);
    path.closePath();
  }
  if (part.stroke !== "none") stroke(context, { ...part, width: 2 * part.width }, path);
  if (part.fill === "none") return;
  context.globalAlpha = part.opacity;
  context.fillStyle = part.fill;
  context.fill(path);
  context.globalAlpha = 1;
}

function paintText(context, part, at, words, smallest) {
  if (!words) return;
  context.font = `${part.bold ? 600 : 400} ${Math.min(Math.max(part.size, smallest), LARGER * part.size)}px ${FONTS}`;
  context.textAlign = { start: "left", middle: "center", end: "right" }[part.anchor];
  context.setLineDash(SOLID);
  Object.assign(context, { strokeStyle: part.halo, lineWidth: 4, lineJoin: "round", fillStyle: part.fill });
  if (part.halo) context.strokeText(words, ...at);
  context.fillText(words, ...at);
}

function paintPart(context, part, points, radius) {
  if (part.kind === "disc") {
    context.beginPath();
    context.arc(...points[0], Math.max(radius, 0), 0, 2 * Math.PI);
  } else outline(context, points, part.smooth);
  if (part.kind === "shape") context.closePath();
  if (part.fill && part.fill !== "none") {
    context.globalAlpha = part.opacity;
    context.fillStyle = part.fill;
    context.fill();
    context.globalAlpha = 1;
  }
  if (part.stroke === "none") return;
  stroke(context, part);
  if (part.arrow) arrowHead(context, points.slice(-2), part.stroke);
}

function stroke(context, part, path) {
  context.setLineDash(part.dashes);
  Object.assign(context, { strokeStyle: part.stroke, lineWidth: part.width, lineJoin: "round", lineCap: "butt" });
  if (path) context.stroke(path);
  else context.stroke();
}

function outline(context, points, smooth) {
  context.beginPath();
  trace(context, points, smooth);
}

// `path` is a context or a Path2D.
function trace(path, points, smooth) {
  const middle = (a, b) => [(a[0] + b[0]) / 2, (a[1] + b[1]) / 2];
  if (!smooth) return points.forEach((p, i) => (i ? path.lineTo(...p) : path.moveTo(...p)));
  // A closed quadratic B-spline, as curves between midpoints.
  path.moveTo(...middle(points[points.length - 1], points[0]));
  points.forEach((p, i) => path.quadraticCurveTo(...p, ...middle(p, points[(i + 1) % points.length])));
}

function arrowHead(context, [from, to], stroke) {
  const [x, y] = [to[0] - from[0], to[1] - from[1]], length = Math.hypot(x, y) || 1;
  const [u, v] = [x, y].map((part) => (part / length) * Math.min(1, length / 14));
  const corner = (side) => [to[0] - 9 * u - side * v, to[1] - 9 * v + side * u];
  context.fillStyle = stroke;
  outline(context, [to, corner(3.8), corner(-3.8)], false);
  context.fill();
}

// Cells of one kind are filled together with its pattern; cells of different kinds have an edge between them.
function paintTiles(context, { rows, columns, patterns }, [[left, top], [right, bottom]], cells) {
  const [wide, high] = [(right - left) / columns, (bottom - top) / rows], areas = new Map();
  const edges = new Path2D(), area = (kind) => areas.get(kind) ?? areas.set(kind, new Path2D()).get(kind);
  for (let row = 0; row < rows; row++) {
    for (let column = 0, from = 0; column < columns; column++) {
      const at = row * columns + column, kind = cells[at], [x, y] = [left + column * wide, top + row * high];
      if (column + 1 === columns || cells[at + 1] !== kind) {
        area(kind).rect(left + from * wide, y, (column + 1 - from) * wide, high);
        from = column + 1;
        if (from < columns) { edges.moveTo(x + wide, y); edges.lineTo(x + wide, y + high); }
      }
      if (row + 1 < rows && cells[at + columns] !== kind) { edges.moveTo(x, y + high); edges.lineTo(x + wide, y + high); }
    }
  }
  for (const [kind, path] of areas) {
    context.fillStyle = patternOf(context, patterns[kind]);
    context.fill(path);
  }
  context.setLineDash(SOLID);
  Object.assign(context, { strokeStyle: EDGE, lineWidth: 1.2 });
  context.stroke(edges);
}

// A pattern is a ground, an ink, and for each pixel of a square whether it has ink. Each is made once.
const madePatterns = new WeakMap();
function patternOf(context, pattern) {
  if (!madePatterns.has(pattern)) madePatterns.set(pattern, makePattern(context, pattern));
  return madePatterns.get(pattern);
}

function makePattern(context, { ground, ink, size, bits }) {
  const tile = document.createElement("canvas"), pen = tile.getContext("2d");
  tile.width = tile.height = size;
  pen.fillStyle = ground;
  pen.fillRect(0, 0, size, size);
  pen.fillStyle = ink;
  [...bits].forEach((bit, i) => bit === "1" && pen.fillRect(i % size, Math.floor(i / size), 1, 1));
  return context.createPattern(tile, "repeat");
}

// A canvas of a picture's part: `bounds` in picture units shown `scale` pixels large.
function fitCanvas(canvas, [left, top, right, bottom], scale) {
  const context = canvas.getContext("2d"), dots = window.devicePixelRatio || 1;
  const size = [right - left, bottom - top].map((side) => Math.round(side * scale * dots));
  if (canvas.width !== size[0] || canvas.height !== size[1]) {
    [canvas.width, canvas.height] = size;
    canvas.style.width = `${size[0] / dots}px`;
  }
  // All of it: an edge that a picture covers in part would keep something of the last one.
  context.resetTransform();
  context.fillStyle = PAPER;
  context.fillRect(0, 0, ...size);
  context.setTransform(scale * dots, 0, 0, scale * dots, -left * scale * dots, -top * scale * dots);
  return context;
}

// Who has no mouse scrolls a picture that is wider than its place by keys, for which it takes the focus.
function focusIfScrolled(box) {
  if (box.scrollWidth <= box.clientWidth + 1) return ["tabindex", "role", "aria-label"].forEach((name) => box.removeAttribute(name));
  box.setAttribute("tabindex", "0");
  box.setAttribute("role", "group");
  box.setAttribute("aria-label", "Picture, wider than its place");
  box.setAttribute("data-lm-suppress-shortcuts", "true");
}
