// Makes the stock controls of one box usable for everybody: names, groups, and keys the notebook would otherwise take.
let groups = 0;

function put(element, name, value) {
  // Writing only what differs keeps the observer below from answering itself.
  if (element && element.getAttribute(name) !== value) element.setAttribute(name, value);
}

function repair(box) {
  const focusable = "input,button,select,textarea,[tabindex],[contenteditable]";
  box.querySelectorAll(focusable).forEach((e) => put(e, "data-lm-suppress-shortcuts", "true"));
  box.querySelectorAll(".widget-radio").forEach((e) => {
    const label = e.querySelector(".widget-label");
    put(e, "role", "radiogroup");
    put(e, "aria-label", label ? label.textContent : "");
    // Stock radio buttons share no name, so arrow keys would leave them.
    if (!e.dataset.group) e.dataset.group = "choice-" + groups++;
    e.querySelectorAll("input[type=radio]").forEach((i) => put(i, "name", e.dataset.group));
  });
  // The sentence is replaced as a whole; the part that stays must be the live one.
  box.querySelectorAll(".squatlab-sentence .widget-html-content").forEach((e) =>
    put(e, "aria-live", "polite"));
}

function render({ el }) {
  el.style.display = "none";
  let observer;
  requestAnimationFrame(function begin() {
    const box = el.closest(".widget-box");
    if (!box) return requestAnimationFrame(begin);
    observer = new MutationObserver(() => repair(box));
    observer.observe(box, {
      subtree: true, childList: true, characterData: true, attributes: true, attributeFilter: ["class"],
    });
    repair(box);
  });
  return () => observer && observer.disconnect();
}

export default { render };
