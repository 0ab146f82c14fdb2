// Projector pages: the clock, next and back by key, hands that are typed in and kept, one big explorer or clip.
(() => {
  // Below this many pixels a picture unit, words are too small to be read from the back of a room [teaching-value].
  const READABLE = 0.9;
  const KEPT = "squatlab hands", { slot, back, next } = document.body.dataset;
  let hands = {};
  try { hands = JSON.parse(localStorage.getItem(KEPT)) ?? {}; } catch { /* then they last as long as the page */ }

  document.addEventListener("keydown", (event) => {
    const to = { PageDown: next, PageUp: back }[event.key];
    if (to) {
      event.preventDefault();
      location.href = to;
    }
  });

  const clock = document.querySelector(".clock"), minutes = (text) => text.split(":").reduce((sum, part) => 60 * sum + Number(part), 0);
  function tick() {
    const now = new Date(), time = `${now.getHours()}:${String(now.getMinutes()).padStart(2, "0")}`;
    if (!clock.dataset.to) return void (clock.textContent = time);
    const left = minutes(clock.dataset.to) - minutes(time);
    const words = left < 0 ? `${-left} min over` : `${left} min left`;
    const known = left <= minutes(clock.dataset.to) - minutes(clock.dataset.from) && left > -60;
    clock.textContent = `${time} · ${clock.dataset.from}–${clock.dataset.to}${known ? ` · ${words}` : ""}`;
  }
  setInterval(tick, 5000);
  tick();

  const mine = (hands[slot] ??= {});
  document.querySelectorAll(".hands input").forEach((input) => {
    const kind = "answer" in input.dataset ? "answer" : "count", letter = input.dataset[kind];
    input.value = mine[letter]?.[kind] ?? "";
    input.addEventListener("input", () => {
      (mine[letter] ??= {})[kind] = input.value;
      try { localStorage.setItem(KEPT, JSON.stringify(hands)); } catch { /* as said above */ }
    });
  });
  document.querySelectorAll("[data-votes]").forEach((place) => {
    const votes = Object.entries(hands[place.dataset.votes] ?? {}).filter(([, { count }]) => count);
    if (votes.length) place.textContent = "Hands: " + votes.map(([letter, { answer, count }]) => `${answer || letter} ${count}`).join(", ");
  });

  // What moves is as large as the page allows: controls at the left, pictures in the room beside them.
  const SENTENCE = 100, CLIP_CONTROLS = 200;
  function fitted(place) {
    const controls = parseFloat(getComputedStyle(place).getPropertyValue("--controls"));
    return ({ kind, spec }, view) => {
      const width = innerWidth - 40, high = innerHeight - place.getBoundingClientRect().top - scrollY;
      if (kind === "clip") return { room: { size: "projector", width, height: high - CLIP_CONTROLS } };
      const beside = width - controls - 24, panes = spec.panes.filter((pane) => !pane.in_clip);
      const shown = (view) => panes.filter(({ views }) => !views.length || views.includes(view));
      const scaleOf = (panes) => Math.min((high - SENTENCE) / Math.max(...panes.map((pane) => pane.height)),
        beside / panes.reduce((sum, pane) => sum + pane.width, 0));
      const both = scaleOf(shown("both")), strip = Math.max(...panes.map((pane) => pane.height)) * both;
      // Two views that would be small beside each other are shown one after the other.
      const start = both < READABLE && scaleOf(shown("side")) > both ? "side" : "both";
      const room = { size: "projector", width: beside, height: high - strip - CLIP_CONTROLS };
      return { size: "projector", one_row: true, scale: scaleOf(shown(view ?? start)), view: start, room };
    };
  }
  document.addEventListener("DOMContentLoaded", () => {
    const place = document.querySelector("[data-later]");
    if (place) squatlabBook.open(place, fitted(place));
  });
})();
