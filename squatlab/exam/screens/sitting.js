// A form, one question at a time. A choice counts as saved only when the notebook has said so: until then it is
// shown as being saved, and after a while as not saved.
const PATIENCE_MS = 5000, KEPT_SHEETS = 4, TALL = 400, NARROW = 600;
let screens = 0;

// Sheets of pictures, opened when they are needed and a little before. The first is kept: all others lie upon it.
function pictures(sheets) {
  const open = new Map(), opened = (n) => createImageBitmap(new Blob([sheets[n]], { type: "image/webp" }));
  const first = opened(0);
  return function sheet(n) {
    if (n === 0) return first;
    if (n >= sheets.length) return null;
    const found = open.get(n) || opened(n);
    open.delete(n);
    open.set(n, found);
    if (open.size > KEPT_SHEETS) {
      const [oldest, picture] = open.entries().next().value;
      open.delete(oldest);
      picture.then((bitmap) => bitmap.close());
    }
    return found;
  };
}

function player(clip, sheets) {
  const last = clip.frames.length - 1, sheet = pictures(sheets), id = `squatlab-lift-${screens++}`;
  const time = timer(() => ({ rate: clip.rate, last }), show), lowest = () => time.go(clip.lowest);
  let view = "all";
  const canvas = make("canvas", { role: "img", "aria-labelledby": id }), context = canvas.getContext("2d");
  const slider = make("input", { type: "range", min: 0, max: last, step: 1, "aria-label": "Frame" });
  const status = make("span", { role: "status", class: "status" });
  const views = ["all", ...clip.panels.map(([name]) => name)];
  const sides = choice("View", views.map((name) => [name, name]), look);
  if (document.documentElement.clientWidth < NARROW) view = views[1];  // all beside each other would be tiny
  const root = make("div", { role: "group", "aria-label": "Clip", tabindex: 0, class: "lift" },
    canvas, make("div", { class: "track" }, slider, status),
    transport(time, lowest, sides.row),
    make("p", { id, class: "keys" }, `${clip.alt} Keys: space plays and stops, ← → one frame, Home start, End end, ` +
      "L lowest point, − + speed, V view."));

  async function draw(frame) {
    const picture = clip.frames[frame], n = picture && 1 + Math.floor((picture - 1) / clip.on_a_sheet);
    sheet(n + 1);
    let first, bitmap;
    try {
      [first, bitmap] = [await sheet(0), await sheet(n)];
    } catch {
      return (status.textContent = "This picture cannot be shown: the form file is damaged. Copy it again.");
    }
    if (frame !== time.frame()) return;
    const [, left, top, width, height] = view === "all" ? ["", 0, 0, clip.width, clip.height]
      : clip.panels.find(([name]) => name === view);
    if (canvas.width !== width || canvas.height !== height) Object.assign(canvas, { width, height });
    // As tall as leaves the buttons below it in sight; all views together take the width there is.
    const fitting = width * (TALL / height);
    canvas.style.width = `${view === "all" ? fitting : Math.min(1.5 * width, fitting)}px`;
    context.drawImage(first, left, top, width, height, 0, 0, width, height);
    if (n) {
      const [x, y, wide, high] = clip.boxes[n], start = ((picture - 1) % clip.on_a_sheet) * wide;
      context.drawImage(bitmap, start, 0, wide, high, x - left, y - top, wide, high);
    }
    canvas.dataset.frame = frame;
  }
  function show() {
    const frame = time.frame();
    sides.mark(view);
    time.tell(slider, status, `${(frame / clip.rate).toFixed(2)} s, frame ${frame + 1} of ${last + 1}`);
    draw(frame);
  }
  function look(value) { view = value; show(); }
  keyboard(root, canvas, slider, time, { l: lowest, v: () => look(views[(views.indexOf(view) + 1) % views.length]) });
  show();
  return root;
}

function table({ heading, moments, rows }) {
  const cells = (tag, words) => words.map((word) => make(tag, tag === "th" ? { scope: "col" } : {}, word));
  const body = rows.map(([name, values]) => make("tr", {}, make("th", { scope: "row" }, name), ...cells("td", values)));
  return make("details", {}, make("summary", {}, "This lift in words"),
    make("div", { class: "wide", tabindex: 0, role: "region", "aria-label": heading }, make("table", {}, make("caption", {}, heading),
      make("thead", {}, make("tr", {}, ...cells("th", ["", ...moments]))), make("tbody", {}, ...body))));
}

