// Checks of a page without a kernel: the key is folded in the page, every reply was worded when the page was made.
const squatlabMarks = (() => {
  const KEPT = "squatlab marks of this visit";
  let memory = {};
  // A browser may forbid a page from a folder to keep anything: then marks last as long as the page.
  function marks(change) {
    try { memory = JSON.parse(sessionStorage.getItem(KEPT)) ?? memory; } catch { /* as said above */ }
    if (change) {
      Object.assign(memory, change);
      try { sessionStorage.setItem(KEPT, JSON.stringify(memory)); } catch { /* as said above */ }
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
  // The first answer to a question is its mark: who answers again later has seen the key.
  function add(id, right, tries) {
    if (!(id in marks())) marks({ [id]: { right, tries } });
  }
  document.addEventListener("DOMContentLoaded", () => document.querySelectorAll("[data-marks]").forEach(tally));
  return { add };
})();

// What judges a check on a page, as `asking` wants it.
function foldedKey({ id, unit, key }) {
  let tries = 0;
  const note = (text, done = false) => ({ right: null, text, done });
  // What is typed: a number, alone or with a unit that measures the same; feet and inches in one are for a notebook.
  function numberOf(text) {
    const parts = /^([+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+))\s*([^\d.,+-]*)\.?$/.exec(text.trim().replace("−", "-"));
    if (!parts || /^[+-]?[1-9]\d{0,2},\d{3}$/.test(parts[1])) return null; // 1,500: for some one and a half
    const size = parts[2] ? key.number.units[parts[2].toLowerCase().replace(/[\s.*·⋅∙•×-]/g, "")] : 1;
    return size === undefined ? null : Number(parts[1].replace(",", ".")) * size;
  }
  function replyTo(given) {
    if (!key.number) return key.replies.find((reply) => reply.to === given);
    const value = numberOf(given), { answer, tolerance, beyond } = key.number;
    if (value === null) return null;
    const near = key.replies.filter((reply) => Math.abs(reply.to - value) <= tolerance)
      .sort((a, b) => Math.abs(a.to - value) - Math.abs(b.to - value));
    return near.find((reply) => reply.right) ?? near[0] ?? beyond[value > answer ? "much" : "little"];
  }
  function finish(right) {
    squatlabMarks.add(id, right, tries);
    return true;
  }
  return {
    answer(given) {
      const reply = replyTo(given);
      if (!reply) return note(`Type a number${unit ? `, in ${unit}` : ""}.`);
      tries++;
      const done = (reply.right || tries === 2) && finish(reply.right);
      return { right: reply.right, text: tries === 1 ? reply.first : reply.second, done };
    },
    hint: () => note(key.hint),
    solution: () => note(key.solution, finish(false)),
  };
}

document.addEventListener("DOMContentLoaded", () => {
  document.querySelectorAll("[data-check]").forEach((place) => {
    const question = JSON.parse(place.querySelector("script").textContent);
    asking(place, question, foldedKey(question));
    place.classList.add("moves");
  });
});
