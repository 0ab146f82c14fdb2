// Repairs the stock controls of one box: names, spoken values, and keys that the notebook would otherwise take.
let groups = 0;

function put(element, name, value) {
  // Writing only what differs keeps the observer below from answering itself.
  if (element && element.getAttribute(name) !== value) element.setAttribute(name, value);
}

function worded(shown, [unit, minus, zero, said]) {
  const number = shown.trim().replace("\u2212", "-");
  if (said && number in said) return said[number];
  if (minus && Number(number) < 0) return number.slice(1) + minus;
  if (zero && Number(number) === 0) return zero;
  return number + unit;
}

function slider(box, words) {
  const label = box.querySelector(".widget-label");
  const handle = box.querySelector(".noUi-handle");
  const readout = box.querySelector(".widget-readout");
  if (!label || !handle || !readout) return;
  const name = label.textContent;
  const spoken = worded(readout.textContent, words[name] || [""]);
  put(handle, "aria-label", name);
  put(handle, "aria-valuetext", spoken);
  put(readout, "data-words", spoken);
  put(readout, "role", "textbox");
  put(readout, "aria-label", name + ": type a number");
}

function group(box, role) {
  const label = box.querySelector(".widget-label");
  put(box, "role", role);
  put(box, "aria-label", label ? label.textContent : "");
}

function repair(box, model) {
  const focusable = "input,button,select,textarea,[tabindex],[contenteditable]";
  box.querySelectorAll(focusable).forEach((e) => put(e, "data-lm-suppress-shortcuts", "true"));
  box.querySelectorAll(".widget-slider").forEach((e) => slider(e, model.get("words")));
  box.querySelectorAll(".widget-toggle-buttons").forEach((e) => {
    group(e, "group");
    e.querySelectorAll("button").forEach((b) =>
      put(b, "aria-pressed", String(b.classList.contains("mod-active"))));
  });
  box.querySelectorAll(".widget-radio").forEach((e) => {
    group(e, "radiogroup");
    // Stock radio buttons share no name, so arrow keys would leave them.
    if (!e.dataset.group) e.dataset.group = "choice-" + groups++;
    e.querySelectorAll("input[type=radio]").forEach((i) => put(i, "name", e.dataset.group));
  });
  // The sentence is replaced as a whole; the part that stays must be the live one.
  box.querySelectorAll(".squatlab-sentence .widget-html-content").forEach((e) =>
    put(e, "aria-live", "polite"));
}

function render({ model, el }) {
  el.style.display = "none";
  let observer;
  const again = () => observer && repair(observer.box, model);
  requestAnimationFrame(function begin() {
    const box = el.closest(".widget-box");
    if (!box) return requestAnimationFrame(begin);
    observer = new MutationObserver(again);
    observer.box = box;
    observer.observe(box, {
      subtree: true, childList: true, characterData: true, attributes: true,
      attributeFilter: ["class", "aria-valuenow", "aria-valuetext"],
    });
    again();
  });
  model.on("change:words", again);
  return () => observer && observer.disconnect();
}

export default { render };
