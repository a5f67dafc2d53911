// "From where you are now": ticking a task of a routine says that what it brings about is so. The
// rest is then planned anew, so that no order can be reached that the proof did not allow: each
// task comes only once its needs are met. Same search as the one that made the page: best first,
// by the length of a plan in which nothing is undone.
(() => {
  "use strict";
  const MOST_STATES = 4000;

  const meets = (state, needs) => needs.every(([key, values]) => values.includes(state[key]));
  const after = (state, action) => ({ ...state, ...action.sets });
  const nameOf = (state) => JSON.stringify(Object.keys(state).sort().map((key) => state[key]));

  // How far the goal is if nothing is undone, and the actions that such a plan begins with.
  const estimate = (actions, state, goal) => {
    const layer = new Map();
    const supporter = new Map();
    const fact = (key, value) => key + "\n" + value;
    for (const key of Object.keys(state)) layer.set(fact(key, state[key]), 0);
    const met = ([key, values]) => values.some((value) => layer.has(fact(key, value)));
    let waiting = actions;
    for (let depth = 1; !goal.every(met); depth += 1) {
      const ready = waiting.filter((action) => action.needs.every(met));
      if (!ready.length) return null;
      waiting = waiting.filter((action) => !ready.includes(action));
      const fresh = [];
      ready
        .map((action, index) => [action.rank, action.needs.length, index, action])
        .sort((a, b) => a[0] - b[0] || a[1] - b[1] || a[2] - b[2])
        .forEach(([, , , action]) => {
          for (const key of Object.keys(action.sets)) {
            const name = fact(key, action.sets[key]);
            if (!layer.has(name) && !fresh.some(([known]) => known === name)) fresh.push([name, action]);
          }
        });
      for (const [name, action] of fresh) {
        layer.set(name, depth);
        supporter.set(name, action);
      }
    }
    const chosen = new Set();
    const wanted = [...goal];
    while (wanted.length) {
      const [key, values] = wanted.pop();
      const names = values.map((value) => fact(key, value)).filter((name) => layer.has(name));
      const weight = (name) => {
        const action = supporter.get(name);
        return [layer.get(name) > 0 ? 1 : 0, action ? action.rank : 2, layer.get(name)];
      };
      names.sort((a, b) => {
        const [x, y] = [weight(a), weight(b)];
        return x[0] - y[0] || x[1] - y[1] || x[2] - y[2];
      });
      const action = supporter.get(names[0]);
      if (action && !chosen.has(action)) {
        chosen.add(action);
        wanted.push(...action.needs);
      }
    }
    return {
      distance: chosen.size,
      helpful: [...chosen].filter((action) => meets(state, action.needs)),
    };
  };

  const search = (actions, start, goal, narrow) => {
    const first = estimate(actions, start, goal);
    if (!first) return null;
    const queue = [[first.distance, 0, start, [], first]];
    const seen = new Set([nameOf(start)]);
    while (queue.length && seen.size < MOST_STATES) {
      let best = 0;
      for (let i = 1; i < queue.length; i += 1) {
        if (queue[i][0] - queue[best][0] < 0 || (queue[i][0] === queue[best][0] && queue[i][1] < queue[best][1])) best = i;
      }
      const [[, , state, plan, guess]] = queue.splice(best, 1);
      if (meets(state, goal)) return plan;
      for (const action of narrow ? guess.helpful : actions) {
        if (!meets(state, action.needs)) continue;
        const next = after(state, action);
        const name = nameOf(next);
        if (seen.has(name)) continue;
        seen.add(name);
        const further = estimate(actions, next, goal);
        if (further) queue.push([further.distance, plan.length + 1, next, [...plan, action], further]);
      }
    }
    return null;
  };

  const dropNeedless = (plan, start, goal) => {
    for (let index = 0; index < plan.length; ) {
      const kept = plan.slice(0, index);
      let state = kept.reduce(after, start);
      for (const action of plan.slice(index + 1)) {
        if (!meets(state, action.needs)) continue;
        kept.push(action);
        state = after(state, action);
      }
      if (meets(state, goal)) plan = kept;
      else index += 1;
    }
    return plan;
  };

  const findPlan = (actions, start, goal) => {
    const found = search(actions, start, goal, true) || search(actions, start, goal, false);
    return found && dropNeedless(found, start, goal);
  };

  // Two actions of a plan may change places where neither touches what the other relies on.
  const keepsOrder = (first, second, before) => {
    const asked = new Map(first.needs);
    for (const key of Object.keys(second.sets)) {
      const value = second.sets[key];
      if (asked.has(key) && !asked.get(key).includes(value)) return true;
      if (key in first.sets && first.sets[key] !== value) return true;
    }
    return second.needs.some(
      ([key, values]) =>
        key in first.sets && !(values.includes(before[key]) && values.includes(first.sets[key])),
    );
  };

  // The order of the page is a sensible walk; keep to it as far as the plan lets us.
  const walk = (plan, start) => {
    const states = plan.reduce((all, action) => [...all, after(all[all.length - 1], action)], [start]);
    const ordered = [];
    const left = plan.map((_, index) => index);
    while (left.length) {
      const free = left.filter((j) => left.every((i) => i >= j || !keepsOrder(plan[i], plan[j], states[i])));
      free.sort((a, b) => plan[a].walk - plan[b].walk || a - b);
      ordered.push(plan[free[0]]);
      left.splice(left.indexOf(free[0]), 1);
    }
    return ordered;
  };

  // The whole way from a state: to the goal, then each task that ends the routine.
  const planFrom = (data, ticked) => {
    const named = new Map(data.actions.map((action) => [action.name, action]));
    let state = data.steps
      .filter((name) => ticked.has(name))
      .reduce((known, name) => after(known, named.get(name)), { ...data.start });
    const usable = data.actions.filter((action) => action.acts);
    const way = findPlan(usable, state, data.goal);
    if (!way) return null;
    const steps = walk(way, state);
    state = steps.reduce(after, state);
    for (const name of data.ending) {
      if (ticked.has(name)) continue;
      const last = named.get(name);
      const more = findPlan(usable, state, last.needs);
      if (!more) return null;
      for (const action of [...more, last]) {
        steps.push(action);
        state = after(state, action);
      }
    }
    return steps;
  };

  window.lockerleafPlan = planFrom;

  const setUp = (holder) => {
    const data = JSON.parse(holder.textContent);
    const section = holder.closest("section");
    const list = section.querySelector(".plan > ol");
    const items = [...list.children];
    const status = document.createElement("p");
    status.className = "hint";
    status.setAttribute("role", "status");
    list.parentElement.before(status);
    const extra = new Map();

    const itemFor = (action, spare) => {
      const found = spare.findIndex(([name]) => name === action.name);
      if (found >= 0) return spare.splice(found, 1)[0][1];
      if (!extra.has(action.name)) {
        const item = document.createElement("li");
        const line = document.createElement("p");
        line.className = "do";
        const link = document.createElement(action.url ? "a" : "span");
        if (action.url) link.href = action.url;
        link.textContent = action.title;
        line.append(link);
        item.append(line);
        extra.set(action.name, item);
      }
      return extra.get(action.name);
    };

    const show = () => {
      const done = new Set();
      items.forEach((item, index) => {
        if (item.classList.contains("done")) done.add(data.steps[index]);
      });
      extra.forEach((item) => item.remove());
      items.forEach((item) => (item.hidden = false));
      if (!done.size) {
        list.append(...items);
        status.textContent = "";
        return;
      }
      const steps = planFrom(data, done);
      if (!steps) {
        list.append(...items);
        status.textContent = data.words.none;
        return;
      }
      const doneItems = items.filter((item) => item.classList.contains("done"));
      const spare = items
        .map((item, index) => [data.steps[index], item])
        .filter(([, item]) => !item.classList.contains("done"));
      const rest = steps.map((action) => itemFor(action, spare));
      spare.forEach(([, item]) => (item.hidden = true));
      list.append(...doneItems, ...rest, ...spare.map(([, item]) => item));
      status.textContent = data.words.left.replace("{count}", String(rest.length));
    };

    // guide.js sets the class of a ticked step while it handles the same click, before this.
    section.addEventListener("click", (event) => {
      if (event.target.closest(".tick, .clear")) setTimeout(show, 0);
    });
    document.addEventListener("click", (event) => {
      if (event.target.closest(".clear")) setTimeout(show, 0);
    });
    setTimeout(show, 0);
  };

  // Of several ways (on gas, on mains) the chosen one is shown: what the reader chose last, else
  // what the season suggests, else the first. Until this script has come, a style shows the first
  // and the one that a link led to; with scripts turned off the links lead down the page.
  const setUpWays = (line) => {
    const links = [...line.querySelectorAll("a")];
    const sections = links.map((link) => document.getElementById(link.hash.slice(1)).closest("section"));
    const key = "way:" + location.pathname;
    const recall = () => {
      try {
        return localStorage.getItem(key);
      } catch {
        return null;
      }
    };
    const show = (chosen) => {
      links.forEach((link, index) => {
        if (index === chosen) link.setAttribute("aria-current", "true");
        else link.removeAttribute("aria-current");
        sections[index].hidden = index !== chosen;
        const apart = sections[index].closest(".otherwise");
        if (apart) apart.classList.toggle("chosen", index === chosen);
      });
      const clear = document.querySelector(".clear");
      if (clear) sections[chosen].append(clear);
    };
    links.forEach((link, index) =>
      link.addEventListener("click", (event) => {
        event.preventDefault();
        try {
          localStorage.setItem(key, link.hash);
        } catch {
          // A browser that keeps nothing still shows what was chosen.
        }
        show(index);
      }),
    );
    const month = String(new Date().getMonth() + 1);
    const asked = [location.hash, recall()].map((hash) => links.findIndex((link) => link.hash === hash));
    const season = links.findIndex((link) => link.dataset.months.split(" ").includes(month));
    show([...asked, season, 0].find((index) => index >= 0));
  };

  document.querySelectorAll("script[type='application/json'].routine").forEach(setUp);
  document.querySelectorAll(".ways").forEach(setUpWays);
})();
