// A candidate's place: the code first, then the screen of the exam, which asks this machine's server
// for one question at a time. Nothing is kept here; the server says what is saved and how long there is.
import sitting from "./sitting.js";

const LOOK_AGAIN_MS = 10000, LATE_MS = 1500;
const root = document.getElementById("place");

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.append(...children);
  return made;
}

async function post(path, content) {
  const headers = { "Content-Type": "application/json", "X-Squatlab-Exam": "1" };
  const response = await fetch(path, { method: "POST", headers, body: JSON.stringify(content), credentials: "same-origin" });
  const answer = await response.json().catch(() => ({}));
  return { status: response.status, answer };
}

// What the screen of the exam takes for the model of a notebook: it sends, and hears what came of it.
class Link {
  constructor(left) {
    [this.left, this.heard, this.state, this.texts] = [left, {}, { answers: {} }, new Map()];
    this.raw = "";
    const silent = "the exam's machine does not answer. Wait, or open this page again; what was saved is there.";
    this.state.silent = { begin: `NOT STARTED, as far as is known: ${silent}`, save: `NOT SAVED: ${silent}`, open: `NOT OPENED: ${silent}` };
  }
  get(name) { return this.state[name]; }
  set(name, value) { Object.assign(this.state, typeof name === "string" ? { [name]: value } : name); }
  save_changes() {}
  on(event, hear) { (this.heard[event] ??= []).push(hear); }
  off(event, hear) { this.heard[event] = (this.heard[event] ?? []).filter((one) => one !== hear); }
  fire(event, ...what) { (this.heard[event] ?? []).forEach((hear) => hear(...what)); }

  async send(content) {
    if (content.do === "clip") return this.lift(content.item);
    let reply;
    try {
      reply = await post("ask", content);
    } catch {
      return false;  // the screen says by itself that nobody answered
    }
    const { status, answer } = reply;
    if (status === 401 || status === 409) {
      this.left(status === 409 ? `${answer.problem}. To go on here, type your code again.` : answer.problem);
      return false;
    }
    if (!answer.messages) {
      if (content.number) this.fire("msg:custom", { number: content.number, done: false, message: `NOT SAVED: ${answer.problem}`, answers: this.state.answers });
      return false;
    }
    for (const message of answer.messages) this.take(message, answer.now);
    return true;
  }
  take(message, now) {
    if (!message.page) {
      if (message.question) this.texts.set(message.item, message.question.text);
      return this.fire("msg:custom", message, []);
    }
    const raw = JSON.stringify(message.page), page = message.page;
    const changed = raw !== this.raw;
    [this.raw, this.until, this.offset] = [raw, page.until, Date.now() / 1000 - now];
    if (page.until) page.until += this.offset;  // this device's clock may be wrong; the server's counts
    this.state.answers = message.answers;
    if (!changed) return;
    const items = (page.questions ?? []).map(({ item }) => item);
    if (!items.includes(this.state.at)) this.state.at = items.find((item) => !(item in message.answers)) ?? items[0];
    this.fire("msg:custom", message, []);
  }
  async lift(item) {
    try {
      const response = await fetch(`lift/${item}`, { credentials: "same-origin" });
      if (!response.ok) throw new Error((await response.json()).problem);
      const bytes = await response.arrayBuffer(), length = new DataView(bytes).getUint32(0);
      const clip = JSON.parse(new TextDecoder().decode(new Uint8Array(bytes, 4, length)));
      let at = 4 + length;
      const sheets = clip.sheets.map((size) => new Uint8Array(bytes, (at += size) - size, size));
      this.fire("msg:custom", { item, clip, text: this.texts.get(item) ?? null }, sheets);
    } catch (problem) {
      this.fire("msg:custom", { item, problem: `The lift could not be loaded (${problem.message}). Open the question again.` }, []);
    }
  }
}

function enter(words = "") {
  const candidate = element("input", { id: "candidate", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", required: "" });
  const code = element("input", { id: "code", autocomplete: "off", autocapitalize: "characters", spellcheck: "false", required: "", placeholder: "XXXX-XXXX-XXXX" });
  const said = element("p", { role: "status", class: "said" }, words);
  const form = element("form", { class: "enter" }, element("h1", {}, "Exam"),
    element("p", {}, "Type what your slip says. Capitals and hyphens do not matter in the code."),
    element("label", { for: "candidate" }, "Candidate"), candidate,
    element("label", { for: "code" }, "Code"), code,
    element("button", {}, "Enter"), said);
  form.onsubmit = async (event) => {
    event.preventDefault();
    said.textContent = "One moment …";
    try {
      const { answer } = await post("enter", { candidate: candidate.value.trim(), code: code.value });
      if (answer.entered) return sit();
      said.textContent = answer.problem ?? "That did not work: try again.";
    } catch {
      said.textContent = "The exam's machine does not answer: check the network, and try again.";
    }
  };
  root.replaceChildren(form);
  candidate.focus();
}

async function sit() {
  let asking = null, closed = () => {};
  const link = new Link((words) => { clearInterval(asking); closed(); enter(words); });
  const { status } = await post("ask", { do: "page" }).catch(() => ({ status: 0 }));
  if (status !== 200) return enter(status ? "" : "The exam's machine does not answer: check the network, and open this page again.");
  const el = element("div");
  root.replaceChildren(el);
  closed = sitting.render({ model: link, el }) ?? closed;
  let soon = 0;
  asking = setInterval(() => {
    const over = link.until && link.until + link.offset - Date.now() / 1000 < 0;
    if (over || Date.now() - soon > LOOK_AGAIN_MS) { soon = Date.now(); link.send({ do: "page" }); }
  }, LATE_MS);
}

sit();
