// The certifier's desk: who sits, how long they have, and what was noted. Rows stay the same elements,
// so that neither focus nor a reader's place is lost when they change.
const EVERY_MS = 4000;
const by = (id) => document.getElementById(id);
const rows = new Map();
const WORDS = { extended: ["Extend", "More time for"], closed: ["Close", "Close the sitting of"], note: ["Note", "Note about"] };
const CELLS = {
  candidate: "Candidate", state: "State", answered: "Answered", left: "Time left", heard: "Last heard", do: "Actions", events: "Noted",
};
let wanted = null, last = null, offset = 0;

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

async function ask(content) {
  const headers = { "Content-Type": "application/json", "X-Squatlab-Exam": "1" };
  try {
    const response = await fetch("desk", { method: "POST", headers, body: JSON.stringify(content), credentials: "same-origin" });
    const reply = await response.json();
    if (!reply.overview) return say(reply.problem ?? "That did not work.", true);
    offset = Date.now() / 1000 - reply.now;
    show(reply.overview);
    if (reply.problem) say(reply.problem, true);
    else if (content.do !== "state") say(content.do === "results" ? "" : "Written into the records.");
    else if (by("said").dataset.lost) say("");
    if (reply.results) scores(reply.results);
  } catch {
    say("The exam's machine does not answer.", true);
    by("said").dataset.lost = "yes";
  }
}

function say(words, bad = false) {
  by("said").textContent = words;
  by("said").classList.toggle("bad", bad);
  delete by("said").dataset.lost;
}

const time = (stamp) => (stamp ? new Date(stamp).toLocaleTimeString([], { hour: "2-digit", minute: "2-digit" }) : "");

function left(row) {
  if (row.state === "not started") return row.minutes === null ? "no limit" : `${Math.round(row.minutes)} min`;
  if (row.state !== "sitting") return "";
  if (!row.ends) return "no limit";
  const seconds = Math.max(0, Math.round(Date.parse(row.ends) / 1000 - Date.now() / 1000 + offset));
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

function heard(row, now) {
  if (!row.seen) return "not yet";
  const seconds = Math.round((Date.parse(now) - Date.parse(row.seen)) / 1000);
  return seconds < 30 ? "now" : seconds < 120 ? `${seconds} s ago` : `${Math.round(seconds / 60)} min ago`;
}

function made(row) {
  // Roles are named: on a phone the rows are cards, which a reader would no longer take for a table.
  const cells = Object.entries(CELLS).map(([name, heading]) =>
    element("td", { class: name, role: name === "candidate" ? "rowheader" : "cell", "data-name": heading }));
  const line = element("tr", { role: "row" }, ...cells), shown = Object.fromEntries(cells.map((cell) => [cell.className, cell]));
  for (const [event, [word]] of Object.entries(WORDS)) {
    const button = element("button", { type: "button", "aria-label": `${word} ${row.candidate}` }, `${word} …`);
    button.onclick = () => open(event, row);
    shown.do.append(button);
  }
  by("rows").append(line);
  rows.set(row.opening, { line, shown });
  return rows.get(row.opening);
}

const CLASS = { sitting: "sitting", ended: "ended", "not started": "waiting", "time over": "waiting" };

function show(overview) {
  last = overview;
  by("title").textContent = `Certifier's desk: form ${overview.form}`;
  document.title = `Desk: form ${overview.form}`;
  const count = (state) => overview.rows.filter((row) => row.state === state).length;
  by("count").textContent = `${overview.rows.length} given the form: ${count("not started")} not started, ` +
    `${count("sitting")} sitting, ${count("ended")} ended.`;
  for (const row of overview.rows) {
    const { line, shown } = rows.get(row.opening) ?? made(row);
    line.className = CLASS[row.state];
    const factor = row.factor === 1 ? "" : ` (time × ${row.factor})`;
    const words = {
      candidate: row.candidate + factor, state: row.state === "ended" ? `ended ${time(row.handed_in)}` : row.state,
      answered: `${row.answered} of ${row.of}`, left: left(row), heard: heard(row, overview.now),
      events: row.incidents.map((one) => `${time(one.at)} ${one.event}${one.minutes ? ` ${one.minutes} min` : ""}: ${one.why} (${one.by})`).join(" · "),
    };
    for (const [name, value] of Object.entries(words)) if (shown[name].textContent !== value) shown[name].textContent = value;
    [...shown.do.children].forEach((button, n) => (button.disabled = n < 2 && row.state === "ended"));
  }
}

function open(event, row) {
  wanted = { do: event, opening: row.opening };
  by("what").textContent = `${WORDS[event][1]} ${row.candidate}`;
  by("more").hidden = event !== "extended";
  by("why").value = "";
  by("doing").showModal();
  (event === "extended" ? by("minutes") : by("why")).focus();
}

by("doing").onclose = () => {
  if (by("doing").returnValue !== "do" || !wanted) return;
  ask({ ...wanted, why: by("why").value, minutes: Number(by("minutes").value) });
  wanted = null;
};

function scores(results) {
  const body = results.map((one) => element("tr", {}, element("th", { scope: "row" }, one.candidate),
    element("td", {}, `${one.score} of ${one.of}`), element("td", {}, one.passed ? "at or above the cut" : "below the cut")));
  by("scores").replaceChildren(element("h1", {}, "Results"),
    element("p", {}, "Computed now from the records; nothing is written. squatlab mark records attempts and decisions."),
    element("table", {}, element("tbody", {}, ...body)));
}

by("results").onclick = () => ask({ do: "results" });
setInterval(() => ask({ do: "state" }), EVERY_MS);
setInterval(() => last && last.rows.forEach((row) => {
  const cell = rows.get(row.opening)?.shown.left;
  if (cell) cell.textContent = left(row);
}), 1000);
ask({ do: "state" });
