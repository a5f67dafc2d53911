// Finds pages of this guide by word, as one types. The page's own list of links is the index; what
// does not match is hidden. Slips are forgiven: one letter in words of four and more, two from eight.
(() => {
  "use strict";
  const form = document.querySelector("form.find");
  const list = document.querySelector(".found");
  if (!form || !list) return;
  const field = form.querySelector("input");
  const told = form.querySelector("[role=status]");
  const words = form.dataset;
  const MOST = 30;
  const TITLE = 6, SAME = 5.5, ALSO = 4.5, TEXT = 2;

  const split = (text) =>
    text.normalize("NFD").replace(/\p{M}/gu, "").toLowerCase().replaceAll("ß", "ss").match(/[\p{L}\p{N}]+/gu) || [];

  // Words that tell nothing, such as "how" and "my".
  const quiet = new Set(split(words.quiet));

  // Every word of the guide, with the entries that it leads to and how much it says about them.
  const known = new Map();
  const entries = [...list.querySelectorAll("li")].map((item) => {
    const link = item.querySelector("a");
    const title = split(link.querySelector("strong").textContent);
    // Help in an emergency stands above what is about as good an answer.
    const entry = { item, length: title.length, rank: link.classList.contains("urgent") ? 1.4 : 1 };
    const learn = (heard, weight) => {
      for (const word of heard) {
        if (!known.has(word)) known.set(word, new Map());
        const leads = known.get(word);
        leads.set(entry, Math.max(leads.get(entry) || 0, weight));
      }
    };
    learn(title, TITLE);
    learn(split(link.dataset.same || ""), SAME);
    learn(split(link.dataset.also || ""), ALSO);
    learn(split(link.textContent), TEXT);
    return entry;
  });

  // The number of slips between two words, neighbours changed round being one; more than `most` is
  // told as one more.
  const slips = (a, b, most) => {
    if (Math.abs(a.length - b.length) > most) return most + 1;
    let before = [], last = [...Array(b.length + 1).keys()];
    for (let i = 1; i <= a.length; i++) {
      const row = [i];
      for (let j = 1; j <= b.length; j++) {
        row[j] = Math.min(last[j] + 1, row[j - 1] + 1, last[j - 1] + (a[i - 1] !== b[j - 1]));
        if (i > 1 && j > 1 && a[i - 1] === b[j - 2] && a[i - 2] === b[j - 1])
          row[j] = Math.min(row[j], before[j - 2] + 1);
      }
      if (Math.min(...row) > most) return most + 1;
      before = last;
      last = row;
    }
    return last[b.length];
  };

  // How near a typed word is to one of the guide: itself, its beginning, it and an ending, a stem in
  // common. No language's grammar is needed for that.
  const nearness = (typed, word) => {
    if (typed === word) return 1;
    if (word.startsWith(typed)) return typed.length > 1 ? 0.8 : 0;
    if (typed.startsWith(word) && typed.length - word.length <= (word.length > 3 ? 3 : word.length > 2))
      return 0.75;
    // The end of a compound, such as Schrank of Kühlschrank.
    if (typed.length > 3 && word.endsWith(typed)) return 0.6;
    let stem = 0;
    while (stem < word.length && word[stem] === typed[stem]) stem++;
    return stem > 3 && Math.max(word.length, typed.length) - stem < 4 ? 0.5 : 0;
  };
  const likeness = (typed, word) => {
    const most = typed.length >= 8 ? 2 : typed.length >= 4 ? 1 : 0;
    if (!most) return 0;
    const whole = slips(typed, word, most);
    if (whole <= most) return 0.7 - whole / 10;
    // The beginning of a longer word, while it is still being typed.
    return word.length > typed.length && slips(typed, word.slice(0, typed.length), 1) <= 1 ? 0.4 : 0;
  };

  // What one typed word leads to. Slips are only looked for where nothing begins like it.
  const lookUp = (typed) => {
    for (const [near, least] of [[nearness, 0.7], [likeness, 0.5], [nearness, 0.1], [likeness, 0.1]]) {
      const found = new Map();
      for (const [word, leads] of known) {
        const worth = near(typed, word);
        if (worth < least) continue;
        for (const [entry, weight] of leads)
          found.set(entry, Math.max(found.get(entry) || 0, weight * worth));
      }
      if (found.size) return found;
    }
    return new Map();
  };

  const search = (text) => {
    const all = [...new Set(split(text))];
    const telling = all.filter((word) => !quiet.has(word));
    const typed = telling.length ? telling : all;
    const scores = new Map();
    for (const word of typed)
      for (const [entry, worth] of lookUp(word)) {
        const score = scores.get(entry) || { entry, hits: 0, worth: 0 };
        score.hits++;
        score.worth += worth * entry.rank;
        scores.set(entry, score);
      }
    const most = Math.max(0, ...[...scores.values()].map((score) => score.hits));
    const found = [...scores.values()].filter((score) => score.hits === most);
    // Of equally good ones, the title that says least besides.
    found.sort((a, b) => b.worth - a.worth || a.entry.length - b.entry.length);
    return { found: found.slice(0, MOST), whole: most === typed.length, asked: typed.length > 0 };
  };

  const show = () => {
    const { found, whole, asked } = search(field.value);
    for (const entry of entries) entry.item.hidden = true;
    for (const { entry } of found) {
      entry.item.hidden = false;
      entry.item.parentNode.append(entry.item);
    }
    list.hidden = !found.length;
    told.textContent = !asked
      ? words.idle
      : !found.length
        ? words.none
        : !whole
          ? words.near
          : found.length === 1
            ? words.one
            : words.count.replace("{count}", found.length);
    // So that Back, and a link sent to someone, show the same again.
    history.replaceState(null, "", asked ? "#" + encodeURIComponent(field.value) : location.pathname);
  };

  field.addEventListener("input", show);
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const first = list.querySelector("li:not([hidden]) a");
    if (first) first.focus();
  });
  try {
    field.value = field.value || decodeURIComponent(location.hash.slice(1));
  } catch {
    // A hash that is no text asks for nothing.
  }
  if (field.value) show();
  if (matchMedia("(hover: hover)").matches) field.focus();
})();
