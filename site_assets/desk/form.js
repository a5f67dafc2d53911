// The form of a unit. The text of its file is the one truth: each change is sent with it to the
// desk, which puts it in its place and answers with the text, the form and the problems anew.
(() => {
  "use strict";
  const token = document.querySelector("meta[name=desk-form]").content;
  const said = document.getElementById("said");
  const say = (words) => { said.textContent = words; };

  const begin = document.getElementById("begin");
  if (begin) {
    begin.addEventListener("submit", (event) => {
      event.preventDefault();
      const like = encodeURIComponent(begin.like.value);
      location.href = `/unit/${encodeURIComponent(begin.unit.value)}?like=${like}`;
    });
    return;
  }

  const page = document.getElementById("unit");
  const form = document.getElementById("form");
  const shownText = document.getElementById("text");
  const typed = document.getElementById("typed");
  const write = document.getElementById("write");
  const save = document.getElementById("save");
  const undo = document.getElementById("undo");
  const conflict = document.getElementById("conflict");
  const unit = page.dataset.unit;
  const state = {
    text: page.dataset.text,
    digest: page.dataset.digest,
    base: page.dataset.digest ? page.dataset.text : "",
    places: JSON.parse(page.dataset.positions),
    place: "",
    shown: false,
    wrong: 0,
    past: [],
    theirs: null,
    joined: null,
  };
  const pause = 350;
  let pending = new Map();
  let timer = 0;
  let busy = false;
  let again = false;
  let late = "";
  let anew = false; // whether fields show what the text says, whatever was typed into them
  let proving = 0;
  let saved = false; // whether nothing has been changed since it was saved here

  const dirty = () => state.text !== state.base;
  const post = (path, told) => fetch(`/unit/${encodeURIComponent(unit)}/${path}`, {
    method: "POST",
    headers: { "Content-Type": "application/json", "X-Desk-Form": token },
    body: JSON.stringify(told),
  });
  const tell = () => {
    save.disabled = !dirty() || busy;
    undo.disabled = state.past.length === 0;
    if (dirty()) saved = false;
    if (!dirty()) say(saved ? "Saved." : "As saved.");
    else if (state.wrong) say(`Not saved. ${state.wrong === 1 ? "1 problem" : `${state.wrong} problems`}.`);
    else say("Not saved.");
  };

  // Sending changes, one request at a time.

  const later = (key, edit) => {
    pending.set(key, edit);
    clearTimeout(timer);
    timer = setTimeout(send, pause);
  };
  const now = (key, edit) => {
    pending.set(key, edit);
    send();
  };
  const send = async () => {
    clearTimeout(timer);
    if (busy) {
      again = true;
      return;
    }
    const edits = [...pending.values()];
    pending = new Map();
    busy = true;
    again = false;
    const sent = state.text;
    try {
      const answer = await post("draft", {
        text: sent, base: state.base, edits, shown: state.shown,
      });
      const told = await answer.json();
      if (answer.ok) take(sent, told);
      else say(told.refused);
      busy = false;
      if (answer.ok) {
        tell();
        proveLater();
      }
    } catch {
      busy = false;
      for (const edit of edits) {
        const key = JSON.stringify(edit.set ?? edit);
        if (!pending.has(key)) pending.set(key, edit);
      }
      say("The desk does not answer. Your text is kept in this window.");
    }
    if (again) send();
  };
  const take = (sent, told) => {
    if (state.text !== sent) { // typed or undone meanwhile: what it is now is sent next
      again = true;
      return;
    }
    const typing = document.activeElement === typed;
    if (told.text !== sent) state.past.push(sent);
    state.text = told.text;
    state.wrong = told.wrong;
    shownText.innerHTML = told.parts.text;
    document.getElementById("told").innerHTML = told.parts.told;
    if (!typing) typed.value = state.text;
    if (told.parts.form !== undefined && pending.size === 0) {
      state.places = told.places;
      refresh(told.parts.form);
    }
  };

  // A guide takes a second or two to be checked: only when nobody is typing.
  const proveLater = () => {
    clearTimeout(proving);
    if (!state.wrong) proving = setTimeout(prove, 400);
  };
  const prove = async () => {
    const sent = state.text;
    if (busy || pending.size) return;
    try {
      const answer = await post("draft", {
        text: sent, base: state.base, edits: [], shown: state.shown, proof: true,
      });
      const told = await answer.json();
      if (!answer.ok || state.text !== sent || busy || pending.size) return;
      state.wrong = told.wrong;
      shownText.innerHTML = told.parts.text;
      document.getElementById("told").innerHTML = told.parts.told;
      tell();
    } catch {
      // The next change tells that the desk does not answer.
    }
  };

  // The form, shown anew without losing where somebody is.

  const refresh = (html) => {
    const focused = document.activeElement;
    if (form.contains(focused) && focused.type === "date") {
      late = html; // replacing it would lose the part of the date that is being typed
      return;
    }
    late = "";
    const open = [...form.querySelectorAll("details[open]")].map((one) => one.id);
    const inside = form.contains(focused) && focused.id;
    const text = inside && !anew && focused.matches("input:not([type=checkbox])");
    anew = false;
    const kept = text ? [focused.value, focused.selectionStart, focused.selectionEnd] : null;
    const adding = [...form.querySelectorAll(".add input, .add select")].map((one) => [one.id, one.value]);
    form.innerHTML = html;
    for (const id of open) document.getElementById(id)?.setAttribute("open", "");
    for (const [id, value] of adding) document.getElementById(id).value = value;
    if (inside) {
      const same = document.getElementById(inside);
      same?.focus({ preventScroll: true });
      if (same && kept) {
        same.value = kept[0];
        same.setSelectionRange(kept[1], kept[2]);
      }
    }
    draw();
  };
  form.addEventListener("focusout", () => setTimeout(() => { if (late) refresh(late); }));

  const change = (field, how) => {
    const box = field.closest("fieldset[data-path]");
    const path = JSON.parse((box ?? field).dataset.path);
    let value = field.value;
    if (box) value = [...box.querySelectorAll(":checked")].map((one) => one.value);
    else if ("list" in field.dataset && value.includes(",")) value = value.split(",");
    if (path[0] === "places" && state.places[path[1]]) {
      state.places[path[1]][path[2]] = value;
      draw();
    }
    how(JSON.stringify(path), { set: path, to: value });
  };
  form.addEventListener("input", (event) => {
    const field = event.target;
    if (field.matches("[data-path]:not(select)")) change(field, later);
  });
  form.addEventListener("change", (event) => {
    const field = event.target;
    if (field.matches("select[data-path], [data-path] input[type=checkbox]")) change(field, now);
    if (field.id === "new-kind") suggest(field.value);
  });
  form.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button) return;
    const { clear, drop, keep, leave } = button.dataset;
    if (clear) now(`clear ${clear}`, { clear: JSON.parse(clear) });
    else if (drop) now(`drop ${drop}`, { drop: JSON.parse(drop) });
    else if (keep) now(`keep ${keep}`, { keep });
    else if (leave) now(`leave ${leave}`, { leave });
    else if (button.id === "shown") {
      state.shown = !state.shown;
      send();
    } else if (button.id === "private-add") addPrivate();
  });
  const addPrivate = () => {
    const key = document.getElementById("private-key");
    const name = key.value.trim();
    if (!/^[A-Za-z0-9]([A-Za-z0-9_-]{0,58}[A-Za-z0-9])?$/.test(name)) {
      say("A private value's name has letters and figures, joined by _ or -.");
      return;
    }
    key.value = "";
    now(`private ${name}`, { set: ["private", name], to: "to be filled in" });
  };
  const suggest = (kind) => {
    const taken = new Set([...form.querySelectorAll("[id^=fitted-]")].map((one) => one.dataset.row));
    let name = kind;
    for (let number = 2; taken.has(name); number += 1) name = `${kind}-${number}`;
    document.getElementById("new-id").value = name;
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const value = (id) => document.getElementById(id).value.trim();
    const empty = (...ids) => ids.forEach((id) => { document.getElementById(id).value = ""; });
    if (event.target.id === "add-place") {
      const name = value("place-name");
      empty("place-name");
      now(`place ${name} title`, { set: ["places", name, "title"], to: name.replaceAll("-", " ") });
      now(`place ${name} wall`, { set: ["places", name, "wall"], to: "inside" });
      now(`place ${name} along`, { set: ["places", name, "along_m"], to: "1" });
      now(`place ${name} up`, { set: ["places", name, "up_m"], to: "1" });
      openLater(`places-${name}`);
    } else if (event.target.id === "add-fitting") {
      const [kind, place, id] = [value("new-kind"), value("new-place"), value("new-id")];
      empty("new-kind", "new-place", "new-id");
      now(`fit ${id} kind`, { set: ["fitted", id, "kind"], to: kind });
      now(`fit ${id} place`, { set: ["fitted", id, "place"], to: place });
      openLater(`fitted-${id}`);
    }
  });
  const openLater = (id, tries = 40) => {
    const row = document.getElementById(id);
    if (row && !busy) {
      row.open = true;
      row.querySelector("summary").focus();
    } else if (tries) setTimeout(() => openLater(id, tries - 1), 150);
  };

  // Places on the views. One drawing unit is a centimetre.

  const ENDS = ["front", "rear"];
  const number = (text, otherwise) => (Number.isFinite(parseFloat(text)) ? parseFloat(text) * 100 : otherwise);
  const geometry = (view) => {
    const told = Object.fromEntries(["left", "base", "span", "rise"].map((key) => [key, Number(view.dataset[key])]));
    return { ...told, width: view.viewBox.baseVal.width, mirrored: "mirrored" in view.dataset, plan: view.dataset.view === "plan" };
  };
  const where = (at, spot) => {
    const end = ENDS.includes(spot.wall);
    let along = end ? (spot.wall === "front" ? 0 : at.span) : number(spot.along_m, at.span / 2);
    let up;
    if (!at.plan) up = number(spot.up_m, at.rise / 2);
    else if (end) up = number(spot.along_m, at.rise / 2);
    else if (spot.wall === "nearside") up = 0;
    else if (spot.wall === "offside") up = at.rise;
    else up = number(spot.across_m, at.rise / 2);
    along += at.left;
    return [at.mirrored ? at.width - along : along, at.base - up];
  };
  const seen = (view, spot) => {
    const other = { nearside: "offside", offside: "nearside" }[view.dataset.view];
    return spot.wall !== other && Boolean(spot.wall);
  };
  const draw = () => {
    for (const view of form.querySelectorAll("svg.view")) {
      const at = geometry(view);
      const marks = [];
      for (const [name, spot] of Object.entries(state.places)) {
        const mine = name === state.place;
        if (!mine && !seen(view, spot)) continue;
        const [x, y] = where(at, spot);
        const mark = document.createElementNS("http://www.w3.org/2000/svg", "circle");
        const inside = spot.wall === "inside" ? " in" : "";
        const sort = mine ? `m${inside}` : `n${inside}`;
        for (const [key, value] of Object.entries({ cx: x, cy: y, r: mine ? 14 : 9, class: sort })) mark.setAttribute(key, value);
        mark.dataset.place = name;
        const title = document.createElementNS("http://www.w3.org/2000/svg", "title");
        title.textContent = spot.title;
        mark.append(title);
        if (mine) marks.push(mark);
        else marks.unshift(mark);
      }
      view.querySelector(".marks").replaceChildren(...marks);
    }
    const told = document.getElementById("at");
    const spot = state.places[state.place];
    if (told) {
      told.textContent = spot
        ? `${spot.title}: ${[["along", spot.along_m], ["across", spot.across_m], ["up", spot.up_m]].filter(([, value]) => value).map(([word, value]) => `${word} ${value} m`).join(", ")}`
        : "";
    }
  };
  const metres = (cm, most, step) => {
    const held = Math.min(Math.max(cm, 0), most);
    return String(Math.round(Math.min(Math.round(held / step) * step, Math.floor(most))) / 100);
  };
  const put = (key, value) => {
    const spot = state.places[state.place];
    spot[key] = value;
    const field = document.getElementById(`places--${state.place}--${key}`);
    if (field) field.value = value;
    later(JSON.stringify(["places", state.place, key]), { set: ["places", state.place, key], to: value });
  };
  const move = (at, along, up, step) => {
    const wall = state.places[state.place].wall;
    const end = ENDS.includes(wall);
    if (!end && along !== null) put("along_m", metres(along, at.span, step));
    if (up === null) return;
    if (!at.plan) put("up_m", metres(up, at.rise, step));
    else if (end) put("along_m", metres(up, at.rise, step));
    else if (wall !== "nearside" && wall !== "offside") put("across_m", metres(up, at.rise, step));
  };
  form.addEventListener("click", (event) => {
    const view = event.target.closest("svg.view");
    if (!view) return;
    const other = event.target.dataset.place;
    if (other && other !== state.place) {
      choose(other);
      const row = document.getElementById(`places-${other}`);
      if (row) row.open = true;
      return;
    }
    if (!state.places[state.place]) {
      say("Open a place first, or click one of the marks.");
      return;
    }
    const at = geometry(view);
    const point = new DOMPoint(event.clientX, event.clientY).matrixTransform(view.getScreenCTM().inverse());
    const x = at.mirrored ? at.width - point.x : point.x;
    move(at, x - at.left, at.base - point.y, 5);
    draw();
  });
  form.addEventListener("keydown", (event) => {
    const view = event.target.closest("svg.view");
    const by = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    const spot = state.places[state.place];
    if (!view || !by || !spot) return;
    event.preventDefault();
    const at = geometry(view);
    const step = event.shiftKey ? 1 : 5;
    const [x, y] = where(at, spot);
    const along = (at.mirrored ? at.width - x : x) - at.left;
    const ahead = at.mirrored ? -by[0] : by[0];
    move(at, by[0] ? along + ahead * step : null, by[1] ? at.base - y + by[1] * step : null, 1);
    draw();
  });
  const choose = (name) => {
    state.place = name;
    draw();
  };
  form.addEventListener("toggle", (event) => {
    const row = event.target;
    if (!row.id.startsWith("places-")) return;
    if (row.open) {
      for (const other of form.querySelectorAll("details[id^=places-][open]")) if (other !== row) other.open = false;
      choose(row.dataset.row);
    } else if (state.place === row.dataset.row) choose("");
  }, true);

  // The text, typed by hand.

  write.addEventListener("click", () => {
    const on = typed.hidden;
    typed.hidden = !on;
    shownText.hidden = on;
    write.setAttribute("aria-pressed", String(on));
    write.textContent = on ? "Show the text" : "Edit the text";
    typed.value = state.text;
    if (on) typed.focus();
  });
  typed.addEventListener("input", () => {
    if (!state.past.length || state.past.at(-1) !== state.text) state.past.push(state.text);
    state.text = typed.value;
    clearTimeout(timer);
    timer = setTimeout(send, pause);
    tell();
  });

  // Keeping it.

  undo.addEventListener("click", () => {
    state.text = state.past.pop() ?? state.text;
    anew = true;
    typed.value = state.text;
    pending = new Map();
    send();
  });
  save.addEventListener("click", async () => {
    save.disabled = true;
    clearTimeout(timer);
    for (let tries = 0; tries < 200 && (busy || pending.size); tries += 1) {
      if (busy) await new Promise((done) => { setTimeout(done, 50); });
      else await send();
    }
    save.disabled = true;
    const text = state.text;
    try {
      const answer = await post("save", {
        text, base: state.base, digest: state.digest, shown: state.shown,
      });
      const told = await answer.json();
      if (answer.ok) {
        Object.assign(state, { base: told.text, digest: told.digest, past: [], theirs: null });
        if (state.text === text) state.text = told.text;
        typed.value = state.text;
        conflict.replaceChildren();
        history.replaceState(null, "", `/unit/${unit}`);
        saved = true;
        await send();
        tell();
      } else if (answer.status === 409) {
        state.theirs = told.theirs;
        state.joined = told.joined;
        conflict.innerHTML = told.conflict;
        conflict.scrollIntoView({ block: "nearest" });
        say("Not saved: somebody else has changed it.");
      } else {
        say(`Not saved. ${told.refused}`);
        save.disabled = false;
      }
    } catch {
      say("Not saved: the desk does not answer. Your text is kept in this window.");
      save.disabled = false;
    }
  });
  conflict.addEventListener("click", (event) => {
    const what = event.target.closest("button")?.dataset.do;
    if (!what) return;
    state.past.push(state.text);
    anew = true;
    state.text = what === "join" ? state.joined : state.theirs.text;
    state.base = state.theirs.text;
    state.digest = state.theirs.digest;
    typed.value = state.text;
    conflict.replaceChildren();
    send();
  });
  const look = async () => {
    if (!document.hidden && state.digest && !busy) {
      try {
        const answer = await fetch(`/state?file=${encodeURIComponent(unit)}`);
        const { stamp } = await answer.json();
        if (answer.ok && stamp !== state.digest && !busy) {
          if (!dirty() && !pending.size) location.reload();
          else if (!state.theirs) say("Somebody else has changed this file. Saving will show you what.");
        }
      } catch {
        // Told when there is something to send.
      }
    }
    setTimeout(look, 2500);
  };
  addEventListener("beforeunload", (event) => { if (dirty()) event.preventDefault(); });
  if (!state.digest) {
    save.disabled = false;
  }
  // The page is there before this script: what was typed or chosen until now counts, too.
  const early = (field) => {
    if (field.type === "checkbox") return field.checked !== field.defaultChecked;
    // A field holds neither the ends of lines nor what is no date, whatever the text has there.
    if (field.type === "date") return Boolean(field.value) && field.value !== field.defaultValue;
    if (!field.matches("select")) return field.value !== field.defaultValue.replace(/[\r\n]/g, "");
    const shown = [...field.options].find((option) => option.defaultSelected) ?? field.options[0];
    return field.value !== shown?.value;
  };
  for (const field of form.querySelectorAll("[data-path]:not(fieldset), [data-path] input[type=checkbox]")) {
    if (early(field)) change(field, later);
  }
  draw();
  look();
  proveLater();
})();
