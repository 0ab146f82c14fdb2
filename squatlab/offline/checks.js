// Checks of a page without a kernel: every reply was worded when the page was made, and marks last as long as the visit.
const squatlabChecks = (() => {
  const MARKS = "squatlab marks of this visit";
  let memory = {};
  // A browser may forbid a page from a folder to keep anything: then marks last as long as the page.
  function marks(change) {
    try { memory = JSON.parse(sessionStorage.getItem(MARKS)) ?? memory; } catch { /* as said above */ }
    if (change) {
      Object.assign(memory, change);
      try { sessionStorage.setItem(MARKS, JSON.stringify(memory)); } catch { /* as said above */ }
      document.querySelectorAll("[data-marks]").forEach(tally);
    }
    return memory;
  }
  function tally(place) {
    const all = Object.values(marks()), right = all.filter((mark) => mark.right);
    const first = right.filter((mark) => mark.tries === 1).length;
    place.textContent = all.length
      ? `This visit: ${all.length} answered, ${right.length} right, ${first} of them at the first try.`
      : "This visit: nothing answered yet.";
  }

  // What is typed: a number, alone or with a unit that measures the same; feet and inches in one are for a notebook.
  function numberOf(text, units) {
    const parts = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\d.,+-]*)\.?$/.exec(text.trim().replace("−", "-"));
    if (!parts || /^[+-]?[1-9]\d{0,2},\d{3}$/.test(parts[1])) return null; // 1,500: for some one and a half
    const size = parts[2] ? units[parts[2].toLowerCase().replace(/[\s.*·⋅∙•×-]/g, "")] : 1;
    return size === undefined ? null : Number(parts[1].replace(",", ".")) * size;
  }

  // The reply to an answer, {right, tries}: what is said at each try; or words if it cannot be read.
  function replyTo(question, given) {
    if (question.control === "several") return calledReply(question, given);
    if (question.options) return question.options[given];
    const { answer, tolerance, slips, wrong, right: tries } = question.number;
    const value = numberOf(given, question.number.units);
    if (value === null) return `Type a number${question.number.unit ? `, in ${question.number.unit}` : ""}.`;
    if (Math.abs(value - answer) <= tolerance) return { right: true, tries };
    const near = slips.filter((slip) => Math.abs(slip.to - value) <= tolerance)
      .sort((a, b) => Math.abs(a.to - value) - Math.abs(b.to - value));
    return near[0] ?? { right: false, tries: wrong[value > answer ? "much" : "little"] };
  }
  // Of several options each says what it comes to that it was called, or left out; `calls` heads the lists of them.
  function calledReply({ options, calls, refused, why }, given) {
    const made = options.map(({ called, left }, place) => (given.includes(place) ? called : left));
    const listed = calls.map((words) => [words, options.filter((_, place) => made[place].words === words)]);
    const lists = listed.filter(([, own]) => own.length)
      .map(([words, own]) => `${words}: ${own.map((option) => option.name).join(", ")}.`);
    const right = made.every((call) => call.right), after = (...words) => [...words, ...lists, why].filter(Boolean).join(" ");
    return { right, tries: [right ? after() : after(refused)] };
  }
  const last = ({ tries }) => tries[tries.length - 1];

  // What `asking` listens to, for the questions of one check, one after another.
  function linkOf(questions) {
    const heard = { spec: [], said: [] };
    let at = 0, tries, said;
    const question = () => questions[at];
    const tell = (event) => heard[event].forEach((hear) => hear());
    const begin = () => { tries = 0; said = { words: "", kind: "", done: false, given: null, right: [] }; };
    function end(right) {
      const { id, options } = question();
      said.done = true;
      said.right = (options ?? []).flatMap((option, i) => (option.right ? [i] : []));
      if (!(id in marks())) marks({ [id]: { right, tries } });
    }
    begin();
    return {
      spec: question,
      said: () => said,
      answer(given) {
        const reply = replyTo(question(), given);
        if (typeof reply === "string") said = { ...said, words: reply, kind: "", given };
        else {
          said = { ...said, words: reply.tries[tries], kind: reply.right ? "right" : "wrong", given };
          tries++;
          if (reply.right || tries === reply.tries.length) end(reply.right);
        }
        tell("said");
      },
      giveUp() {
        said = { ...said, words: question().solution, kind: "", given: null };
        end(false);
        tell("said");
      },
      another() {
        at = (at + 1) % questions.length;
        begin();
        tell("spec");
      },
      on: (event, hear) => heard[event].push(hear),
    };
  }

  document.addEventListener("DOMContentLoaded", () => {
    document.querySelectorAll("[data-check]").forEach((place) => {
      asking(place, linkOf(JSON.parse(place.querySelector("script").textContent)));
      place.classList.add("moves");
    });
    document.querySelectorAll("[data-marks]").forEach(tally);
  });
  return { marks, replyTo, last };
})();