// The controls of one question: `save(answer)` asks for it to be kept, null takes it back.
const CONTROLS = {
  one(question, saved, save, name) {
    return question.options.map(([value, words]) => {
      const input = make("input", { type: "radio", name, value });
      input.checked = value === saved;
      input.onchange = () => save(value);
      return make("label", {}, input, " " + words);
    });
  },
  several(question, saved, save) {
    const boxes = question.options.map(([value]) => make("input", { type: "checkbox", value }));
    const none = make("input", { type: "checkbox" });
    boxes.forEach((box) => { box.checked = (saved || []).includes(box.value); });
    none.checked = Boolean(saved) && !saved.length;
    boxes.forEach((box) => (box.onchange = () => {
      none.checked = none.checked && !box.checked;
      const named = boxes.filter((b) => b.checked).map((b) => b.value);
      save(named.length ? named : null);
    }));
    none.onchange = () => {
      if (none.checked) boxes.forEach((box) => { box.checked = false; });
      save(none.checked ? [] : null);
    };
    const labels = boxes.map((box, i) => make("label", {}, box, " " + question.options[i][1]));
    return [...labels, make("label", { class: "none" }, none, " none of these")];
  },
  number(question, saved, save) {
    const input = make("input", { type: "text", inputmode: "decimal", size: 9, autocomplete: "off" });
    input.value = saved ?? "";
    input.onchange = () => save(input.value.trim() || null);
    input.addEventListener("keydown", (event) => event.key === "Enter" && input.blur());
    const label = make("label", { class: "number" }, "Your number ", input, ` ${question.unit}`);
    return [label, button("Save", () => {})];  // leaving the field saves; the button is a place to go
  },
  order(question, saved, save) {
    const words = new Map(question.options), order = saved ? [...saved] : question.options.map(([value]) => value);
    const list = make("ol"), status = make("p", { "aria-live": "polite", class: "keys" });
    function move(place, by) {
      const [value] = order.splice(place, 1);
      order.splice(place + by, 0, value);
      fill();
      list.children[place + by].querySelector(by < 0 ? ".up" : ".down").focus();
      status.textContent = `${words.get(value)}: now ${place + by + 1} of ${order.length}`;
      save([...order]);
    }
    function fill() {
      list.replaceChildren(...order.map((value, place) => make("li", {},
        button("↑", () => place > 0 && move(place, -1), { class: "up", "aria-label": `${words.get(value)}: up` }), " ",
        button("↓", () => place < order.length - 1 && move(place, 1),
          { class: "down", "aria-label": `${words.get(value)}: down` }), " " + words.get(value))));
    }
    fill();
    return [list, button("Save this order", () => save([...order])), status];
  },
};

// A saved answer in words.
const SAID = {
  one: ([answer]) => answer,
  several: (named) => named.join(", ") || "none of these",
  order: (named) => named.join(", then "),
  number: ([answer], unit) => `${answer} ${unit}`,
};

// What is read before the first question and after the last, with a button if there is something to do.
function notice({ page, root, status, ask }) {
  const list = (name, pairs) => make("dl", { class: name }, ...pairs.map(([head, words]) =>
    make("div", {}, make("dt", {}, head), make("dd", {}, words))));
  const [words, what] = page.button, title = make("h3", { tabindex: -1 }, page.title);
  const facts = list("facts", [["Candidate", page.candidate], ["Form", page.form], ...page.facts]), notes = list("notes", page.notes);
  // Not focused by itself: the Enter that ran the cell, held a little long, would start the clock.
  const act = words && make("div", { class: "row" }, button(words, () => ask({ do: what }), { class: "go" }), status);
  root.replaceChildren(title, ...(act ? [facts, notes, act] : [status, facts, notes]));
  return { hear() {}, end() {}, goesOn: () => false };
}

