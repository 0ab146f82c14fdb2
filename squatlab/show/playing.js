// What every clip shares, whatever draws it: the time, keys, the row of buttons.
const SPEEDS = [["1/8", 0.125], ["1/4", 0.25], ["1/2", 0.5], ["1×", 1]];

// The time of a clip: `clip()` says its rate and last frame, `show()` draws `frame()`, `rest()` hears that it stands.
function timer(clip, show, rest = () => {}) {
  let before = 0, request = 0;
  const play = button("Play", () => time.run(!time.playing), { class: "play" });
  const speeds = choice("Speed", SPEEDS, (value) => { time.speed = value; show(); });
  const time = {
    now: 0, speed: 1, playing: false, drawn: null, play, speeds,
    frame: () => Math.round(time.now),
    go(frame) { time.now = Math.min(clip().last, Math.max(0, frame)); time.run(false); },
    step(by) { time.go(time.frame() + by); },
    faster(by) {
      const next = SPEEDS[SPEEDS.findIndex(([, value]) => value === time.speed) + by];
      if (next) time.speed = next[1];
      show();
    },
    run(on) {
      time.playing = on;
      play.textContent = on ? "Pause" : "Play";
      cancelAnimationFrame(request);
      if (!on) {
        rest();
        return show();
      }
      if (time.frame() >= clip().last) time.now = 0;
      before = performance.now();
      show();
      request = requestAnimationFrame(turn);
    },
    stop: () => cancelAnimationFrame(request),
    // What every picture tells: which speed is chosen, where the time stands.
    tell(slider, status, words) {
      time.drawn = time.frame();
      speeds.mark(time.speed);
      slider.value = time.drawn;
      slider.setAttribute("aria-valuetext", words);
      status.setAttribute("aria-live", time.playing ? "off" : "polite");
      status.textContent = words;
    },
  };
  function turn(moment) {
    if (!play.isConnected) return time.run(false);
    // A hidden page comes back after a long pause: it goes on where it was.
    time.now += (Math.min(100, Math.max(0, moment - before)) / 1000) * clip().rate * time.speed;
    before = moment;
    if (time.now >= clip().last) {
      time.now = clip().last;
      return time.run(false);
    }
    if (time.frame() !== time.drawn) show();
    request = requestAnimationFrame(turn);
  }
  return time;
}

// The keys of a clip, while it has the focus; `more` has those of one kind of clip alone.
function keyboard(root, canvas, slider, time, more) {
  const keys = {
    ArrowLeft: () => time.step(-1), ArrowRight: () => time.step(1),
    Home: () => time.go(0), End: () => time.go(Infinity), "-": () => time.faster(-1), "+": () => time.faster(1),
    "=": () => time.faster(1), " ": () => time.run(!time.playing), ...more,
  };
  root.addEventListener("keydown", (event) => {
    // The notebook takes single keys for its own: "b" would insert a cell.
    event.stopPropagation();
    const action = keys[event.key.length === 1 ? event.key.toLowerCase() : event.key];
    const native = event.key === " " && event.target.tagName === "BUTTON";
    if (!action || native || event.ctrlKey || event.metaKey || event.altKey) return;
    event.preventDefault();
    action();
  });
  canvas.addEventListener("click", () => { root.focus(); time.run(!time.playing); });
  slider.addEventListener("input", () => time.go(Number(slider.value)));
}

// The row of buttons below a clip.
function transport(time, lowest, ...more) {
  return make("div", { class: "row" },
    button("Start", () => time.go(0)), button("−1 frame", () => time.step(-1), { "aria-label": "One frame back" }),
    time.play, button("+1 frame", () => time.step(1), { "aria-label": "One frame forward" }),
    button("Lowest point", lowest), time.speeds.row, ...more);
}
