// What comes back to the grid: the books' answers, what others typed meanwhile, and what this tablet had kept.

/**
 * What this tablet knows better than a page that may have been kept: values not sent, and values sent since. Of the
 * entries of one job and person, oldest first: `kept` go into their cells, `refused` were not taken and nobody typed
 * them anew, `old` are the numbers of those to forget.
 */
export function restored(entries, { job, staff, after, seen }) {
  const old = [];
  const kept = [];
  const refused = new Map();
  for (const entry of entries) {
    if (entry.job !== job || entry.staff !== staff) continue;
    const before = refused.get(entry.cell);
    if (before) old.push(before.order);
    refused.delete(entry.cell);
    const isOfThisSet = entry.after === after;
    if (entry.refused) refused.set(entry.cell, entry);
    else if (entry.sent && (!isOfThisSet || entry.sent <= seen)) old.push(entry.order);
    else if (isOfThisSet) kept.push(entry);
  }
  return { kept, refused: [...refused.values()], old };
}

/**
 * The cells that show what the books have. Not those whose value waits here or whose entry is known, and not where
 * somebody is typing just now: their next value will meet this one.
 */
export function takenOver(cells, { isWaiting, keyOf, isLoose }) {
  return cells.filter(({ cell, key }) => !isWaiting(cell) && keyOf(cell) !== key && !isLoose(cell));
}

/** The two sides of a dispute and what is asked about it: this tablet's own side comes first. */
export function sides(label, dispute, other) {
  const [here, there] = dispute.mine ? [dispute, other] : [other, dispute];
  const typed = [here, there].map((side) => side.typed || "nothing");
  const who = here.mine ? "here" : `by ${here.who} at ${here.at}`;
  const words = `${label}: ${typed[0]} ${who}, ${typed[1]} by ${there.who} at ${there.at}: which?`;
  return { words, answers: [[typed[0], here.typed], [typed[1], there.typed]] };
}

/** `line` is the sending line, `sending` the way out, `refreshPlan()` asks for the plan anew. */
export function startApplying(grid, asking, line, sending, refreshPlan) {
  let plan = grid.form.dataset.plan;

  /** Hears what the books say to a value that was sent. */
  function answered(entry, answer) {
    if (entry.job !== grid.job) return;
    const field = grid.fieldOf(entry.cell);
    if (field && grid.waiting.get(entry.cell) === entry.key) {
      grid.waiting.delete(entry.cell);
      if (answer.outcome === "stands") grid.show(field, "saved", "✓");
      if (answer.outcome === "late") grid.show(field, "problem", "kept, but the set was taken down before");
      if (["questioned", "unreadable", "refused"].includes(answer.outcome)) {
        grid.key.set(field.name, entry.replaces);
        refuse(field, entry, answer);
      }
    }
    if (answer.outcome !== "refused") apply(answer);
    refreshPlan();
  }

  /** The server has the last word: the value goes back to its cell with what is wrong. */
  function refuse(field, entry, answer) {
    field.setAttribute("aria-invalid", "true");
    grid.mark(field, answer.words || "the books do not take it: reload the page");
    if (answer.outcome !== "questioned") return;
    asking.ask({
      field,
      typed: grid.valueOf(field),
      words: `${grid.labelOf(field)}: ${answer.words}`,
      yes: Boolean(answer.likely),
      answers: [
        ...(answer.likely ? [[`Yes, ${answer.likely}`, () => sending.retype(field, answer.likely)]] : []),
        [`No, it is ${entry.typed}`, () => sending.retype(field, entry.typed, { sure: true })],
        ["Read it again", () => field.select()],
      ],
    });
  }

  /** Takes over what others typed, and answers whether that is news. What this tablet has not sent yet stays. */
  function apply(answer) {
    if (answer.after !== undefined && answer.after !== grid.after && !grid.isLeaving) return line.taken();
    let isNews = !grid.isLeaving && line.done(answer.done);
    if (answer.plan !== undefined && answer.plan !== plan) {
      plan = answer.plan;
      isNews = true;
    }
    for (const cell of answer.cells) grid.inBooks.set(cell.cell, cell);
    const onPage = answer.cells.filter((cell) => grid.fieldOf(cell.cell));
    const others = takenOver(onPage, {
      isWaiting: (name) => grid.waiting.has(name),
      keyOf: (name) => grid.key.get(name),
      isLoose: (name) => grid.isLoose(grid.fieldOf(name)),
    });
    for (const cell of others) {
      const field = grid.fieldOf(cell.cell);
      grid.key.set(cell.cell, cell.key);
      grid.put(field, cell.typed);
      grid.show(field, "saved", cell.mine ? "✓" : `✓ ${cell.who} ${cell.at}`);
      isNews = true;
    }
    grid.sawUpTo(answer.seen);
    for (const dispute of answer.disputes) askWhich(dispute);
    for (const [name, wait] of asking.all()) {
      if (!wait.dispute || answer.disputes.some((dispute) => dispute.cell === name)) continue;
      asking.close(wait.field);
      grid.show(wait.field, "saved", "✓");
    }
    document.querySelector("[data-disputes]")?.toggleAttribute("hidden", true);
    return isNews;
  }

  function askWhich(dispute) {
    const field = grid.fieldOf(dispute.cell);
    const other = grid.inBooks.get(dispute.cell);
    if (!field || !other || asking.of(dispute.cell)?.dispute === dispute.id) return;
    grid.put(field, other.typed);
    grid.key.set(field.name, other.key);
    const { words, answers } = sides(grid.labelOf(field), dispute, other);
    const choose = (typed) => {
      grid.key.set(field.name, other.key);
      grid.put(field, typed);
      sending.send(field, typed, true, dispute.id);
    };
    asking.ask({
      field,
      dispute: dispute.id,
      words,
      answers: answers.map(([button, typed]) => [button, () => choose(typed)]),
    });
  }

  /** Puts back what this tablet had kept; answers the numbers of the entries to forget. */
  function restore(entries) {
    const { kept, refused, old } = restored(entries, grid);
    for (const entry of kept) {
      const field = grid.fieldOf(entry.cell);
      if (!field) continue;
      grid.put(field, entry.typed);
      grid.key.set(entry.cell, entry.key);
      if (!entry.sent) grid.waiting.set(entry.cell, entry.key);
      grid.show(field, ...(entry.sent ? ["saved", "✓"] : ["waiting", "kept here"]));
    }
    for (const entry of refused) {
      const field = grid.fieldOf(entry.cell);
      if (field && entry.after === grid.after && !grid.valueOf(field)) {
        field.value = entry.typed;
        refuse(field, entry, { outcome: entry.refused, ...entry.said });
        grid.showEcho(field);
      } else {
        const words = `${entry.typed} was not taken: ${entry.said?.words || "the books refused it"}`;
        if (field) grid.show(field, "problem", words);
        old.push(entry.order);
      }
    }
    return old;
  }

  return { answered, apply, restore };
}