function exam({ model, page, state, root, status, say, ask, waiting }) {
  const clips = new Map();
  let at = model.get("at"), asking = false;
  const name = `squatlab-sitting-${screens++}`;
  const numbers = page.questions.map(({ item }, i) => button(String(i + 1), () => open(item)));
  const lift = make("div", { class: "watch" }), words = make("div"), title = make("h3", { tabindex: -1 }), prompt = make("p", { class: "prompt" });
  const options = make("fieldset"), kept = make("p", { class: "kept" }), ending = make("div", { class: "row" });
  const clock = make("b"), times = make("span");
  const index = () => page.questions.findIndex(({ item }) => item === at);
  const walk = (by) => open(page.questions[index() + by].item);
  const back = button("Previous", () => walk(-1)), next = button("Next", () => walk(1));
  root.replaceChildren(
    make("p", {}, make("b", {}, `Form ${page.form}, candidate ${page.candidate}. `), times, clock),
    make("div", { role: "group", "aria-label": "Questions", class: "numbers" }, ...numbers),
    title, make("div", { class: "beside" }, lift,
      make("div", { class: "ask" }, prompt, options, kept, status, make("div", { class: "row" }, back, next), ending)),
    words);

  function worded(question, answer) {
    if (question.prompt === undefined) return "";
    const names = new Map(question.options);
    if (answer === undefined || answer === null) return "No answer is saved yet";
    const named = [answer].flat().map((one) => names.get(one) ?? one);
    return `Saved answer: ${SAID[question.control](named, question.unit)}`;
  }
  function tick() {
    times.textContent = `Started ${page.begun}, ends ${page.ends} (${page.minutes} minutes). `;
    const left = page.until / 60 - Date.now() / 60000;
    const end = new Date(page.until * 1000), today = end.toDateString() === new Date().toDateString();
    clock.textContent = left >= 1 ? `${Math.floor(left)}\u00a0min left.` : left > 0 ? "Less than 1 min left."
      : `Time was up at ${page.ends}${today ? "" : `, ${end.toDateString()}`}: hand in, and tell your instructor.`;
  }
  const answered = (item) => (state.answers[item] ?? null) !== null;
  // What is saved; it never touches the controls.
  function truth() {
    const question = page.questions[index()];
    numbers.forEach((b, i) => {
      const { item } = page.questions[i], done = answered(item);
      b.classList.toggle("done", done);
      b.textContent = done ? `${i + 1}✓` : String(i + 1);
      b.setAttribute("aria-label", `Question ${i + 1}, ${done ? "answered" : "not answered"}`);
      if (item === at) b.setAttribute("aria-current", "step");
      else b.removeAttribute("aria-current");
    });
    kept.textContent = worded(question, state.answers[at]);
  }
  function fill() {
    const question = page.questions[index()], n = index();
    title.textContent = `Question ${n + 1} of ${page.questions.length}`;
    [back.disabled, next.disabled] = [n === 0, n === page.questions.length - 1];
    if (question.prompt === undefined) {  // a served exam gives one question at a time
      [prompt.textContent, kept.textContent] = ["The question is being opened …", ""];
      [options, lift, words].forEach((part) => part.replaceChildren());
      return model.send({ do: "question", item: at });
    }
    prompt.textContent = question.prompt;
    const control = CONTROLS[question.control], item = at;
    options.className = question.control;
    options.replaceChildren(make("legend", {}, "Your answer"),
      ...control(question, state.answers[at], (answer) => ask({ do: "answer", item, answer }), name + at));
    [back.disabled, next.disabled] = [n === 0, n === page.questions.length - 1];
    lift.replaceChildren();
    words.replaceChildren();
    lift.style.display = question.lift ? "" : "none";
    if (question.lift && clips.has(at)) watch();
    else if (question.lift) {
      lift.append(make("p", { class: "waiting" }, "The clip is being opened …"));
      model.send({ do: "clip", item: at });
    }
    truth();
  }
  function watch() {
    const [clip, sheets, text] = clips.get(at);
    lift.replaceChildren(player(clip, sheets));
    words.replaceChildren(...(text ? [table(text)] : []));
  }
  function open(item) {
    at = item;
    asking = false;
    model.set("at", at);
    model.save_changes();
    fill();
    offer();
    if (!waiting.size && !status.classList.contains("bad")) say("");  // it was of the question before
    title.focus();
  }
  function offer() {
    const left = page.questions.map(({ item }, i) => [item, i + 1]).filter(([item]) => !answered(item)).map(([, n]) => n);
    if (!asking) return ending.replaceChildren(button("Hand in …", () => { asking = true; offer(); }));
    const words = left.length ? `Not answered: ${left.join(", ")}.` : "Every question is answered.";
    ending.replaceChildren(make("span", { role: "status" }, `${words} After this nothing can be changed. `),
      button("Hand in now", () => { asking = false; ask({ do: "hand in" }); }),
      button("Go on answering", () => { asking = false; offer(); }));
    ending.querySelector("button:last-child").focus();
  }
  function hear(content, buffers) {
    if ("number" in content) {
      truth();
      tick();
      return offer();
    }
    if (content.question) {
      Object.assign(page.questions.find(({ item }) => item === content.item), content.question);
      if (content.item === at) fill();
      return;
    }
    if (content.problem) {
      if (content.item === at) lift.replaceChildren(make("p", { class: "bad" }, content.problem));
      return;
    }
    const { clip, text } = content;
    // A view has its own memory; the bytes behind it are shared with all other sheets.
    const sheets = buffers.map((view) => new Uint8Array(view.buffer ?? view, view.byteOffset ?? 0, view.byteLength));
    clips.set(content.item, [clip, sheets, text]);
    if (clips.size > 3) clips.delete(clips.keys().next().value);
    if (content.item === at) watch();
  }
  // The same questions at other times, as after an extension: what is typed and what has the focus stay.
  function goesOn(newer) {
    const items = ({ questions }) => JSON.stringify(questions?.map(({ item }) => item));
    if (items(newer) !== items(page)) return false;
    const { questions } = page, ended = page.ends;
    Object.assign(page, newer, { questions });  // with what was opened of them
    truth();
    tick();
    if (page.ends !== ended && !waiting.size) say(`Your time now ends at ${page.ends} (${page.minutes} minutes).`);
    return true;
  }
  const ticking = setInterval(tick, 10000);
  fill();
  offer();
  tick();
  return { hear, end: () => clearInterval(ticking), goesOn };
}

