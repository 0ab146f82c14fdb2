// Shows an explorer's picture, chart and sentence. What changed comes in one message and is painted at once.
function render({ model, el }) {
  const add = (parent, tag, name) => parent.appendChild(Object.assign(document.createElement(tag), { className: name }));
  const row = add(el, "div", "squatlab-views"), picture = add(row, "div", "squatlab-picture");
  const chart = add(row, "img", "squatlab-chart"), sentence = add(add(el, "div", "squatlab-sentence"), "p", "");
  sentence.setAttribute("role", "status");
  sentence.setAttribute("aria-live", "polite");
  function charted() {
    const before = chart.src;
    chart.src = URL.createObjectURL(new Blob([model.get("chart")]));
    chart.onload = () => URL.revokeObjectURL(before);
  }
  const parts = {
    picture: () => { picture.innerHTML = model.get("picture"); },
    width: () => { picture.style.width = `${model.get("width")}px`; },
    chart: () => model.get("chart_width") ? charted() : chart.remove(),
    chart_width: () => { chart.style.width = `${model.get("chart_width")}px`; },
    alt: () => { chart.alt = model.get("alt"); },
    sentence: () => { sentence.textContent = model.get("sentence"); },
  };
  for (const [name, show] of Object.entries(parts)) {
    model.on(`change:${name}`, show);
    show();
  }
  return () => URL.revokeObjectURL(chart.src);
}

export default { render };
