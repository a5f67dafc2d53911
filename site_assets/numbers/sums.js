// The forms: what is asked, what is said, worked out anew as the reader types. What it says is in the
// page's language, with gaps to fill.
(() => {
  "use strict";
  const { shown, make, makeField, largestSets, pitch, gas, hotWater, battery, water, weather, tyres, planner } = window.lockerleafNumbers;

  const day = ([year, month, date]) =>
    new Date(Date.UTC(year, month - 1, date)).toLocaleDateString(document.body.dataset.dates, {
      day: "numeric", month: "long", year: "numeric", timeZone: "UTC",
    });

  // What is said for each page: the first line large, then others. `say` fills a phrase.
  const results = {
    pitch: (data, given, on, say) => {
      const now = pitch(data, given, on);
      const label = (name) => data.loads.find((load) => load.name === name).label;
      const whole = shown(now.limit_a * data.nominal_v, 0);
      const watts = shown(now.amps * data.nominal_v, 0);
      const spare = Math.abs(now.spare_w);
      const lines = [];
      if (!now.fits) lines.push(say("over", { watts, whole, over: shown(Math.ceil(spare - 1e-6), 0) }));
      else if (now.watts) {
        lines.push(say("fits", { watts, whole, spare: shown(Math.floor(spare + 1e-6), 0) }));
        const loads = now.add.map(([name, most]) => say("up_to", { load: label(name), watts: shown(most, 0) }));
        lines.push(loads.length ? say("can_add", { loads: loads.join("; ") }) : say("nothing_more"));
      }
      const sets = largestSets(data, given)
        .map((set) => Object.entries(set))
        .filter((set) => set.length)
        .sort((a, b) => b.length - a.length || sum(b) - sum(a));
      if (!now.watts && sets.length) {
        lines.push(say("sets"));
        for (const set of sets) lines.push(set.map(([name, power]) => `${label(name)} ${shown(power, 0)} W`).join(", "));
      }
      if (now.drop_v !== null) lines.push(say("lead", { amps: shown(now.limit_a, 1), volts: shown(now.drop_v, 2) }));
      return lines;
    },
    gas: (data, given, on, say) => {
      const lines = [];
      for (const [season, name] of data.seasons) {
        const hours = Object.fromEntries(Object.keys(data.g_h).map((one) => [one, given[`${one}.${season}`]]));
        const now = gas(data, hours);
        if (!now.g_day) continue;
        lines.push(make("strong", null, say("gas_season", { season: name, grams: shown(now.g_day, 0) })));
        now.stores.forEach((store, index) => {
          const { label, count } = data.stores[index];
          const gaps = { store: label, days: shown(store.one_days, 1), hours: shown(store.one_hours, 0) };
          lines.push(say("gas_one", gaps) + (count > 1 ? ` ${say("gas_all", { days: shown(store.days, 1) })}` : ""));
        });
        if (season === "winter")
          for (const { label, fluid, lowest_c } of data.cold)
            lines.push(say("gas_cold", { store: label, fluid, temperature: shown(lowest_c, 0) }));
      }
      return lines.length ? lines : [say("gas_none")];
    },
    "hot-water": (data, given, on, say) => {
      if (given.fill_c >= given.hot_c) return [say("fill_order")];
      if (given.mix_c !== null && (given.mix_c > given.hot_c || given.mix_c <= given.fill_c)) return [say("mix_order")];
      const now = hotWater(data, given);
      const lines = Object.entries(now.minutes).map(([way, minutes]) =>
        say("heats", { way, minutes: shown(minutes, 0, "at least") }),
      );
      if (now.mixed_l !== null) lines.push(say("mixed", { litres: shown(now.mixed_l, 1, "at most") }));
      if (now.shower_min !== null) lines.push(say("shower", { minutes: shown(now.shower_min, 1, "at most") }));
      if (now.scald_s !== null) lines.push(say("scald", { seconds: shown(now.scald_s, 1) }));
      return lines;
    },
    battery: (data, given, on, say) => {
      const now = battery(data, given, given);
      const nights = (value, word) =>
        value === Infinity ? say("endless") : say(word, { nights: shown(value, 1, "at most") });
      const lines = [];
      if (now.use_ah_day) lines.push(nights(now.nights, "nights"), say("day_use", { ah: shown(now.use_ah_day, 1) }));
      lines.push(say("usable", { ah: shown(now.usable_ah, 0, "at most") }));
      for (const [month, ah, sunny] of now.months) {
        const brings = say("sun_month", { month: data.months[month], ah: shown(ah, 1) });
        lines.push(now.use_ah_day ? `${brings} ${nights(sunny, "nights_sun")}` : brings);
      }
      if (now.charge_h !== null) lines.push(say("charge", { hours: shown(now.charge_h, 1, "at least") }));
      if (now.feed_ah !== null) lines.push(say("feed", { ah: shown(now.feed_ah, 0, "at most") }));
      if (now.drop_v !== null)
        lines.push(say("run", { volts: shown(now.drop_v, 2, "at least"), percent: shown((100 * now.drop_v) / data.nominal_v, 1, "at least") }));
      if (now.heavy_h !== null) lines.push(say("heavy", { hours: shown(now.heavy_h, 1, "at most") }));
      return lines;
    },
    water: (data, given, on, say) => {
      const now = water(data, given);
      const lines = [];
      if (given.kept_l_day !== null && given.use_l_day !== null && given.kept_l_day > given.use_l_day)
        lines.push(say("kept_more"));
      if (now.dose_ml !== null)
        lines.push(say(now.dose_ml > data.most_ml ? "dose_most" : "dose", { ml: shown(now.dose_ml, 1) }));
      if (now.days !== null) lines.push(say("fill_lasts", { days: shown(now.days, 1) }));
      if (now.waste_l_day !== null) lines.push(say("waste", { litres: shown(now.waste_l_day, 0) }));
      if (now.waste_days !== null)
        lines.push(now.waste_days === Infinity ? say("waste_never") : say("waste_full", { days: shown(now.waste_days, 1) }));
      if (now.fill_min !== null) lines.push(say("fill_min", { minutes: shown(now.fill_min, 1, "at least") }));
      return lines;
    },
    tyres: (data, given, on, say) => {
      const now = tyres(data, given);
      const lines = [];
      if (now.gauge_bar !== null) {
        lines.push(say("gauge", { psi: shown(given.gauge_psi, 1), bar: shown(now.gauge_bar, 1) }));
        const off = Math.round(now.gauge_bar * 10) - Math.round(data.pressure_bar * 10);
        const found = off ? (off < 0 ? "gauge_low" : "gauge_high") : "gauge_right";
        if (data.pressure_bar) lines.push(say(found, { bar: shown(data.pressure_bar, 1), off: shown(Math.abs(off) / 10, 1) }));
      }
      if (now.axle_kg !== null) {
        lines.push(say("carry", { kg: shown(now.axle_kg, 0, "at most") }));
        if (now.enough !== null) lines.push(say(now.enough ? "carry_enough" : "carry_weak"));
      }
      if (now.no_week) lines.push(say("no_week"));
      if (now.made) lines.push(say("made", { day: day(now.made) }), say("replace", { ideally: day(now.ideally), latest: day(now.latest) }));
      return lines;
    },
    weather: (data, given, on, say) => {
      const now = weather(data, given);
      const lines = [];
      if (now.frost_nights)
        lines.push(now.frost_nights.length ? say("drain", { nights: now.frost_nights.join(", "), first: `${now.frost_nights[0]}` }) : say("drain_not"));
      if (now.dew_c !== null) {
        lines.push(say("dew", { temperature: shown(now.dew_c, 1) }));
        if (now.condenses !== null) lines.push(say(now.condenses ? "condenses" : "stays_dry"));
        if (now.may_condense !== null) lines.push(say(now.may_condense ? "may" : "may_not"));
      }
      return lines;
    },
  };
  const sum = (set) => set.reduce((all, [, power]) => all + power, 0);

  const setUp = (holder) => {
    const data = JSON.parse(holder.textContent);
    const say = (word, gaps) =>
      data.words[word].replace(/\{([a-z_]+)\}/g, (gap, name) => (gaps && name in gaps ? gaps[name] : gap));
    // In some languages a word keeps its capital in the midst of a sentence.
    const lower = (text) => (data.lower ? text.charAt(0).toLowerCase() + text.slice(1) : text);
    const form = make("form", { class: "sums", novalidate: "" });
    const output = make("div", { class: "told", role: "status" });
    const needed = data.fields.some((field) => !field.optional && field.value === null && !field.choices.length);
    let group = null;
    const fields = data.fields.map((field) => {
      const note = [field.fold ? "" : field.symbol, field.optional && needed ? say("optional") : ""].filter(Boolean).join(", ");
      const made = makeField(field, say, note);
      if (!field.group) form.append(made.element);
      else {
        if (!group || group.dataset.name !== field.group) {
          // What is folded has its name in the line to open it.
          group = field.fold
            ? make("div", { class: "together", role: "group", "aria-label": field.group })
            : make("fieldset", { class: "together" }, make("legend", null, field.group));
          group.dataset.name = field.group;
          form.append(field.fold ? make("details", null, make("summary", null, field.group), group) : group);
        }
        group.append(made.element);
      }
      return made;
    });
    const ticks = (data.loads || []).map((load, index) => {
      const id = `load-${index}`;
      const one = load.stages.length === 1;
      const watts = (value) => `${shown(value, 0)} W`;
      const input = one
        ? make("input", { id, type: "checkbox" })
        : make("select", { id }, make("option", { value: 0 }, say("off")), ...load.stages.map((stage) => make("option", { value: stage }, watts(stage))));
      const label = make("label", { for: id }, load.label, " ", make("small", null, one ? watts(load.stages[0]) : ""));
      form.append(make("div", { class: one ? "tick-on" : "field" }, ...(one ? [input, label] : [label, input])));
      return { load, power: () => (one ? (input.checked ? load.stages[0] : 0) : Number(input.value)) };
    });

    let plan = null;
    const show = () => {
      const given = {};
      const wanted = [];
      let wrong = false;
      for (const { field, read } of fields) {
        const found = read();
        given[field.key] = found.wrong ? null : found.value;
        wrong = wrong || Boolean(found.wrong);
        if (!found.wrong && found.value === null && !field.optional) wanted.push(lower(field.label));
      }
      const on = {};
      for (const { load, power } of ticks) on[load.name] = power();
      output.replaceChildren();
      output.hidden = true;
      const lines = [];
      if (plan) {
        // A plan tells what it can from what is there, and then what is still wanted.
        const told = plan.show(given, wrong);
        if (wrong || told === null) return;
        lines.push(...told);
      } else if (wrong) return;
      if (wanted.length) lines.push(say("wanted", { labels: wanted.join(` ${say("and")} `) }));
      else if (!plan) lines.push(...results[data.page](data, given, on, say));
      output.hidden = !lines.length;
      lines.forEach((line, index) =>
        output.append(make(line instanceof HTMLDivElement ? "div" : "p", index || wanted.length || plan ? null : { class: "answer" }, line)),
      );
    };
    if (data.places) {
      plan = planner(data, say, show);
      form.append(plan.element);
    }
    form.append(output);
    form.addEventListener("input", show);
    form.addEventListener("submit", (event) => event.preventDefault());
    const section = make("section", { class: "work-out" }, make("h2", { id: "your-own" }, data.title), make("p", null, data.lead), form);
    holder.parentElement.before(section);
    const jumps = document.querySelector(".jump ul");
    if (jumps && data.words.other) jumps.append(make("li", null, make("a", { href: "#your-own" }, data.words.other)));
    show();
  };

  document.querySelectorAll("script[type='application/json'].number-form").forEach(setUp);
})();
