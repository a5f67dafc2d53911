// What every form of numbers needs: reading a field, rounding as the tables do, making elements.
(() => {
  "use strict";

  // A number rounded to decimals: down if it is a least, up if it is a most, else half away from 0.
  const honest = (value, digits, bound) => {
    const scale = 10 ** digits;
    if (bound === "at least") return Math.floor(value * scale + 1e-9) / scale + 0;
    if (bound === "at most") return Math.ceil(value * scale - 1e-9) / scale + 0;
    return (Math.sign(value) * Math.floor(Math.abs(value) * scale + 0.5)) / scale + 0;
  };

  // What stands in a field: {value} or {wrong}; empty is {value: null}. A comma is a decimal point.
  const check = (field, text) => {
    const typed = String(text).trim().replace(",", ".");
    if (!typed) return { value: null };
    if (!/^[+-]?(\d+\.?\d*|\.\d+)$/.test(typed)) return { wrong: true };
    const value = Number(typed);
    if (!(value >= field.low && value <= field.high)) return { wrong: true };
    if (field.whole && !Number.isInteger(value)) return { wrong: true };
    if (field.choices.length && !field.choices.includes(value)) return { wrong: true };
    return { value };
  };

  const make = (tag, marks, ...children) => {
    const element = document.createElement(tag);
    for (const name of Object.keys(marks || {})) element.setAttribute(name, marks[name]);
    element.append(...children);
    return element;
  };

  // A number as the page's language writes it, rounded so that its bound stays true.
  const shown = (value, digits, bound) =>
    honest(value, digits, bound)
      .toLocaleString(document.documentElement.lang, { minimumFractionDigits: 0, maximumFractionDigits: digits })
      .replace("-", "\u2212");

  let made = 0;

  // A labelled field. Where it may be below zero it asks for the whole keyboard: some number pads of
  // phones have no minus. `read` returns what stands in it, and tells beside it what is wrong.
  const makeField = (field, say, note) => {
    made += 1;
    const id = `number-${made}`;
    const input = field.choices.length
      ? make("select", { id }, ...(field.optional ? [make("option", { value: "" }, "")] : []),
          ...field.choices.map((value) => make("option", { value }, `${value}`)))
      : make("input", { id, type: "text", inputmode: field.low < 0 ? "text" : "decimal", autocomplete: "off" });
    if (field.value !== null) input.value = field.value;
    const error = make("p", { class: "wrong", id: `${id}-wrong` });
    error.hidden = true;
    const label = make("label", { for: id }, field.label, " ", make("small", null, note ?? field.symbol));
    const read = () => {
      const found = check(field, input.value);
      error.hidden = !found.wrong;
      error.textContent = found.wrong ? say("wrong", { label: field.label, right: field.right }) : "";
      if (found.wrong) {
        input.setAttribute("aria-invalid", "true");
        input.setAttribute("aria-describedby", error.id);
      } else {
        input.removeAttribute("aria-invalid");
        input.removeAttribute("aria-describedby");
      }
      return found;
    };
    return { field, input, read, element: make("div", { class: "field" }, label, input, error) };
  };

  window.lockerleafNumbers = { check, honest, make, shown, makeField };
})();
