// The running total of what is ticked: the shop's own arithmetic, asked for anew whenever a tick moves. Asking answers
// nothing. Without it the total is shown after the first press.

for (const form of document.querySelectorAll("form[data-running]")) {
  const total = form.querySelector("[data-total]");
  const shown = form.querySelector("input[name=shown]");
  let newest = 0;
  form.addEventListener("change", async (event) => {
    if (!["line", "choice"].includes(event.target.name)) return;
    newest += 1;
    const asked = newest;
    const ticked = new URLSearchParams();
    for (const [name, value] of new FormData(form)) {
      if (name === "line" || name === "choice") ticked.append(name, value);
    }
    try {
      const answer = await fetch(`${form.dataset.running}?${ticked}`);
      if (!answer.ok || asked !== newest) return;
      const [units, ...words] = (await answer.text()).split(" ");
      shown.value = units;
      total.textContent = words.join(" ");
    } catch {
      // the server says it after the press
    }
  });
}
