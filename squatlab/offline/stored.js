// What moves in a page without a kernel: explorers and clips from all that they can show, kept in scripts beside the
// page. Nothing is computed or worded here; what Python stored is looked up and painted.
const squatlabBook = (() => {
  const kept = new Map();

  // A piece is JSON and bytes behind it, compressed, as text.
  async function unpack(text) {
    const packed = Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream("deflate"));
    const raw = new Uint8Array(await new Response(stream).arrayBuffer());
    const length = new DataView(raw.buffer).getUint32(0, true);
    return { head: JSON.parse(new TextDecoder().decode(raw.subarray(4, 4 + length))), bytes: raw.subarray(4 + length) };
  }

  // What all parts of a store look like, read once.
  const looks = new Map();
  function looksOf(store) {
    if (!looks.has(store)) looks.set(store, unpack(store.pieces[store.looks]).then(({ head }) => head.looks));
    return looks.get(store);
  }

  // Take sweeps one after another from a piece's bytes, as `readSweep` wants them.
  function cutter(bytes, looks) {
    const view = new DataView(bytes.buffer, bytes.byteOffset), LARGE = 255;
    let start = 0;
    return (head) => {
      const size = ({ coordinates, moves, count }) => coordinates + moves.length * (count - 1);
      let near = start, far = start + head.structures.reduce((sum, each) => sum + size(each), 0);
      // 0, 1, 2, 3, 4, … stand for 0, −1, 1, −2, 2, …; what has no room in a byte follows behind.
      function next() {
        let folded = bytes[near++];
        if (folded === LARGE) {
          folded = view.getUint16(far, true);
          far += 2;
        }
        return (folded >> 1) ^ -(folded & 1);
      }
      const columns = new Int16Array(head.structures.reduce((sum, { moves, count }) => sum + moves.length * count, 0));
      let at = 0;
      const structures = head.structures.map(({ coordinates, ...structure }) => {
        const { moves, count } = structure, first = Array.from({ length: coordinates }, next);
        for (const coordinate of moves) {
          columns[at++] = first[coordinate];
          for (let i = 1; i < count; i++) columns[at++] = next();
        }
        return { ...structure, parts: looks[structure.looks].map((part) => ({ ...part })), first };
      });
      const cells = structures.flatMap(({ parts }) => parts).filter(({ kind }) => kind === "tiles")
        .reduce((sum, { sheets, rows, columns }) => sum + sheets * rows * columns, 0);
      const own = new Uint8Array(columns.byteLength + cells);
      own.set(new Uint8Array(columns.buffer));
      own.set(bytes.subarray(far, far + cells), columns.byteLength);
      start = far + cells;
      return readSweep({ ...head, structures }, own);
    };
  }

  async function readFilm(store, number) {
    const [{ head, bytes }, looks] = await Promise.all([unpack(store.pieces[number]), looksOf(store)]);
    const next = cutter(bytes, looks);
    return { shown: head, sheets: head.panels.map(({ figure, lines }) => ({ figure: next(figure), lines: next(lines) })) };
  }

  // What a clip asks of, with another film put in by `change`.
  function filmLink(film, state) {
    const hearers = { film: [], frame: [], view: [], lines: [] };
    const tell = (event) => hearers[event].forEach((hear) => hear());
    const narrow = window.innerWidth < 700;
    let room = {};
    if (narrow && film.shown.panels.length > 1) state.view = film.shown.narrow;
    return {
      shown: () => ({ ...film.shown, ...room }), sheets: () => film.sheets,
      get: (name) => state[name],
      set: (changes) => Object.assign(state, changes),
      on: (event, hear) => hearers[event].push(hear),
      fit(size) { room = size; },
      change(next, frame) {
        const moved = narrow && state.view !== "both" && next.shown.narrow !== film.shown.narrow;
        film = next;
        if (moved) state.view = next.shown.narrow;
        state.frame = frame;
        tell("film");
        if (moved) tell("view");
        tell("frame");
      },
    };
  }

  async function openClip(place, store, room) {
    const link = filmLink(await readFilm(store, store.film), { ...store.start });
    if (room) link.fit(room);
    return film(place, link);
  }

  // `fitted` says of a store how large it may be shown, at any time anew.
  async function openExplorer(place, store, fitted) {
    const hearers = { picture: [], sweep: [] }, tell = (event, ...what) => hearers[event].forEach((hear) => hear(...what));
    const films = new Map();
    const chosen = { ...store.choices }, turned = {}, together = store.together.length > 0;
    let preset = "Reset", station = null, moved = null, version = 0, asked = 0;
    const corner = {}; // of sliders that move together: where each stands

    const [{ head, bytes }, looks] = await Promise.all([unpack(store.pieces[store.shown]), looksOf(store)]);
    const next = cutter(bytes, looks), panes = head.panes.map(next);
    // Every sweep is some positions of all that there are.
    const some = ({ bounds }, positions) => panes.map((pane, i) => ({ ...pane, bounds: bounds[i],
      structure: positions.map((p) => pane.structure[p]), row: positions.map((p) => pane.row[p]), alt: positions.map((p) => pane.alt[p]) }));
    async function filmOf({ piece }) {
      if (!films.has(piece)) films.set(piece, await readFilm(store, piece));
      return films.get(piece);
    }
    const slider = (name) => store.spec.controls.find((each) => each.name === name);
    const nearest = (at, value) => at.reduce((best, each, i) => (Math.abs(each - value) < Math.abs(at[best] - value) ? i : best), 0);

    async function enter() {
      const ask = ++asked, key = [preset, ...Object.values(chosen)].join("|");
      const next = head.stations[store.stations[key]], film = next.film && await filmOf(next.film);
      if (ask !== asked) return; // another one was asked for meanwhile
      [station, moved] = [next, null];
      version++;
      for (const name of store.together) corner[name] = nearest(slider(name).at, next.values[name]);
      if (link.film && film) link.film.change(film, next.film.frame);
      tell("picture");
    }
    // Of sliders that move together: the positions in which one goes through all its steps.
    function line(name) {
      const sizes = store.together.map((each) => slider(each).at.length);
      return slider(name).at.map((_, i) => store.together.reduce(
        (place, each, axis) => place * sizes[axis] + (each === name ? i : corner[each]), 0));
    }

    const link = {
      spec: () => ({ ...store.spec, ...fitted?.(store, turned.view), controls: store.spec.controls.map((each) =>
        each.kind === "slider" ? { ...each, ...station.words[each.name] } : each) }),
      picture() {
        const texts = Object.fromEntries(Object.entries(station.words).map(([name, { text }]) => [name, text]));
        return { values: { ...station.values, ...turned }, texts, sentence: station.sentence, version, count: 0 };
      },
      sheets: () => some(station.rest, [station.rest.from]),
      ask(name) {
        const index = slider(name).at.map((_, i) => i);
        const sweep = station.sweeps[together ? "grid" : name], places = together ? line(name) : index;
        const sentences = places.map((p) => sweep.sentences[p]);
        tell("sweep", { name, version, index, sentences }, some(sweep, places.map((p) => sweep.from + p)));
      },
      async set(values, turns) {
        if (turns) return void Object.assign(turned, values);
        const [[name, value]] = Object.entries(values);
        if (name in chosen) {
          chosen[name] = value;
          return enter();
        }
        const index = nearest(slider(name).at, value);
        if (together) return void (corner[name] = index);
        moved = name;
        const known = station.films?.[name]?.[index];
        if (!known) return;
        const ask = ++asked, next = await filmOf(known);
        if (ask === asked) link.film.change(next, known.frame);
      },
      press(name) {
        preset = name;
        Object.assign(chosen, name === "Reset" ? store.choices : store.presets[name]);
        enter();
      },
      on: (event, hear) => hearers[event].push(hear),
      // Only one slider is away from the start at a time: whether another one goes back now.
      alone(name) {
        if (together) return false;
        const other = moved !== null && moved !== name;
        moved = name;
        return other;
      },
    };
    await enter();
    if (station.film) link.film = filmLink(await filmOf(station.film), { frame: station.film.frame, view: "both", lines: true });
    if (link.film && fitted) link.film.fit(fitted(store).room);
    if (station.values.view) turned.view = fitted?.(store).view ?? (window.innerWidth < 700 ? "side" : station.values.view);
    return explorer(place, link);
  }

  const NOTE = {
    one: "On this page one slider moves at a time: move another, and the first goes back to where the button you chose last put it.",
    together: "These sliders move together.",
  };

  // Put what moves in the place of its still, which stays for print.
  async function open(place, fitted) {
    const name = place.dataset.kept, store = kept.get(name);
    if (!store || place.classList.contains("moves")) return;
    const live = make("div", { class: "moving" });
    place.append(live);
    place.classList.add("moves");
    if (store.kind === "clip") await openClip(live, store, fitted?.(store).room);
    else {
      await openExplorer(live, store, fitted);
      live.append(make("p", { class: "aside" }, NOTE[store.together.length ? "together" : "one"]));
    }
    place.dataset.ready = "yes";
  }

  // Scripts of one folder are loaded when they are needed.
  function load(address) {
    return new Promise((done, failed) => {
      const script = make("script", { src: address });
      Object.assign(script, { onload: done, onerror: failed });
      document.head.append(script);
    });
  }

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelectorAll("[data-kept]:not([data-later])").forEach((place) => open(place));
    // What is wider than a narrow page scrolls in its own place.
    const scrolled = new ResizeObserver((seen) => seen.forEach(({ target }) => focusIfScrolled(target)));
    document.querySelectorAll(".output_area, .still").forEach((box) => scrolled.observe(box));
  });
  return { keep: (name, store) => kept.set(name, store), store: (name) => kept.get(name), open, load, readFilm, filmLink };
})();
