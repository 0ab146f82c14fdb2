function render({ model, el }) {
  return film(el, filmOf(model)).close;
}

export default { render };
