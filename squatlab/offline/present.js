// Projector pages: the clock, next and back by key, hands that are typed in and kept, one big explorer or clip.
(() => {
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

  // What moves is as large as the page allows: its pictures in the height left by header and controls.
  document.addEventListener("DOMContentLoaded", () => {
    const place = document.querySelector("[data-later]");
    if (!place) return;
    const store = squatlabBook.store(place.dataset.kept), views = store.spec?.panes ?? [];
    const wide = Math.max(412, views.slice(0, 2).reduce((sum, pane) => sum + pane.width, 0));
    const room = innerHeight - 64 * Math.ceil((store.spec?.controls.length ?? 2) / 2) - 260;
    const scale = Math.max(0.6, Math.min(1.5, room / 548, (innerWidth - 60) / wide));
    squatlabBook.open(place, { size: "projector", scale, room: { size: "projector", width: innerWidth - 40, height: innerHeight - 420 } });
  });
})();
