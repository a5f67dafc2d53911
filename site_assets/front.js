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
    if (code.length === 4) return code + "/index.html";
    if (code.length !== 7) return null;
    let value = 0;
    for (const c of code.slice(0, 6)) value = (value * 32 + symbols.indexOf(c)) % 37;
    return symbols[value] === code[6] ? `${code.slice(0, 4)}/${code.slice(4)}/index.html` : null;
  };
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    const target = path(form.code.value);
    if (target) location.href = target;
    else answer.textContent = form.dataset.wrong;
  });
})();
