// Numbers worked out anew as the reader types. The page holds the unit's inputs, the constants and
// the limits of each field as JSON, written by the same definitions as its tables; the functions
// here do with them what those do, and the tests hold the two against each other.
(() => {
  "use strict";
  const AMP = 1e-9;

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

  const between = (points, x) => {
    for (let i = 1; i < points.length; i += 1) {
      const [x0, y0] = points[i - 1];
      const [x1, y1] = points[i];
      if (x0 <= x && x <= x1) return y0 + ((x - x0) / (x1 - x0)) * (y1 - y0);
    }
    throw new RangeError(`${x} is outside the table`);
  };

  // Pitch: every set that fits and to which nothing can be added or turned up.
  const limitOf = (data, given) => Math.min(given.rating_a, data.inlet_a || given.rating_a);
  const voltsOf = (data, given) => Math.min(given.supply_v || data.nominal_v, data.nominal_v);
  const ampsOf = (data, load, watts, volts) => watts / (load.resistive ? data.nominal_v : volts);

  const largestSets = (data, given) => {
    const volts = voltsOf(data, given);
    const limit = limitOf(data, given);
    const options = data.loads.map((load) =>
      [0, ...load.stages]
        .map((watts) => [ampsOf(data, load, watts, volts), watts])
        .sort((a, b) => a[0] - b[0] || a[1] - b[1]),
    );
    const left = [0];
    for (const option of [...options].reverse()) left.push(left[left.length - 1] + option[option.length - 1][0]);
    left.reverse();
    const found = [];
    const go = (index, amps, step, chosen) => {
      if (amps + left[index] + step <= limit + AMP) return;
      if (index === options.length) {
        found.push(chosen);
        return;
      }
      const option = options[index];
      for (let stage = option.length - 1; stage >= 0; stage -= 1) {
        const here = amps + option[stage][0];
        if (here > limit + AMP) continue;
        const forgone = stage === option.length - 1 ? step : Math.min(step, option[stage + 1][0] - option[stage][0]);
        go(index + 1, here, forgone, stage ? { ...chosen, [data.loads[index].name]: option[stage][1] } : chosen);
      }
    };
    go(0, 0, Infinity, {});
    return found;
  };

  // `on` holds the watts of what runs, by name.
  const pitch = (data, given, on) => {
    const volts = voltsOf(data, given);
    const limit = limitOf(data, given);
    let amps = 0;
    let watts = 0;
    for (const load of data.loads) {
      const power = on[load.name] || 0;
      amps += ampsOf(data, load, power, volts);
      watts += power;
    }
    amps += (given.kettle_w || 0) / data.nominal_v;
    watts += given.kettle_w || 0;
    return {
      limit_a: limit,
      amps,
      watts,
      fits: amps <= limit + AMP,
      spare_w: (limit - amps) * data.nominal_v,
      add: data.loads.flatMap((load) => {
        if (on[load.name]) return [];
        const stages = load.stages.filter((power) => amps + ampsOf(data, load, power, volts) <= limit + AMP);
        return stages.length ? [[load.name, Math.max(...stages)]] : [];
      }),
    };
  };

  const gas = (data, hours) => {
    let day = 0;
    for (const name of Object.keys(data.g_h)) day += data.g_h[name] * (hours[name] || 0);
    return {
      g_day: day,
      one_days: day ? (data.mass_kg * 1000) / day : Infinity,
      days: day ? (data.mass_kg * data.count * 1000) / day : Infinity,
    };
  };

  const density = (data, c) => between(data.water.map(([t, rho]) => [t, rho]), c) / 1000;
  const enthalpy = (data, c) => between(data.water.map(([t, , h]) => [t, h]), c);

  const hotWater = (data, given) => {
    const share = ((given.supply_v || data.nominal_v) / data.nominal_v) ** 2;
    const heat =
      data.capacity_l * density(data, given.fill_c) * (enthalpy(data, given.hot_c) - enthalpy(data, given.fill_c));
    const minutes = {};
    const way = (name, watts) => {
      minutes[name] = (heat * 1000) / watts / 60;
    };
    for (const watts of data.mains_w) way(`mains ${watts} W`, watts * share);
    if (data.burner_w) {
      way("gas", data.burner_w);
      for (const watts of data.mains_w) way(`mains ${watts} W and gas`, watts * share + data.burner_w);
    }
    const result = { minutes, mixed_l: null, shower_min: null, scald_s: null };
    const row = data.scald_s.find(([c]) => c >= given.hot_c) || data.scald_s[data.scald_s.length - 1];
    if (given.hot_c >= data.scald_s[0][0]) result.scald_s = row[1];
    if (given.mix_c !== null && given.mix_c > given.fill_c && given.mix_c <= given.hot_c) {
      const mass = data.capacity_l * density(data, given.hot_c);
      const [hot, mix, cold] = [given.hot_c, given.mix_c, given.fill_c].map((c) => enthalpy(data, c));
      result.mixed_l = (mass * (hot - cold)) / (mix - cold) / density(data, given.mix_c);
      if (given.flow_l_min) result.shower_min = result.mixed_l / given.flow_l_min;
    }
    return result;
  };

  const battery = (data, given, hours) => {
    let use = given.day_ah || 0;
    for (const name of Object.keys(data.amps)) use += data.amps[name] * (hours[name] || 0);
    const usable = (data.capacity_ah * given.usable_pct) / 100;
    const nights = (sun) => (use > sun ? usable / (use - sun) : Infinity);
    const result = { use_ah_day: use, usable_ah: usable, nights: nights(0), solar_ah_day: null, nights_sun: null, heavy_h: null };
    if (data.power_wp && given.sun_psh !== null && given.solar_pct !== null && given.charge_v !== null) {
      result.solar_ah_day = (((data.power_wp * given.sun_psh) * given.solar_pct) / 100) / given.charge_v;
      result.nights_sun = nights(result.solar_ah_day);
    }
    const exponent = data.acid ? given.peukert_k : 1;
    if (given.heavy_a !== null && exponent !== null && exponent !== undefined) {
      const law = data.rating_h * (data.capacity_ah / (given.heavy_a * data.rating_h)) ** exponent;
      result.heavy_h = (Math.min(law, data.capacity_ah / given.heavy_a) * given.usable_pct) / 100;
    }
    return result;
  };

  const water = (data, given) => {
    const both = (...keys) => keys.every((key) => given[key] !== null && given[key] !== undefined);
    const result = { days: null, waste_l_day: null, waste_days: null, fill_min: null, dose_ml: null };
    if (data.fresh_l && both("use_l_day")) result.days = data.fresh_l / given.use_l_day;
    if (both("use_l_day", "kept_l_day") && given.kept_l_day <= given.use_l_day) {
      result.waste_l_day = given.use_l_day - given.kept_l_day;
      if (data.waste_l) result.waste_days = result.waste_l_day ? data.waste_l / result.waste_l_day : Infinity;
    }
    if (both("system_l", "pump_l_min")) result.fill_min = given.system_l / given.pump_l_min;
    if (both("treated_l", "strength_pct", "dose_mg_l"))
      result.dose_ml = (given.treated_l * given.dose_mg_l) / (10 * given.strength_pct);
    return result;
  };

  window.lockerleafNumbers = { check, honest, largestSets, pitch, gas, hotWater, battery, water };

  // The form. What it says is in the page's language, with gaps to fill.
  const make = (tag, marks, ...children) => {
    const element = document.createElement(tag);
    for (const name of Object.keys(marks || {})) element.setAttribute(name, marks[name]);
    element.append(...children);
    return element;
  };
  const shown = (value, digits, bound) =>
    honest(value, digits, bound).toLocaleString(document.documentElement.lang, {
      minimumFractionDigits: 0,
      maximumFractionDigits: digits,
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
      return lines;
    },
    gas: (data, given, on, say) => {
      const now = gas(data, given);
      if (!now.g_day) return [say("gas_none")];
      return [
        say("gas_one", { days: shown(now.one_days, 1) }),
        ...(data.count > 1 ? [say("gas_all", { days: shown(now.days, 1) })] : []),
        say("gas_day", { grams: shown(now.g_day, 0) }),
      ];
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
      if (now.solar_ah_day !== null) {
        lines.push(say("sun", { ah: shown(now.solar_ah_day, 1) }));
        if (now.use_ah_day) lines.push(nights(now.nights_sun, "nights_sun"));
      }
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
    const fields = data.fields.map((field, index) => {
      const id = `number-${index}`;
      const choice = field.choices.length > 0;
      const input = choice
        ? make("select", { id }, ...field.choices.map((value) => make("option", { value }, `${value}`)))
        : make("input", { id, type: "text", inputmode: "decimal", autocomplete: "off" });
      if (field.value !== null) input.value = field.value;
      const note = [field.symbol, field.optional && needed ? say("optional") : ""].filter(Boolean).join(", ");
      const error = make("p", { class: "wrong", id: `${id}-wrong` });
      error.hidden = true;
      const label = make("label", { for: id }, field.label, " ", make("small", null, note));
      form.append(make("div", { class: "field" }, label, input, error));
      return { field, input, error };
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

    const show = () => {
      const given = {};
      const wanted = [];
      let wrong = false;
      for (const { field, input, error } of fields) {
        const found = check(field, input.value);
        given[field.key] = found.wrong ? null : found.value;
        error.hidden = !found.wrong;
        error.textContent = found.wrong ? say("wrong", { label: field.label, right: field.right }) : "";
        if (found.wrong) {
          input.setAttribute("aria-invalid", "true");
          input.setAttribute("aria-describedby", error.id);
        } else {
          input.removeAttribute("aria-invalid");
          input.removeAttribute("aria-describedby");
        }
        wrong = wrong || Boolean(found.wrong);
        if (!found.wrong && found.value === null && !field.optional) wanted.push(lower(field.label));
      }
      const on = {};
      for (const { load, power } of ticks) on[load.name] = power();
      output.replaceChildren();
      output.hidden = true;
      if (wrong) return;
      const lines = wanted.length ? [say("wanted", { labels: wanted.join(` ${say("and")} `) })] : results[data.page](data, given, on, say);
      output.hidden = !lines.length;
      lines.forEach((line, index) => output.append(make("p", index || wanted.length ? null : { class: "answer" }, line)));
    };
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
