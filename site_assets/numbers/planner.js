// The loading planner: rows of things, what each does to the loads, and all loads against limits.
// The plan stays on this phone until it is cleared.
(() => {
  "use strict";
  const { make, shown, makeField, loading } = window.lockerleafNumbers;
  const SVG = "http://www.w3.org/2000/svg";
  const TYPED = "typed";

  const svg = (tag, marks, ...children) => {
    const element = document.createElementNS(SVG, tag);
    for (const name of Object.keys(marks)) element.setAttribute(name, marks[name]);
    element.append(...children);
    return element;
  };

  // The bar of a load with marks at its limits, as the page's own: words stand beside it.
  const bar = (value, low, high, bad) => {
    const whole = 1.2 * Math.max(high, value);
    const x = (at) => ((360 * Math.max(0, at)) / whole).toFixed(1);
    return svg("svg", { class: "plot limit", viewBox: "0 0 360 24", width: 360, height: 24, "aria-hidden": "true" },
      svg("rect", { class: "e", x: 1, y: 4, width: 358, height: 16 }),
      svg("rect", { class: bad ? "bad" : "s0", x: 1, y: 4, width: x(value), height: 16 }),
      ...[low, high].filter((limit) => limit !== null).map((limit) => svg("path", { class: "lv", d: `M${x(limit)} 0V24` })));
  };

  const signed = (value, digits) => (Math.abs(value) < 0.05 ? "0" : (value > 0 ? "+" : "") + shown(value, digits));

  const planner = (data, say, changed) => {
    const key = `load ${location.pathname}`;
    const list = make("ol", { class: "things" });
    const none = make("p", { class: "hint" }, say("thing_none"));
    const rows = [];

    const kept = () => {
      try {
        return JSON.parse(localStorage.getItem(key)) || [];
      } catch {
        return [];
      }
    };
    const keep = () => {
      const plan = rows.map(({ name, kg, where, typed }) => [name.value, kg.input.value, where.value, typed.input.value]);
      try {
        localStorage.setItem(key, JSON.stringify(plan));
      } catch {
        // A browser that keeps nothing still plans.
      }
    };

    const add = ([called, kilograms, place, metres], focus) => {
      if (rows.length >= data.most) return;
      const kg = makeField({ ...data.item_kg, label: say("thing_kg") }, say, data.item_kg.symbol);
      const typed = makeField(data.from_front_m, say);
      const id = kg.input.id;
      const name = make("input", { id: `${id}-name`, type: "text", autocomplete: "off", maxlength: 60 });
      const where = make("select", { id: `${id}-where` }, make("option", { value: "" }, say("thing_choose")),
        ...data.places.map((one, number) => make("option", { value: number }, one.title)),
        make("option", { value: TYPED }, say("thing_typed")));
      const adds = make("p", { class: "adds" });
      const remove = make("button", { type: "button", class: "plain" }, say("thing_remove"));
      const element = make("li", null,
        make("div", { class: "field" }, make("label", { for: name.id }, say("thing")), name),
        kg.element,
        make("div", { class: "field" }, make("label", { for: where.id }, say("thing_where")), where),
        typed.element, adds, remove);
      name.value = called;
      kg.input.value = kilograms;
      where.value = place;
      if (where.selectedIndex < 0) where.value = "";
      typed.input.value = metres;
      const row = { element, name, kg, where, typed, adds };
      remove.addEventListener("click", () => {
        const at = rows.indexOf(row);
        rows.splice(at, 1);
        element.remove();
        const next = rows[Math.min(at, rows.length - 1)];
        (next ? next.name : buttons.firstElementChild).focus();
        update();
      });
      rows.push(row);
      list.append(element);
      if (focus) (called ? kg.input : name).focus();
    };

    const update = () => {
      keep();
      changed();
    };
    const button = (words, row) => {
      const made = make("button", { type: "button" }, words);
      made.addEventListener("click", () => {
        add(row, true);
        update();
      });
      return made;
    };
    const clear = make("button", { type: "button", class: "plain" }, say("thing_clear"));
    clear.addEventListener("click", () => {
      rows.splice(0).forEach(({ element }) => element.remove());
      buttons.firstElementChild.focus();
      update();
    });
    const storeRow = ({ label, item_kg, from_front_m }) => {
      const place = data.places.findIndex((one) => one.from_front_m === from_front_m);
      if (from_front_m === null) return [label, `${Math.round(item_kg)}`, "", ""];
      return [label, `${Math.round(item_kg)}`, place < 0 ? TYPED : `${place}`, place < 0 ? `${from_front_m}` : ""];
    };
    const buttons = make("p", { class: "buttons" }, button(say("thing_add"), ["", "", "", ""]),
      ...data.stores.map((store) => button(`+ ${store.label}`, storeRow(store))), clear);
    kept().forEach((row) => add(row, false));

    // What is told: a line and a bar for each load, or null while something typed cannot be right.
    const show = (given, fieldsWrong) => {
      keep();
      let wrong = fieldsWrong;
      let open = false;
      const things = [];
      none.hidden = rows.length > 0;
      clear.hidden = rows.length === 0;
      for (const row of rows) {
        const kg = row.kg.read();
        const byHand = row.where.value === TYPED;
        row.typed.element.hidden = !byHand;
        const typed = byHand ? row.typed.read() : { value: row.where.value === "" ? null : data.places[row.where.value].from_front_m };
        wrong = wrong || Boolean(kg.wrong || typed.wrong);
        const complete = !kg.wrong && !typed.wrong && kg.value !== null && typed.value !== null;
        open = open || !complete;
        row.adds.textContent = "";
        if (complete) {
          const [one] = loading(data, given, [[kg.value, typed.value]]).effects;
          things.push([kg.value, typed.value]);
          if (one)
            row.adds.textContent = say("thing_adds", {
              support: data.called.support, support_kg: signed(one[0], 1), axle: data.called.axle, axle_kg: signed(one[1], 1),
            });
        } else if (!kg.wrong && !typed.wrong) row.adds.textContent = say("thing_incomplete");
      }
      // With a row that is not complete every sum would be too small: none is told.
      if (wrong) return null;
      if (open) return [say("thing_open")];
      const now = loading(data, given, things);
      const lines = things.length ? [say("thing_sum", { kg: shown(now.things_kg, 1) })] : [];
      for (const [load, value, low, high, found] of now.checks) {
        const gaps = { what: data.called[load] };
        gaps.kg = shown(value, 0, { over: "at most", under: "at least" }[found] || "about");
        if (low !== null) Object.assign(gaps, { least: shown(low, 0), under: shown(low - value, 0, "at most") });
        if (high !== null)
          Object.assign(gaps, { limit: shown(high, 0), over: shown(value - high, 0, "at most"), left: shown(high - value, 0, "at least") });
        const word = load === "usual" ? `usual_${found}` : found === "within" && high === null ? "unlimited" : found;
        const words = make("p", { class: found === "within" ? "" : "wrong" }, say(`load_${word}`, gaps));
        lines.push(make("div", null, words, ...(high === null ? [] : [bar(value, low, high, found !== "within")])));
      }
      return lines;
    };

    return { element: make("div", null, none, list, buttons), show };
  };

  Object.assign(window.lockerleafNumbers, { planner });
})();
