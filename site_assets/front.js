// Opens the page of a code that is typed instead of scanned. The last symbol of a code checks the
// others (Crockford's base32, value modulo 37), so a slip is told here and not by a missing page.
(() => {
  "use strict";
  const symbols = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";
  const form = document.querySelector("form.code");
  const answer = document.getElementById("answer");
  const path = (typed) => {
    const code = typed.toUpperCase().replace(/[\s-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
    if ([...code].some((c) => !symbols.includes(c))) return null;
    const units = [4, 10];  // short ones, and those that nobody can guess
    if (units.includes(code.length)) return code + "/index.html";
    if (!units.includes(code.length - 3)) return null;
    let value = 0;
    for (const c of code.slice(0, -1)) value = (value * 32 + symbols.indexOf(c)) % 37;
    return symbols[value] === code.at(-1) ? `${code.slice(0, -3)}/${code.slice(-3)}/index.html` : null;
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const target = path(form.code.value);
    if (target) location.href = target;
    else answer.textContent = form.dataset.wrong;
  });
})();
