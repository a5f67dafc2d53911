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

  const leadDrop = (data, given, limit) => {
    const [, mv] = data.flex_mv_a_m.find(([mm2]) => mm2 === given.lead_mm2) || [];
    return mv && given.lead_m ? (mv * limit * given.lead_m) / 1000 : null;
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
      drop_v: leadDrop(data, given, limit),
      add: data.loads.flatMap((load) => {
        if (on[load.name]) return [];
        const stages = load.stages.filter((power) => amps + ampsOf(data, load, power, volts) <= limit + AMP);
        return stages.length ? [[load.name, Math.max(...stages)]] : [];
      }),
    };
  };

  // `hours` of one day, by appliance. For each store: days of one full, and of all that are carried.
  const gas = (data, hours) => {
    let day = 0;
    for (const name of Object.keys(data.g_h)) day += data.g_h[name] * (hours[name] || 0);
    return {
      g_day: day,
      stores: data.stores.map(({ mass_kg, count }) => {
        const one = day ? (mass_kg * 1000) / day : Infinity;
        return { one_days: one, one_hours: one * 24, days: one * count };
      }),
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
    const there = (...keys) => keys.every((key) => given[key] !== null && given[key] !== undefined);
    const result = { use_ah_day: use, usable_ah: usable, nights: nights(0), months: [], heavy_h: null, charge_h: null, feed_ah: null, drop_v: null };
    if (data.power_wp && there("solar_pct", "charge_v"))
      data.months.forEach((month, index) => {
        const sun = given[`sun_psh_${index + 1}`];
        if (sun === null || sun === undefined) return;
        const brings = (((data.power_wp * sun) * given.solar_pct) / 100) / given.charge_v;
        result.months.push([index, brings, nights(brings)]);
      });
    if (there("output_a")) result.charge_h = usable / given.output_a;
    if (there("feed_a", "drive_h")) result.feed_ah = given.feed_a * given.drive_h;
    if (there("run_a", "run_m", "run_mm2")) {
      const [, ohm] = data.ohm_km.find(([mm2]) => mm2 === given.run_mm2);
      result.drop_v = ((2 * ohm) / 1000) * given.run_a * given.run_m;
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

  const dewPoint = (data, cabin, humidity) => {
    const lift = Math.log(humidity / 100) + (data.slope * cabin) / (data.offset + cabin);
    return Math.min((data.offset * lift) / (data.slope - lift), cabin);
  };
  const weather = (data, given) => {
    const there = (key) => given[key] !== null && given[key] !== undefined;
    const result = { dew_c: null, condenses: null, may_condense: null, frost_nights: null };
    if (there("cabin_c") && there("humidity_pct")) {
      result.dew_c = dewPoint(data, given.cabin_c, given.humidity_pct);
      if (there("surface_c")) result.condenses = given.surface_c <= result.dew_c;
      if (there("outside_c")) result.may_condense = given.outside_c <= result.dew_c;
    }
    const nights = [...Array(data.nights).keys()].map((night) => night + 1).filter((night) => there(`night_${night}`));
    if (there("drain_c") && nights.length) result.frost_nights = nights.filter((night) => given[`night_${night}`] <= given.drain_c);
    return result;
  };

  // Days as [year, month, day]. The Monday of a week of the ISO calendar: the 4th of January lies in
  // the first week. None where the year has no such week.
  const mondayOf = (week, year) => {
    const fourth = new Date(Date.UTC(year, 0, 4));
    const monday = new Date(fourth.getTime() + ((week - 1) * 7 - ((fourth.getUTCDay() + 6) % 7)) * 86400000);
    const thursday = new Date(monday.getTime() + 3 * 86400000);
    return thursday.getUTCFullYear() === year ? [monday.getUTCFullYear(), monday.getUTCMonth() + 1, monday.getUTCDate()] : null;
  };
  const yearsAfter = ([year, month, day], years) =>
    month === 2 && day === 29 && new Date(Date.UTC(year + years, 1, 29)).getUTCMonth() !== 1
      ? [year + years, 2, 28]
      : [year + years, month, day];
  const tyres = (data, given) => {
    const there = (...keys) => keys.every((key) => given[key] !== null && given[key] !== undefined);
    const result = { gauge_bar: null, axle_kg: null, enough: null, made: null, ideally: null, latest: null, no_week: false };
    if (there("gauge_psi")) result.gauge_bar = (given.gauge_psi * data.kpa_per_psi) / 100;
    if (there("load_index")) {
      result.axle_kg = data.load_kg.find(([index]) => index === given.load_index)[1] * given.tyres;
      if (there("axle_max_kg")) result.enough = result.axle_kg >= given.axle_max_kg;
    }
    if (there("week", "year")) {
      result.made = mondayOf(given.week, 2000 + given.year);
      result.no_week = !result.made;
      if (result.made) {
        result.ideally = yearsAfter(result.made, data.ideal_years);
        result.latest = yearsAfter(result.made, data.most_years);
      }
    }
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
    if (has("weighed_kg", "weighed_front_kg") && effects.length === things.length) {
      front = it.weighed_front_kg + effects.reduce((all, [one]) => all + one, 0);
      axle = it.weighed_kg + sum - front;
    }
    const checks = [];
    const hold = (key, value, low, high) => checks.push([key, value, low, high, verdict(key, value, low, high)]);
    if (total !== null && has("mtplm_kg")) hold("laden", total, null, it.mtplm_kg);
    if (front !== null) {
      const low = has("noseload_min_kg") ? it.noseload_min_kg : null;
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

  Object.assign(window.lockerleafNumbers, { largestSets, pitch, gas, hotWater, battery, water, weather, tyres, loading });
})();