function render({ model, el }) {
  const root = make("div", { class: "squatlab-sitting", role: "group", "aria-label": "Exam" });
  const status = make("p", { role: "status", class: "said" }), waiting = new Map();
  const state = { answers: {}, shown: "" };
  const silent = model.get("silent") ?? {
    begin: "NOT STARTED, or not known: the notebook is not responding. Run this cell again to see whether the clock is running.",
    save: "NOT SAVED: the notebook is not responding. Run this cell again: what was saved comes back.",
    open: "NOT OPENED: the notebook is not responding. Run this cell again.",
  };
  let requests = 0, screen = null;
  function say(words) {
    status.textContent = words;
    status.classList.toggle("bad", words.startsWith("NOT"));
  }
  function ask(request) {
    const number = ++requests, begin = request.do === "begin";
    say(begin ? "Beginning …" : "Saving …");
    waiting.set(number, setTimeout(() => {
      waiting.delete(number);
      say(begin ? silent.begin : silent.save);
    }, PATIENCE_MS));
    model.send({ ...request, number });
  }
  function turn(page) {
    const again = screen !== null;
    screen?.end();
    screen = (page.questions ? exam : notice)({ model, page, state, root, status, say, ask, waiting });
    if (again) root.querySelector("h3").focus();  // what had the focus is gone
  }
  function hear(content, buffers) {
    if ("page" in content) {
      clearTimeout(opening);
      state.answers = content.answers;
      const shown = JSON.stringify(content.page);
      if (shown === state.shown) return;  // another window opened
      state.shown = shown;
      if (screen?.goesOn(content.page)) return;
      turn(content.page);
      shield();
      if (!waiting.size) say(content.message);
      return;
    }
    if ("number" in content) {
      clearTimeout(waiting.get(content.number));
      waiting.delete(content.number);
      state.answers = content.answers;
      if (!waiting.size || !content.done) say(content.message);
    }
    screen?.hear(content, buffers);
  }
  el.append(root);
  model.on("msg:custom", hear);
  root.addEventListener("keydown", (event) => event.stopPropagation());  // the notebook takes single keys for its own
  // Set anew whenever something is put in, so that no key reaches the notebook.
  const shield = () => root.querySelectorAll("button,input,summary,[tabindex]").forEach((e) =>
    e.setAttribute("data-lm-suppress-shortcuts", "true"));
  const observer = new MutationObserver(shield);
  observer.observe(root, { childList: true, subtree: true });
  // Questions and answers come by message alone: the state of a widget is saved with the notebook.
  root.append(status);
  say("The exam is being opened …");
  const opening = setTimeout(() => say(silent.open), PATIENCE_MS);
  model.send({ do: "page" });
  return () => {
    screen?.end();
    clearTimeout(opening);
    observer.disconnect();
    waiting.forEach(clearTimeout);
    model.off("msg:custom", hear);
  };
}

export default { render };
