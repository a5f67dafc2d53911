// The figures as the page's tables have them. The page holds the unit's inputs and the constants as
// JSON, written by the same definitions; the tests hold these functions against the Python ones.
(() => {
  "use strict";
  const AMP = 1e-9;
  const KG = 1e-6;

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

  // Where things lie. A support carries the front: the coupling, or the front axle.
  const verdict = (key, value, low, high) => {
    if (key !== "usual" && key !== "laden" && value <= 0) return "lifts";
    if (low !== null && value < low - KG) return "under";
    return high !== null && value > high + KG ? "over" : "within";
  };
  const effect = (kg, fromFront, axle, support) => {
    const front = (kg * (axle - fromFront)) / support;
    return [front, kg - front];
  };
  const lowest = (...limits) => {
    const known = limits.filter((one) => one !== null && one !== undefined);
    return known.length ? Math.min(...known) : null;
  };

  // `things` are [kilograms, metres behind the front of the body].
  const loading = (data, given, things) => {
    const it = { ...data, ...given };
    const has = (...keys) => keys.every((key) => it[key] !== null && it[key] !== undefined);
    const sum = things.reduce((all, [kg]) => all + kg, 0);
    const effects = has("axle_m", "support_m") ? things.map(([kg, m]) => effect(kg, m, it.axle_m, it.support_m)) : [];
    const base = has("weighed_kg") ? it.weighed_kg : it.miro_kg;
    const total = base === null || base === undefined ? null : base + sum;
    let front = null;
    let axle = null;
    if (has("weighed_kg", "weighed_support_kg") && effects.length === things.length) {
      front = it.weighed_support_kg + effects.reduce((all, [one]) => all + one, 0);
      axle = it.weighed_kg + sum - front;
    }
    const checks = [];
    const hold = (key, value, low, high) => checks.push([key, value, low, high, verdict(key, value, low, high)]);
    if (total !== null && has("mtplm_kg")) hold("laden", total, null, it.mtplm_kg);
    if (front !== null) {
      const low = has("support_min_kg") ? it.support_min_kg : null;
      if (it.caravan) hold("support", front, low, lowest(it.support_max_kg, it.tow_max_kg));
      else hold("support", front, null, lowest(it.support_max_kg));
    }
    if (axle !== null && has("axle_max_kg")) hold("axle", axle, null, it.axle_max_kg);
    if (it.caravan && front !== null) {
      const [least, most] = it.usual_pct;
      hold("usual", front, (total * least) / 100, (total * most) / 100);
    }
    return { things_kg: sum, total_kg: total, support_kg: front, axle_kg: axle, effects, checks };
  };

  Object.assign(window.lockerleafNumbers, { largestSets, pitch, gas, hotWater, battery, water, loading });
})();
